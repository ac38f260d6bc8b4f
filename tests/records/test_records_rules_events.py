"""Events: within the tool's own time, in days that can be, with their causes."""

import pandas as pd
import pytest
from fleets import Cells, about, event, fleet, records_of, run, tool

from wearfit.records.findings import Finding


def _judged(*events: Cells) -> tuple[pd.DataFrame, tuple[Finding, ...]]:
    records = records_of(fleet(events=list(events)))
    return records.tables["events"], records.findings


@pytest.mark.parametrize(
    ("bad", "column", "said"),
    [
        (event("2019-12-31", "service"), "date", "lies before the tool was commissioned on 2020-01-01"),
        (event("2021-06-02", "retool", cause="wear"), "date", "lies after the tool was retired on 2021-06-01"),
        (event("2020-06-02", "service", tool_id="zebra"), "tool_id", "zebra is not among the tools"),
    ],
)
def test_an_event_that_cannot_have_been_is_set_aside(bad: Cells, column: str, said: str):
    events, findings = _judged(event("2021-06-01", "retire"), bad)
    (finding,) = about(findings, "events", column)
    assert (finding.row, finding.severity) == (3, "set_aside")
    assert said in finding.problem
    assert events["row"].tolist() == [2]


def test_an_unknown_tool_offers_the_near_one():
    events = [event("2020-06-02", "service", tool_id="buckte-lid"), event("2020-06-02", "service", tool_id="zebra")]
    findings = records_of(fleet(tools=[tool(), tool("bucket-lid")], events=events)).findings
    near, other = about(findings, "events", "tool_id")
    assert "bucket-lid," in near.repair
    assert other.repair.startswith("Add 'zebra' to the tools table")


def test_events_on_the_days_of_commissioning_and_retirement_are_used():
    events, _ = _judged(event("2020-01-01", "service"), event("2020-06-01", "retire"), event("2020-06-01", "worn"))
    assert len(events) == 3


def test_the_first_retirement_ends_the_tool():
    events, findings = _judged(event("2020-06-01", "retire"), event("2020-07-01", "retire"))
    assert events["row"].tolist() == [2]
    assert about(findings, "events", "date")[0].row == 3


@pytest.mark.parametrize(
    ("row", "column"),
    [
        (event("2020-06-01", "worn", last_good_on="2020-06-02"), "last_good_on"),
        (event("2020-06-01", "refurbish", cause="wear", back_on="2020-05-31"), "back_on"),
        (event("2020-06-01", "order", due_on="2020-05-31"), "due_on"),
    ],
)
def test_impossible_days_are_blanked(row: Cells, column: str):
    events, findings = _judged(row)
    finding = about(findings, "events", column)[0]
    assert finding.severity == "repaired" and finding.value == row[column]
    assert pd.isna(events.loc[0, column])


def test_possible_days_stay():
    events, findings = _judged(event("2020-06-01", "worn", last_good_on="2020-06-01", back_on="2020-06-01"))
    assert about(findings, "events", "last_good_on") == about(findings, "events", "back_on") == []
    assert events.loc[0, "last_good_on"] == events.loc[0, "back_on"] == pd.Timestamp("2020-06-01")


def test_an_order_without_a_due_day_and_a_move_to_nowhere_are_told():
    _, findings = _judged(event("2020-06-01", "order"), event("2020-06-02", "move"))
    assert [f.severity for f in (*about(findings, "events", "due_on"), *about(findings, "events", "plant_id"))] == ["note", "note"]


def test_a_renewal_without_cause_is_told_unless_the_tool_was_found_worn_before():
    _, findings = _judged(event("2020-06-01", "retool"), event("2020-09-01", "retool", cause="planned"), event("2020-12-01", "refurbish"))
    assert [f.row for f in about(findings, "events", "cause")] == [2, 4]
    _, findings = _judged(event("2020-06-01", "worn"), event("2020-06-05", "service"), event("2020-07-01", "retool"))
    assert about(findings, "events", "cause") == []
    _, findings = _judged(event("2020-07-01", "retool"), event("2020-07-01", "worn"))
    assert about(findings, "events", "cause") == []
    _, findings = _judged(event("2020-06-01", "worn"), event("2020-07-01", "retool"), event("2020-10-01", "retool"))
    assert [f.row for f in about(findings, "events", "cause")] == [4]
    _, findings = _judged(event("2020-06-01", "retire"))
    assert about(findings, "events", "cause") == []


def test_one_tool_found_worn_says_nothing_of_the_next():
    events = [event("2020-06-01", "worn"), event("2020-07-01", "retool", tool_id="T2")]
    records = records_of(fleet(tools=[tool(), tool("T2")], events=events))
    assert [f.row for f in about(records.findings, "events", "cause")] == [3]


def test_an_unknown_cause_is_read_as_not_stated():
    events, findings = _judged(event("2020-06-01", "retire", cause="Wears"), event("2020-05-01", "retool", cause="Design change"))
    assert events["cause"].tolist() == ["design_change", ""]
    (finding,) = about(findings, "events", "cause")
    assert (finding.row, finding.value, finding.severity) == (2, "Wears", "repaired")
    assert "'wear'" in finding.repair and "not stated" in finding.problem


def test_stays_in_store_without_a_plant_are_kept():
    events, findings = _judged(event("2020-06-01", "store", preserved="1"), event("2020-07-01", "take out"))
    assert events["event"].tolist() == ["store", "take_out"]
    assert not about(findings, "events", "event")


def test_several_events_of_one_day_are_kept_with_the_rows_they_came_in():
    rows = [event("2020-06-01", name, cause="wear" if name == "retool" else "") for name in ("retool", "worn", "hold", "release")]
    events, _ = _judged(*rows)
    assert dict(zip(events["event"], events["row"], strict=True)) == {"hold": 4, "release": 5, "retool": 2, "worn": 3}


def test_runs_and_events_are_judged_by_the_same_retirement():
    records = records_of(
        fleet(events=[event("2019-06-01", "retire"), event("2020-02-01", "service")], runs=[run("2020-01-10", "2020-01-19")])
    )
    # A retirement that was itself set aside takes no run with it.
    assert len(records.tables["runs"]) == 1
