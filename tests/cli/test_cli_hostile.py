"""Names that try to be markup and formulas are text in every answer of the command."""

import csv
from pathlib import Path
from typing import Final

import pytest
from hostile import NAMES, NOTE, TOOL, make_hostile_store
from run_command import Run

from wearfit.records.formulas import SIGNS

PLANT, RESIN = NAMES["plant_id"]["valley"], NAMES["resin_id"]["pp-natural"]
OTHER = NAMES["tool_id"]["T-104"]
RUN: Final = ("--plant", PLANT, "--resin", RESIN, "--month", "2026-08", "--shots", "9000")


@pytest.fixture(scope="module")
def hostile_store(tmp_path_factory: pytest.TempPathFactory) -> str:
    return make_hostile_store(tmp_path_factory.mktemp("hostile"))


@pytest.mark.parametrize("tool", [TOOL, OTHER])
@pytest.mark.parametrize("command", [("forecast",), ("measure",), ("next-run", *RUN), ("choose", "replace")], ids=" ".join)
def test_a_name_is_printed_as_it_is(
    wearfit: Run, hostile_store: str, monkeypatch: pytest.MonkeyPatch, command: tuple[str, ...], tool: str
) -> None:
    monkeypatch.setenv("COLUMNS", "300")
    said = wearfit(*command, "--tool", tool, "--store", hostile_store)
    assert said.status == 0, said.err
    assert tool in said.out
    document = wearfit(*command, "--tool", tool, "--store", hostile_store, "--json").document
    assert tool in str(document)


def test_an_export_holds_them_as_text_and_a_check_reads_them_back(wearfit: Run, hostile_store: str) -> None:
    assert wearfit("export", "all", "--store", hostile_store).status == 0
    cells = set()
    for path in Path("all").rglob("*.csv"):
        with path.open(encoding="utf-8", newline="") as stream:
            cells |= {cell for row in csv.reader(stream) for cell in row}
    assert not [cell for cell in cells if cell.startswith(SIGNS) and not cell.lstrip("-").replace(".", "").isdigit()]
    assert {TOOL, PLANT, f"'{RESIN}", NOTE} <= cells
    tables = wearfit("check", "all", "--json").document["tables"]
    assert tables["runs"]["rows"] == tables["runs"]["used"] + tables["runs"]["set_aside"]
    assert tables["tools"]["set_aside"] == 0
