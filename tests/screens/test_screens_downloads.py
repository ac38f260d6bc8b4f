"""Whatever a page hands over names the calibration that it rests on, and holds no formula."""

import csv
import io
from collections.abc import Callable
from typing import Any, Final

import pytest
import streamlit as st
from opened import Open
from pypdf import PdfReader
from python_calamine import CalamineWorkbook

from wearfit.records.formulas import SIGNS
from wearfit.screens.register import SCREENS
from wearfit.workflow.answers import forecast

# What makes each page answer all that it can.
ASKED: Final[dict[str, dict[str, str]]] = {
    "Fleet": {},
    "Tool": {"id": "T-049"},
    "Next run": {"tool": "T-104", "at_plant": "steppe", "in_resin": "hdpe-blue", "month": "Aug 2026", "shots": "51000"},
    "Plants": {},
    "Choices": {"tool": "T-049"},
    "Plan": {},
    "Evidence": {},
    "Records": {},
}
# No answers of a calibration: an empty template, decisions, and a list in which each calibration has its own.
OTHERS: Final = {"wearfit-records.xlsx", "choices.toml", "calibrations.csv"}


def texts_of(name: str, content: bytes) -> list[list[str]]:
    """Every cell, row by row; of a page its text."""
    if name.endswith(".csv"):
        return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))
    if name.endswith(".xlsx"):
        return [
            [str(cell) for cell in row] for row in CalamineWorkbook.from_filelike(io.BytesIO(content)).get_sheet_by_index(0).to_python()
        ]
    return [[page.extract_text()] for page in PdfReader(io.BytesIO(content)).pages]


@pytest.mark.parametrize("screen", [screen.title for screen in SCREENS])
def test_every_download_names_its_calibration(
    open_app: Open, demo_records_store: str, monkeypatch: pytest.MonkeyPatch, screen: str
) -> None:
    given: dict[str, Callable[[], bytes]] = {}
    button = st.download_button

    def noted(label: str, data: Any, file_name: str, *arguments: Any, **more: Any) -> bool:
        given[file_name] = data if callable(data) else lambda: data
        return button(label, data, file_name, *arguments, **more)

    monkeypatch.setattr(st, "download_button", noted)
    open_app(demo_records_store, screen, **ASKED[screen])
    fingerprint = forecast(demo_records_store)["fingerprint"]
    assert given
    for name, data in given.items():
        rows = texts_of(name, data())
        if name.endswith(".csv"):
            assert not [cell for row in rows for cell in row if cell.startswith(SIGNS) and not is_number(cell)], name
        if name in OTHERS:
            continue
        assert rows
        if name.endswith(".pdf"):
            assert fingerprint in rows[0][0]
        else:
            assert rows[0][-1] == "Fingerprint of its records", name
            assert {row[-1] for row in rows[1:]} <= {fingerprint}, name


def is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
