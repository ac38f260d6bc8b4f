"""A small history by hand, as a folder of CSV files."""

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from wearfit.calibration import Calibration, from_bytes
from wearfit.demo.shipped import shipped_calibration_bytes

SHEETS = {
    "tools": "tool_id,service_class,commissioned_on\nT1,103,2020-01-01\nT2,102,2020-01-01\n",
    "runs": (
        "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
        "T1,north,abs,2020-02-01,2020-02-20,90000\n"
        "T1,north,abs,2021-02-01,2021-02-20,90000\n"
        "T2,south,abs,2020-03-01,2020-03-20,50000\n"
    ),
    "events": "tool_id,date,event,cause\nT1,2020-06-01,retool,wear\n",
}


@pytest.fixture
def write_history(tmp_path: Path) -> Callable[..., Path]:
    """Writes the small history to a folder of that name, with sheets exchanged or, where None, left out."""

    def write(name: str = "history", **changed: str | None) -> Path:
        folder = tmp_path / name
        folder.mkdir()
        sheets: Mapping[str, str | None] = {**SHEETS, **changed}
        for table, text in sheets.items():
            if text is not None:
                (folder / f"{table}.csv").write_text(text, encoding="utf-8")
        return folder

    return write


@pytest.fixture(scope="session")
def demo_calibration() -> Calibration:
    return from_bytes(shipped_calibration_bytes())
