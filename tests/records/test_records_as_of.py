"""Time is cut in one place: nothing after the day is known, and what is known does not depend on how it is asked."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from fleets import Cells, checked, event, fleet, fleets, records_of, run, tool
from hypothesis import assume, given
from hypothesis import strategies as st

from wearfit.errors import Refusal
from wearfit.records.records import Records
from wearfit.records.tables import TABLES

DAYS = st.dates(dt.date(2019, 10, 1), dt.date(2022, 3, 1))


def _same(one: Records, other: Records) -> None:
    for name in TABLES:
        pd.testing.assert_frame_equal(one.tables[name], other.tables[name], rtol=1e-12)


def _records(sheets: dict) -> Records:
    try:
        return records_of(sheets)
    except Refusal:  # every run was unreadable
        assume(False)
        raise


@checked
@given(fleets())
def test_the_latest_day_cuts_nothing(sheets: dict):
    records = _records(sheets)
    try:
        latest = records.latest_day
    except Refusal:
        assume(False)
        raise
    in_service = records.tables["tools"]["commissioned_on"].max().date()
    cut = records.as_of(max(latest, in_service, dt.date(2022, 3, 1)))
    assert cut.fingerprint == records.fingerprint
    _same(cut, records)


@checked
@given(fleets(), DAYS)
def test_nothing_after_the_day_is_known(sheets: dict, day: dt.date):
    cut = _records(sheets).as_of(day)
    now = pd.Timestamp(day)
    assert cut.as_of_day == day
    for name, column in (
        ("tools", "commissioned_on"), ("runs", "started_on"), ("runs", "ended_on"), ("events", "date"), ("events", "back_on"),
        ("events", "last_good_on"), ("readings", "date"), ("counter", "date"),
    ):  # fmt: skip
        assert not (cut.tables[name][column] > now).any()
    assert cut.tables["runs"]["tool_id"].isin(cut.tables["tools"]["tool_id"]).all()


@checked
@given(fleets(), DAYS, DAYS)
def test_cutting_twice_is_cutting_at_the_earlier_day(sheets: dict, one: dt.date, other: dt.date):
    records = _records(sheets)
    early, late = min(one, other), max(one, other)
    _same(records.as_of(late).as_of(early), records.as_of(early))
    _same(records.as_of(early).as_of(early), records.as_of(early))
    shots = records.as_of(early).tables["runs"]["shots"].sum(), records.as_of(late).tables["runs"]["shots"].sum()
    assert shots[0] <= shots[1] * (1 + 1e-12)
    assert len(records.as_of(early).tables["events"]) <= len(records.as_of(late).tables["events"])


@checked
@given(fleets(), DAYS, st.randoms(use_true_random=False))
def test_the_cut_does_not_depend_on_the_order_of_rows(sheets: dict, day: dt.date, shuffle):
    mixed = {name: list(rows) for name, rows in sheets.items()}
    for rows in mixed.values():
        shuffle.shuffle(rows)
    assert _records(sheets).as_of(day).fingerprint == _records(mixed).as_of(day).fingerprint


@pytest.mark.parametrize(
    ("day", "share"), [("2020-01-10", 0.1), ("2020-01-14", 0.5), ("2020-01-18", 0.9), ("2020-01-19", 1.0), ("2020-03-01", 1.0)]
)
def test_a_run_is_cut_by_days_with_both_ends_counted(day: str, share: float):
    parts = run("2020-01-10", "2020-01-19", "", parts="900", scrap_parts="100", setups="4")
    (cut,) = records_of(fleet(runs=[parts])).as_of(dt.date.fromisoformat(day)).tables["runs"].to_dict("records")
    assert [cut["shots"], cut["parts"], cut["scrap_parts"]] == pytest.approx([1000 * share, 900 * share, 100 * share])
    assert cut["setups"] == pytest.approx(max(1.0, 4 * share))
    assert cut["ended_on"] == min(pd.Timestamp(day), pd.Timestamp("2020-01-19"))


def test_setups_not_recorded_stay_so_and_none_stays_none():
    runs = [run("2020-01-10", "2020-01-19"), run("2020-01-10", "2020-01-19", plant_id="Salt Quay", setups="0")]
    assert records_of(fleet(runs=runs)).as_of(dt.date(2020, 1, 12)).tables["runs"]["setups"].tolist()[1] == 0.0
    assert np.isnan(records_of(fleet(runs=runs)).as_of(dt.date(2020, 1, 12)).tables["runs"]["setups"].tolist()[0])


def test_facts_of_an_event_are_known_when_they_were():
    events = [event("2020-02-01", "worn", last_good_on="2020-01-15"), event("2020-02-02", "refurbish", cause="wear", back_on="2020-03-01"),
              event("2020-02-03", "order", due_on="2020-06-01")]  # fmt: skip
    cut = records_of(fleet(events=events)).as_of(dt.date(2020, 2, 10)).tables["events"].set_index("event")
    assert cut.loc["worn", "last_good_on"] == pd.Timestamp("2020-01-15")
    assert pd.isna(cut.loc["refurbish", "back_on"])
    assert cut.loc["order", "due_on"] == pd.Timestamp("2020-06-01")


def test_a_tool_commissioned_later_is_gone_with_its_plan_and_the_rest_stays():
    plan: list[Cells] = [{"month": "2021-01", "tool_id": name, "shots": "5"} for name in ("T1", "T2")]
    climate: list[Cells] = [{"plant_id": "Heath", "month": "2021-01", "temp_c": "5", "rh_pct": "80"}]
    records = records_of(fleet(tools=[tool(), tool("T2", commissioned_on="2020-06-01")], plan=plan, climate=climate))
    cut = records.as_of(dt.date(2020, 5, 31))
    assert cut.tables["tools"]["tool_id"].tolist() == cut.tables["plan"]["tool_id"].tolist() == ["T1"]
    assert len(records.as_of(dt.date(2020, 6, 1)).tables["plan"]) == 2
    for name in ("climate", "plants", "resins"):
        pd.testing.assert_frame_equal(cut.tables[name], records.tables[name])


def test_a_cut_cannot_be_undone():
    cut = records_of(fleet()).as_of(dt.date(2020, 1, 12))
    with pytest.raises(ValueError, match="say nothing of"):
        cut.as_of(dt.date(2020, 1, 13))


def test_the_records_themselves_are_not_touched():
    records = records_of(fleet())
    before = records.fingerprint
    records.as_of(dt.date(2020, 1, 12))
    assert records.fingerprint == before and records.as_of_day is None
