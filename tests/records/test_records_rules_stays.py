"""Stays in store that other rows contradict are told in plain words, and set nothing aside."""

import pytest
from fleets import Cells, about, event, fleet, records_of, run

STORED = event("2020-06-01", "store", preserved="1")
OUT = event("2021-06-01", "take_out")


def said(*events: Cells, runs: tuple[Cells, ...] = ()) -> list[tuple[str, str | None, str]]:
    """(table, column, problem) of the notes about stays."""
    others = {f.problem for f in records_of(fleet(runs=list(runs), events=[event("2020-06-01", "service")])).findings}
    records = records_of(fleet(runs=list(runs), events=list(events)))
    assert len(records.tables["events"]) == len(events)
    notes = [f for f in records.findings if f.table in ("events", "runs") and f.problem not in others and "shots" not in f.problem]
    assert {f.severity for f in notes} <= {"note"}
    return [(f.table, f.column, f.problem) for f in notes]


def test_a_stay_that_nothing_contradicts_is_not_remarked_on():
    between = run("2021-07-01", "2021-07-20")
    assert said(STORED, OUT, event("2021-08-01", "worn"), runs=(run("2020-05-01", "2020-06-01"), between)) == []
    assert said(STORED, event("2021-06-01", "worn", last_good_on="2020-06-01"), OUT) == []


@pytest.mark.parametrize("days", [("2020-07-01", "2020-07-09"), ("2020-07-01", "2020-07-01"), ("2020-05-28", "2020-06-09")])
def test_a_run_made_while_in_store(days: tuple[str, str]):
    ((table, column, problem),) = said(STORED, runs=(run(*days),))
    assert (table, column) == ("runs", "started_on")
    assert "in store since 2020-06-01 when its run from " + " to ".join(days) in problem


def test_only_the_first_run_takes_it_out():
    assert len(said(STORED, runs=(run("2020-07-01", "2020-07-09"), run("2020-08-01", "2020-08-09")))) == 1


@pytest.mark.parametrize(
    ("events", "phrase"),
    [
        ((OUT,), "was in no store"),
        ((STORED, OUT, event("2021-06-09", "take_out")), "is taken out on 2021-06-09 and was in no store"),
        ((STORED, event("2020-09-01", "store")), "is stored on 2020-09-01 and was in store already since 2020-06-01"),
        ((STORED, event("2020-09-01", "move", plant_id="Salt Quay"), OUT), "is taken to stay in store, at its new place"),
        ((STORED, event("2020-09-01", "worn"), OUT), "found worn on 2020-09-01, in store since 2020-06-01"),
        ((STORED, OUT, event("2021-06-01", "worn")), "found worn on 2021-06-01, in store since 2020-06-01"),
        ((STORED, event("2020-12-01", "service", preserved="0"), OUT), "given with the service of"),
    ],
)
def test_each_contradiction_is_told_once(events: tuple[Cells, ...], phrase: str):
    ((table, _, problem),) = said(*events)
    assert table == "events"
    assert phrase in problem


def test_another_tools_stay_says_nothing():
    other = fleet(events=[STORED, event("2021-01-01", "take_out", tool_id="other")])
    assert not [f for f in about(records_of(other).findings, "events", "event") if "no store" in f.problem]


@pytest.mark.parametrize(
    ("days", "told"),
    [
        (["2020-06-01", "2021-06-01", "2021-07-01"], []),  # before it was stored, after it was taken out
        (["2020-06-02"], ["2020-06-02"]),
        (["2020-07-01", "2020-08-01"], ["2020-07-01"]),  # once a stay
    ],
)
def test_a_reading_taken_while_in_store(days: list[str], told: list[str]):
    readings = [{"tool_id": "T1", "date": day, "feature": "flash", "value": "0.1", "limit": "0.13"} for day in days]
    records = records_of(fleet(events=[STORED, OUT, event("2021-06-01", "worn")], readings=readings))
    assert len(records.tables["readings"]) == len(days)
    found = [f for f in about(records.findings, "readings", "date") if f.severity == "note"]
    assert [f.value for f in found] == told
    assert all("in store since 2020-06-01 when flash was read" in f.problem for f in found)
    # What else is told of the stay does not change.
    assert len(about(records.findings, "events", "last_good_on")) == 1
