"""Runs: the shots they stand for, what cannot have been, what is doubtful."""

import pytest
from fleets import Cells, about, event, fleet, records_of, run, tool

from wearfit.records.findings import Finding


def _shots(*runs: Cells, tools: tuple[Cells, ...] = (tool(),)) -> list[float]:
    return list(records_of(fleet(runs=list(runs), tools=list(tools))).tables["runs"]["shots"])


def _findings(*runs: Cells, column: str, tools: tuple[Cells, ...] = (tool(),), events: tuple[Cells, ...] = ()) -> list[Finding]:
    happened = list(events) or [event("2020-01-02", "service")]
    return about(records_of(fleet(runs=list(runs), tools=list(tools), events=happened)).findings, "runs", column)


def _parts(parts: str, **cells: str) -> Cells:
    return run("2020-01-10", "2020-01-19", "", parts=parts, **cells)


def test_shots_are_all_parts_over_the_active_cavities():
    tools = (tool(cavities="4"),)
    assert _shots(_parts("990", scrap_parts="10", active_cavities="2"), tools=tools) == [500.0]
    assert _shots(_parts("990", scrap_parts="10"), tools=tools) == [250.0]
    assert _shots(_parts("990", scrap_parts="10")) == [1000.0]
    assert _shots(_parts("970"), tools=tools) == [250.0]  # 970 good of 1,000, as 3 % scrap is taken
    assert _shots(_parts("997", scrap_parts="3", active_cavities="3"))[0] == pytest.approx(1000 / 3)
    assert _shots(_parts("0", scrap_parts="80"), tools=tools) == [20.0]


def test_shots_where_given_come_before_parts():
    assert _shots(run("2020-01-10", "2020-01-19", "700", parts="2000", scrap_parts="0")) == [700.0]


def test_what_was_taken_for_granted_is_told_once_for_the_table():
    runs = (_parts("970"), run("2020-02-10", "2020-02-19", "", parts="500"), run("2020-03-10", "2020-03-19"))
    (scrap,) = _findings(*runs, column="scrap_parts")
    (cavities,) = _findings(*runs, column="active_cavities")
    assert scrap.row is None and scrap.severity == "note"
    assert "2 runs" in scrap.problem and "97 %" in scrap.problem and "judgement" in scrap.problem
    assert "one part a shot" in cavities.problem
    assert _findings(*runs, column="active_cavities", tools=(tool(cavities="2"),)) == []


@pytest.mark.parametrize(
    ("bad", "column", "said"),
    [
        (run("2020-03-10", "2020-03-09"), "ended_on", "ends on 2020-03-09, before it starts on 2020-03-10"),
        (run("2020-03-10", "2020-03-19", "0"), "shots", "no shot"),
        (run("2020-03-10", "2020-03-19", "", parts="0"), "shots", "no shot"),
        (run("2019-12-31", "2020-01-19"), "started_on", "before tool T1 was commissioned on 2020-01-01"),
        (run("2020-06-02", "2020-06-10"), "started_on", "after tool T1 was retired on 2020-06-01"),
        (run("2020-03-10", "2020-03-19", tool_id="T7"), "tool_id", "T7 is not among the tools"),
    ],
)
def test_a_run_that_cannot_have_been_is_set_aside(bad: Cells, column: str, said: str):
    records = records_of(fleet(runs=[run("2020-01-10", "2020-01-19"), bad], events=[event("2020-06-01", "retire")]))
    (finding,) = about(records.findings, "runs", column)
    assert (finding.row, finding.severity) == (3, "set_aside")
    assert said in finding.problem and finding.repair.endswith(".")
    assert records.tables["runs"]["row"].tolist() == [2]


def test_a_run_of_one_day_on_the_days_of_commissioning_and_retirement_is_used():
    events = (event("2020-06-01", "retire"),)
    runs = (run("2020-01-01", "2020-01-01"), run("2020-06-01", "2020-06-01"))
    assert _findings(*runs, column="started_on", events=events) == []
    assert _findings(*runs, column="ended_on", events=events) == []


def test_a_run_past_the_retirement_is_told():
    (finding,) = _findings(run("2020-05-30", "2020-06-03"), column="ended_on", events=(event("2020-06-01", "retire"),))
    assert finding.severity == "note"


def test_more_shots_than_the_cycle_time_allows_are_told():
    able = 10 * 86_400 // 60  # in ten days
    day = ("2020-01-10", "2020-01-19")
    assert _findings(run(*day, str(int(able * 1.02))), column="shots", tools=(tool(cycle_time_s="60"),)) == []
    (finding,) = _findings(run(*day, str(int(able * 1.02) + 1)), column="shots", tools=(tool(cycle_time_s="60"),))
    assert finding.severity == "note" and "14,400" in finding.problem and "60 s" in finding.problem
    assert _findings(run(*day, str(able * 2), cycle_time_s="30"), column="shots", tools=(tool(cycle_time_s="60"),)) == []
    assert len(_findings(run(*day, str(able), cycle_time_s="120"), column="shots", tools=(tool(cycle_time_s="60"),))) == 1
    assert _findings(run(*day, "9999999"), column="shots") == []


def test_a_run_of_years_is_told():
    (finding,) = _findings(run("2020-01-10", "2052-01-19"), column="ended_on")
    assert finding.severity == "note" and "2052-01-19" in finding.problem
