"""A preview of records that came since the calibration: what it says, and that it leaves everything as it was."""

import csv
import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest
from set_back import SetBack
from stores import make_store, summary

from wearfit.calibration import STACKED, from_bytes, to_bytes
from wearfit.demo.shipped import scenario_folder, shipped_calibration_bytes
from wearfit.errors import Refusal
from wearfit.records.readers.read import read
from wearfit.store import open_store
from wearfit.store.store import Store
from wearfit.workflow.new_records import ToolRecords
from wearfit.workflow.preview import preview
from wearfit.workflow.preview_in_words import Preview
from wearfit.workflow.standing import standing

RUNS = ("tool_id", "plant_id", "resin_id", "started_on", "ended_on", "shots")


def upload(store: str, folder: Path, runs: list[tuple[str, ...]], events: list[tuple[str, ...]]) -> None:
    folder.mkdir()
    for name, header, rows in (("runs", RUNS, runs), ("events", ("tool_id", "date", "event"), events)):
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as target:
            csv.writer(target).writerows([header, *rows])
    with Store.open(store) as opened:
        opened.add_upload(read(folder))


@pytest.fixture
def store(tmp_path: Path) -> str:
    return make_store(tmp_path / "store.db", records=scenario_folder(), calibrations=(True,))


def test_without_new_records_there_is_nothing_to_tell(store: str) -> None:
    assert not standing(store).newer_records
    seen = preview(store)
    assert not seen.new
    assert seen.changes.changes == ()
    assert seen.sentences == ["No record is new or changed since calibration 1."]


def test_draws_of_several_laws_are_not_weighed(tmp_path: Path) -> None:
    shipped = from_bytes(shipped_calibration_bytes())
    store = make_store(tmp_path / "store.db", records=scenario_folder())
    stacked = to_bytes(replace(shipped, identity=replace(shipped.identity, wear_law=STACKED)))
    with Store.open(store) as opened:
        opened.add_calibration(stacked, summary(True, ()), make_current=True)
    assert not preview(store).new
    upload(store, tmp_path / "july", [("T-003", "delta", "abs-white", "2026-07-01", "2026-07-06", "24000")], [])
    with pytest.raises(Refusal, match="Calibration 1 has the draws of several laws") as refused:
        preview(store)
    assert "takes some minutes" in refused.value.repair


def test_new_records_move_their_own_tool_and_change_nothing_stored(store: str, tmp_path: Path) -> None:
    upload(
        store,
        tmp_path / "july",
        [("T-003", "delta", "abs-white", "2026-07-01", "2026-07-06", "24000")],
        [("T-003", "2026-07-06", "worn")],
    )
    assert standing(store).newer_records
    with Store.open(store) as opened:
        before = [entry.id for entry in opened.calibrations()], opened.current_id(), opened.history()
    seen = preview(store)
    with Store.open(store) as opened:
        assert ([entry.id for entry in opened.calibrations()], opened.current_id(), opened.history()) == before
    assert seen.new and seen.reliable
    assert seen.effective_draws > 100
    assert str(seen.as_of) == "2026-07-06"
    assert seen.fingerprint != seen.records_fingerprint
    change = next(c for c in seen.changes.changes if c.tool_id == "T-003")
    assert change.turned == "worn out"
    assert "worn on 6 Jul 2026" in change.why
    assert seen.sentences[0].startswith("PREVIEW: calibration 1")
    chance = [c for c in seen.changes.changes if c.by_chance]
    assert seen.sentences[1] == (
        f"{len(chance)} tools without new records move no further than chance alone may move them: {seen.effective_draws:.0f} draws count."
    )
    assert change.tool_id not in {c.tool_id for c in chance}
    document = seen.as_json()
    assert document["preview"] is True
    assert {"tool_id", "before", "after", "why"} <= document["changes"][0].keys()


def test_with_the_clock_set_back_what_came_since_is_new_all_the_same(store: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Records of a day that the calibration knew came after it, by a clock that says they came before."""
    monkeypatch.setattr(open_store, "datetime", type("Losing", (SetBack,), {"year_told": 2011}))
    upload(store, tmp_path / "late", [("T-003", "delta", "abs-white", "2026-06-29", "2026-06-30", "2000")], [])
    seen = preview(store)
    change = next(c for c in seen.changes.changes if c.tool_id == "T-003")
    assert change.records == ToolRecords(runs=1, shots=2000.0)
    assert [c.tool_id for c in seen.changes.changes if not c.records.none] == ["T-003"]


def test_weights_that_cannot_tell_give_no_changes() -> None:
    seen = Preview(3, "a" * 64, dt.date(2026, 7, 1), "b" * 64, reliable=False, khat=1.2, effective_draws=4.0)
    assert seen.sentences[-1] == "A full recalibration is needed."
    assert "only 4 draws of calibration 3" in seen.sentences[0]


def test_a_store_without_a_calibration_is_refused(tmp_path: Path) -> None:
    empty = make_store(tmp_path / "empty.db", records=scenario_folder())
    with pytest.raises(Refusal, match="holds no calibration"):
        preview(empty)
