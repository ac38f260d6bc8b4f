"""Shots far too few for their days: noted, with what was probably meant, and used as they stand."""

import pytest
from fleets import Cells, about, fleet, records_of, run, tool

from wearfit.records.findings import Finding

DAYS = ("2023-03-06", "2023-03-17")  # twelve days


def _told(*runs: Cells, **of_tool: str) -> list[Finding]:
    records = records_of(fleet(tools=[tool(**of_tool)], runs=runs))
    assert sorted(records.tables["runs"]["shots"]) == sorted(float(each["shots"]) for each in runs)
    return about(records.findings, "runs", "shots")


@pytest.mark.parametrize("shots", ["30", "29", "5"])
def test_shots_typed_in_thousands_are_told_by_the_cycle_time(shots: str):
    (finding,) = _told(run(*DAYS, shots), cycle_time_s="25")  # 41,472 shots at most
    assert finding.severity == "note"
    assert f"{shots},000 would be a usual run" in finding.problem and "12 days" in finding.problem


@pytest.mark.parametrize("shots", ["300", "1", "2", "28000", "50"])
def test_samplings_and_usual_runs_are_not(shots: str):
    assert _told(run(*DAYS, shots), cycle_time_s="25") == []


def test_without_a_cycle_time_the_other_runs_tell():
    others = [run(f"2022-0{month}-06", f"2022-0{month}-17", "28000") for month in (1, 2, 3)]
    (finding,) = _told(*others, run(*DAYS, "31"))
    assert "31,000" in finding.problem
    assert _told(*others, run(*DAYS, "3100")) == []
    assert _told(run(*DAYS, "31")) == []


def test_a_fraction_of_a_shot_is_told_once_a_file():
    (finding,) = _told(run(*DAYS, "30.5"), run("2023-04-06", "2023-04-17", "28.25"), run("2023-05-06", "2023-05-17", "28000"))
    assert finding.problem.startswith("2 runs have a fraction of a shot, such as 30.5 in row 2")
