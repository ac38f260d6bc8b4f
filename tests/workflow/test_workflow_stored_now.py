"""What a store holds now, laid over what it held when its calibration was made: the same as all of it read anew."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from stores import make_store

from wearfit.demo.shipped import scenario_folder
from wearfit.records.assemble import assemble
from wearfit.records.choices import Choices
from wearfit.records.identity import Row
from wearfit.records.readers.read import read
from wearfit.records.records import Records
from wearfit.records.same_again import Kept, keeping
from wearfit.store.store import Store
from wearfit.store.uploads import empty_tables
from wearfit.workflow.news import news_among, read_news
from wearfit.workflow.stored_now import Stored, read_stored

KEPT: Kept = {}

RUNS = "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
EVENTS = "tool_id,date,event\n"
READINGS = "tool_id,date,feature,value,limit\n"
FILES = {
    "a run, and a wear-out": {
        "runs": f"{RUNS}T-003,delta,abs-white,2026-07-01,2026-07-06,24000\n", "events": f"{EVENTS}T-003,2026-07-06,worn\n",
    },
    "runs of days that were known, beside others, faster than a tool goes": {
        "runs": f"{RUNS}T-003,delta,abs-white,2026-06-01,2026-06-30,240000\nT-003,salt-quay,abs-white,2026-06-01,2026-06-30,9000000\n",
    },
    "one run twice, by two plants": {
        "runs": f"{RUNS}T-049,salt-quay,pp-natural,2026-07-02,2026-07-09,31000\nT-049,delta,pp-natural,2026-07-02,2026-07-09,31000\n",
    },
    "two renewals with next to no use between them": {"events": f"{EVENTS}T-003,2026-07-06,retool\nT-003,2026-07-20,retool\n"},
    "a stay in store that a run contradicts": {
        "events": f"{EVENTS}T-003,2026-07-01,store\nT-003,2026-08-01,take_out\n",
        "runs": f"{RUNS}T-003,delta,abs-white,2026-07-10,2026-07-16,24000\n",
    },
    "readings": {"readings": f"{READINGS}T-003,2026-07-06,gate,0.02,0.05\nT-003,2026-07-07,gate,0.08,0.05\n"},
    "a tool, its plant and its resin": {
        "tools": "tool_id,service_class,commissioned_on,plant_id\nT-999,103,2026-07-01,new-harbour\n",
        "runs": f"{RUNS}T-999,new-harbour,pbt,2026-07-02,2026-07-09,31000\n",
    },
    "names spelt otherwise": {"runs": f"{RUNS}t 003,DELTA,ABS-white,2026-07-01,2026-07-06,24000\n"},
    "an unknown tool": {"runs": f"{RUNS}Q-1,delta,abs-white,2026-07-01,2026-07-06,24000\n"},
    "an old number": {
        "aliases": "old_tool_id,tool_id,since\nOLD-3,T-003,2026-07-01\n",
        "runs": f"{RUNS}OLD-3,delta,abs-white,2026-06-20,2026-06-21,24000\n",
    },
    "counter readings": {"counter": "tool_id,date,counter_shots\nT-003,2026-07-01,900000\nT-003,2026-07-31,960000\n"},
    "corrections": {},  # of stored rows, below
}  # fmt: skip


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> str:
    return make_store(tmp_path_factory.mktemp("store") / "store.db", records=scenario_folder(), calibrations=(True,))


@pytest.fixture
def line(store: str) -> int:
    """The line to which the store is brought back before each test."""
    with Store.open(store) as opened:
        opened.restore(2)
        return len(opened.history())


def keep(store: str, folder: Path, files: dict[str, str]) -> None:
    folder.mkdir()
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    with Store.open(store) as opened:
        opened.add_upload(read(folder))


def whole(store: str) -> Records:
    with Store.open(store) as opened:
        return assemble(opened.rows(), empty_tables(opened.uploads()), opened.choices())


def written(rows: Iterable[Row]) -> list[tuple[object, ...]]:
    return sorted((row.table, row.key, sorted(row.values.items()), row.row, row.source) for row in rows)


def same(one: Records, other: Records) -> None:
    for name, frame in other.tables.items():
        pd.testing.assert_frame_equal(one.tables[name], frame, check_exact=True, obj=name)
    assert one.findings == other.findings


def laid_over(stored: Stored) -> Records:
    """As it is without anything kept; with what earlier tests left behind, as a preview has it, it is the same."""
    records = assemble(stored.rows, stored.empty, stored.choices)
    cut = records.as_of(records.latest_day)
    with keeping(KEPT):
        again = assemble(stored.rows, stored.empty, stored.choices, with_notes=False)
        cut_again = again.as_of(again.latest_day)
        assert cut_again.fingerprint == cut.fingerprint
    same(replace(again, findings=records.findings), records)
    same(replace(cut_again, findings=cut.findings), cut)
    return records


@pytest.mark.parametrize("what", FILES)
def test_rows_laid_over_those_held_are_those_read_anew(store: str, line: int, tmp_path: Path, what: str) -> None:
    del line
    files = FILES[what]
    if what == "corrections":
        runs = (scenario_folder() / "runs.csv").read_text(encoding="utf-8").splitlines()
        at = runs[0].split(",").index("shots")
        rows = [",".join("77777" if i == at else cell for i, cell in enumerate(row.split(","))) for row in runs[1:400:40]]
        files = {"runs": "\n".join([runs[0], *rows, ""])}
    keep(store, tmp_path / "new", files)
    stored = read_stored(store)
    with Store.open(store) as opened:
        rows, day = opened.rows(), stored.current.as_of.replace(month=8)
        read_anew, _ = read_news(opened, stored.current.calibration, opened.choices(), day)
        assert {(v.row.table, v.row.key, v.row.occurrence): v.line for v in stored.versions} == {
            (row.table, row.key, row.occurrence): version.line for row, version in opened.versions()
        }
    assert written(stored.rows) == written(rows)
    same(laid_over(stored), whole(store))
    among = news_among(stored.rows, stored.current.calibration, stored.choices, day)
    assert sorted(among.readings, key=str) == sorted(read_anew.readings, key=str)
    assert among.renewed == read_anew.renewed


def _choose(store: Store) -> None:
    store.keep_choices(Choices(names={"tool_id": {"T-003": "T-004"}}))


def _withdraw(store: Store) -> None:
    known = read(scenario_folder())
    store.add_upload(replace(known, rows=[row for row in known.rows if row.row % 50]))


@pytest.mark.parametrize("change", [_choose, _withdraw, lambda store: store.restore(1)])
def test_so_are_rows_taken_out_brought_back_or_read_otherwise(store: str, line: int, change: Callable[[Store], object]) -> None:
    with Store.open(store) as opened:
        change(opened)
    same(laid_over(read_stored(store)), whole(store))
    with Store.open(store) as opened:
        opened.restore(line)
    same(laid_over(read_stored(store)), whole(store))


def test_what_is_held_is_the_state_after_the_calibrations_line(store: str, line: int, tmp_path: Path) -> None:
    del line
    before = read_stored(store)
    keep(store, tmp_path / "new", FILES["a run, and a wear-out"])
    after = read_stored(store)
    assert after.held is before.held and after.current is before.current
    assert ("events", '["T-003", "2026-07-06", "worn"]', 0) in after.since
    with Store.open(store) as opened:
        then = opened.state_after(after.held.line)
    assert after.held.rows == then.rows and after.held.choices == then.choices


def test_another_calibration_is_read_and_its_own_line(store: str, line: int) -> None:
    del line
    before = read_stored(store)
    with Store.open(store) as opened:
        kept = opened.calibration()
        number = opened.add_calibration(kept.blob, kept.summary, make_current=True)
    after = read_stored(store)
    assert after.entry.id == after.current.number == number != before.entry.id
    assert after.held.line > before.held.line
    assert not after.since
    same(laid_over(after), whole(store))
