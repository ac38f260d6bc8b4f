"""Who did what when is written in the same transaction as what was done."""

import datetime as dt
import getpass
from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.upload import Upload, digest_of
from wearfit.store.calibrations import CalibrationSummary
from wearfit.store.overrides import Override
from wearfit.store.store import Store

DAY = dt.date(2026, 6, 30)
WHO = "Ines <ines@example.org>"


def upload(name: str) -> Upload:
    files = ((f"{name}.csv", name.encode()),)
    return Upload(name, digest_of(files), files, (), (), {})


def test_every_kind_of_change_leaves_a_line_with_its_name(tmp_path: Path) -> None:
    summary = CalibrationSummary(DAY, "f", True, (), 1, 1, 1, "1", 1)
    with Store.open(str(tmp_path / "x.db")) as store:
        began = dt.datetime.now(dt.UTC)
        store.add_uploads([upload("july")], Choices(names={"plant_id": {"Heeth": "Heath"}}), by=WHO)
        store.add_calibration(b"one", summary, make_current=True, by=WHO)
        store.add_calibration(b"two", summary, make_current=True)
        store.use(1, WHO)
        store.add_override(Override("T-1", dt.datetime.now(dt.UTC), WHO, DAY, None, 5, "seen it"))
        done = store.actions(10)[::-1]
    assert [(action.what, action.by == WHO) for action in done] == [
        ("decided how to read", True),
        ("handed over records", True),
        ("calibrated", True),
        ("calibrated", False),
        ("let answer", True),
        ("judged", True),
    ]
    assert done[3].by.startswith(getpass.getuser())
    assert "july" in done[1].detail
    assert "calibration 1" in done[4].detail
    assert all(began <= action.at <= dt.datetime.now(dt.UTC) for action in done)


def test_what_was_refused_leaves_none(tmp_path: Path) -> None:
    with Store.open(str(tmp_path / "x.db")) as store:
        with pytest.raises(Refusal):
            store.use(7, WHO)
        assert store.actions(10) == []
