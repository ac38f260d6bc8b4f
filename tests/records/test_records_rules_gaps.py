"""Gaps in the middle of a history: between which days runs are missing, and how many shots."""

import pytest
from fleets import Cells, about, event, run, tool
from shot_counters import frames_of, monthly

from wearfit.records.findings import Finding
from wearfit.records.rules.counter.judge import judge_counters
from wearfit.records.rules.counter.reconcile import reconcile_counters
from wearfit.records.rules.gaps import note_gaps
from wearfit.records.rules.runs import judge_runs

STARTS = ("2020-02-01", "2020-03-01", "2020-04-01", "2020-05-01", "2020-06-01", "2020-07-01")
ENDS = ("2020-02-29", "2020-03-31", "2020-04-30", "2020-05-31", "2020-06-30", "2020-07-31")


def _each_month(*shots: int) -> list[Cells]:
    return [run(start, end, str(made)) for start, end, made in zip(STARTS, ENDS, shots, strict=False) if made]


def _gaps(**tables: list[Cells]) -> list[Finding]:
    frames, _ = judge_counters(frames_of(**{"tools": [tool(plant_id="Heath")], **tables}))
    frames, _ = reconcile_counters(judge_runs(frames)[0])
    passed, findings = note_gaps(frames)
    assert all(passed[name] is frames[name] for name in frames)
    assert {finding.severity for finding in findings} <= {"note"}
    return findings


def test_a_full_history_has_no_gap():
    runs = _each_month(1_000, 2_000, 3_000)
    assert _gaps(runs=runs) == []
    assert _gaps(runs=runs, counter=monthly(0, 1_040, 3_120, 6_240), events=[event("2020-05-02", "service", shots_at="6240")]) == []


def test_a_counter_that_rises_without_a_run_tells_of_missing_runs():
    (finding,) = _gaps(runs=_each_month(1_000, 0, 0, 1_000), counter=monthly(0, 1_000, 3_000, 4_500, 5_500))
    assert (finding.table, finding.row, finding.column) == ("counter", 5, "counter_shots")
    assert "3,500 shots between 2020-02-29 and 2020-04-30" in finding.problem and "younger" in finding.problem
    assert "runs" in finding.repair


def test_where_the_total_agrees_the_missing_shots_count_elsewhere():
    (finding,) = _gaps(runs=_each_month(2_000, 0, 3_000, 4_000), counter=monthly(0, 2_000, 2_900, 5_900, 9_900))
    assert "900 shots between 2020-02-29 and 2020-03-31" in finding.problem
    assert "total is used" in finding.problem and "younger" not in finding.problem


def test_a_few_shots_without_a_run_are_dry_shots():
    assert _gaps(runs=_each_month(2_000, 0, 3_000), counter=monthly(0, 2_000, 2_200, 5_200)) == []


def test_two_gaps_are_told_apart():
    found = _gaps(runs=_each_month(1_000, 0, 1_000, 0, 1_000), counter=monthly(0, 1_000, 3_000, 4_000, 6_000, 7_000))
    assert [f.row for f in found] == [4, 6]


def test_no_gap_is_seen_across_a_counter_that_was_set_back():
    found = _gaps(runs=_each_month(1_000, 0, 1_000), counter=monthly(9_000, 10_000, 5, 1_005))
    assert found == []


def test_reckoned_runs_have_no_gap():
    assert _gaps(counter=monthly(0, 1_000, 3_000, 3_000, 7_000)) == []


def test_shots_between_two_counted_events_that_no_run_shows():
    events = [event("2020-02-29", "service", shots_at="1000"), event("2020-05-31", "retool", shots_at="9000", cause="wear")]
    (finding,) = about(_gaps(runs=_each_month(1_000, 0, 0, 2_000), events=events), "events", "shots_at")
    assert finding.row == 3
    for said in (
        "Between 2020-02-29 and the retool of T1 on 2020-05-31",
        "rose by 8,000",
        "show 2,000",
        "6,000 shots are missing",
        "younger",
    ):
        assert said in finding.problem


@pytest.mark.parametrize(("shots_at", "told"), [("3449", False), ("3451", True)])
def test_fifteen_per_cent_more_than_the_runs_may_be_dry_shots(shots_at: str, told: bool):
    found = _gaps(runs=_each_month(1_000, 2_000), events=[event("2020-04-15", "service", shots_at=shots_at)])
    assert bool(found) == told


def test_shots_missing_before_the_first_count_are_seen_where_the_opening_is_known():
    def told(**cells: str) -> list[Finding]:
        home = tool(commissioned_on="2015-01-01", plant_id="Heath", **cells)
        return _gaps(tools=[home], runs=_each_month(1_000), events=[event("2020-04-15", "service", shots_at="9000")])

    assert told() == []
    assert told(opening_shots="8000") == []
    (finding,) = told(opening_shots="2000")
    assert "rose by 7,000" in finding.problem


def test_a_count_in_the_middle_of_a_run_is_not_held_to_the_day():
    runs = [run("2020-02-01", "2020-03-31", "6000")]
    for shots_at in ("100", "5900"):
        assert _gaps(runs=runs, events=[event("2020-03-01", "service", shots_at=shots_at)]) == []


def test_a_count_below_what_the_runs_show_is_told():
    (finding,) = _gaps(runs=_each_month(1_000, 5_000), events=[event("2020-04-15", "retool", shots_at="5000", cause="wear")])
    assert (finding.table, finding.column, finding.row) == ("events", "shots_at", 2)
    assert "less than the 6,000 shots" in finding.problem and "last renewal" in finding.repair
    assert _gaps(runs=_each_month(1_000, 5_000), events=[event("2020-04-15", "retool", shots_at="5300", cause="wear")]) == []


def test_a_count_that_falls_is_told():
    events = [event("2020-03-31", "retool", shots_at="6000", cause="wear"), event("2020-05-15", "service", shots_at="2000")]
    (finding,) = _gaps(runs=_each_month(1_000, 5_000, 2_000), events=events)
    assert finding.row == 3 and "6,000 of 2020-03-31" in finding.problem and "never fall" in finding.problem


def test_counts_of_one_tool_say_nothing_of_the_next():
    events = [event("2020-03-31", "service", shots_at="6000"), event("2020-03-31", "service", "T2", shots_at="1000")]
    runs = [*_each_month(1_000, 5_000), run("2020-02-01", "2020-02-29", "1000", tool_id="T2")]
    assert _gaps(tools=[tool(plant_id="Heath"), tool("T2")], runs=runs, events=events) == []


LONG_AGO, LATE = run("2020-01-10", "2020-01-19"), run("2023-01-10", "2023-01-19")


def test_years_without_a_run_are_told():
    (finding,) = _gaps(runs=[LONG_AGO, LATE])
    assert (finding.table, finding.row) == ("runs", 2)
    assert "between 2020-01-19 and 2023-01-10" in finding.problem and "stored" in finding.problem
    assert _gaps(runs=[LONG_AGO, run("2022-01-10", "2022-01-19")]) == []  # less than two years


def test_years_without_a_run_up_to_the_end_of_the_records_are_told():
    tools = [tool(), tool("T2")]
    other = run("2023-01-10", "2023-01-19", tool_id="T2")
    found = _gaps(
        tools=tools, runs=[LONG_AGO, other, run("2022-01-10", "2022-01-19", tool_id="T2"), run("2021-01-10", "2021-01-19", tool_id="T2")]
    )
    (finding,) = found
    assert "no run after 2020-01-19" in finding.problem and "2023-01-19" in finding.problem


@pytest.mark.parametrize(
    "events",
    [
        [event("2020-02-01", "store"), event("2022-12-01", "take_out")],
        [event("2020-02-01", "store"), event("2020-03-01", "take_out"), event("2020-04-01", "store")],
        [event("2020-02-01", "retire")],
    ],
)
def test_a_stored_or_retired_tool_has_no_gap(events: list[Cells]):
    later = [run(f"{year}-01-10", f"{year}-01-19", tool_id="T2") for year in range(2020, 2024)]
    assert about(_gaps(tools=[tool(), tool("T2")], runs=[LONG_AGO, *later], events=events), "runs", "ended_on") == []


def test_a_short_stay_in_store_does_not_explain_years():
    events = [event("2020-02-01", "store"), event("2020-08-01", "take_out")]
    assert len(about(_gaps(runs=[LONG_AGO, LATE], events=events), "runs", "ended_on")) == 1


def test_a_counter_that_stood_still_explains_years_without_a_run():
    counter = monthly(*[5_000] * 40)
    assert about(_gaps(runs=[LONG_AGO, LATE], counter=counter), "runs", "ended_on") == []
    assert about(_gaps(counter=[*monthly(0, 5_000, *[5_000] * 36, 9_000)]), "runs", "ended_on") == []
