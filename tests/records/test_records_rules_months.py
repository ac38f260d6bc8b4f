"""Runs whose days are all firsts of months end with the month, or are told where that is not sure; months typed as texts do so at once."""

import datetime as dt

import pytest
from fleets import about, fleet, read_of, records_of, region_of, run, tool

from wearfit.records.records import Records

MONTHS = [run("2020-02-01", "2020-02-01"), run("2020-03-01", "2020-05-01"), run("2020-07-01", "2020-07-01")]


def _ends(records: Records) -> list[str]:
    return [str(day.date()) for day in records.tables["runs"]["ended_on"].sort_values()]


def test_ends_become_the_last_days_of_their_months_before_shots_are_judged():
    months = [run(f"2020-{month:02d}-01", f"2020-{month:02d}-01", "90000") for month in range(2, 10)]
    records = records_of(fleet(tools=[tool(cycle_time_s="20", cavities="16")], runs=months))
    assert _ends(records)[:3] == ["2020-02-29", "2020-03-31", "2020-04-30"]
    (told,) = about(records.findings, "runs", "ended_on")
    assert (
        (told.severity, told.row, told.value) == ("repaired", None, "2020-02-01")
        and "8 runs" in told.problem
        and "2020-02-29" in told.problem
    )
    # A run of one day would have made more shots than a press can, and its count would be taken for parts.
    assert about(records.findings, "runs", "shots") == [] and set(records.tables["runs"]["shots"]) == {90_000.0}


@pytest.mark.parametrize(
    "runs",
    [
        [*MONTHS, run("2020-09-14", "2020-09-25")],
        MONTHS[:2],
        [run("2020-02-01", "2020-02-01", str(shots)) for shots in (900, 1000, 1100)],
        [run("2020-02-01", "2020-02-29"), run("2020-03-01", "2020-05-31"), run("2020-07-01", "2020-07-31")],
    ],
    ids=["another day", "two runs", "one month alone", "whole months"],
)
def test_days_are_left_where_they_need_not_be_months(runs: list):
    records = records_of(fleet(runs=runs))
    assert _ends(records) == sorted(row["ended_on"] for row in runs)
    assert not [f for f in records.findings if "first of a month" in f.problem]


def test_ends_that_may_be_the_day_after_are_told_and_stand():
    runs = [run("2020-02-01", "2020-03-01"), run("2020-03-01", "2020-04-01"), run("2020-04-01", "2020-06-01")]
    records = records_of(fleet(runs=runs))
    assert _ends(records) == ["2020-03-01", "2020-04-01", "2020-06-01"]
    (told,) = [f for f in about(records.findings, "runs", "ended_on") if "first of a month" in f.problem]
    assert told.severity == "note" and "day after the run" in told.problem


def test_one_plant_may_write_months_where_another_writes_days():
    days = [run("2020-09-14", "2020-09-25", plant_id="Salt Quay"), run("2020-10-01", "2020-10-01", plant_id="Salt Quay")]
    records = records_of(fleet(runs=[*MONTHS, *days]))
    assert _ends(records) == ["2020-02-29", "2020-05-31", "2020-07-31", "2020-09-25", "2020-10-01"]
    (told,) = [f for f in about(records.findings, "runs", "ended_on") if f.severity == "repaired"]
    assert "3 runs at Heath" in told.problem


def test_months_in_words_are_whole_months_in_runs_alone():
    typed = [("Mar-23", "May-23"), ("07/2023", "2023-08"), ("September 2023", "Oct 2023"), ("Nov '23", "14.12.2023")]
    sheet = read_of(region_of("runs", [run(*pair) for pair in typed]))
    assert [(row.values["started_on"], row.values["ended_on"]) for row in sheet.rows] == [
        ("2023-03-01", "2023-05-31"), ("2023-07-01", "2023-08-31"), ("2023-09-01", "2023-10-31"), ("2023-11-01", "2023-12-14"),
    ]  # fmt: skip
    assert [f.severity for f in about(sheet.findings, "runs", "started_on")] == ["repaired"]
    assert "'Mar-23' in row 2, read as its first, 2023-03-01" in about(sheet.findings, "runs", "started_on")[0].problem
    assert read_of(region_of("events", [{"tool_id": "T1", "date": "Mar-23", "event": "service"}])).rows == ()


def test_what_may_be_a_day_without_its_year_is_no_month():
    sheet = read_of(region_of("runs", [run("Mar 23", "Mar 29")]))
    assert sheet.rows == () and {f.severity for f in sheet.findings} == {"set_aside"}


def test_a_month_that_is_not_over_ends_today_and_one_ahead_is_set_aside():
    rows = [run("May-24", "Jun-24"), run("Jun-24", "Jul-24")]
    sheet = read_of(region_of("runs", rows), today=dt.date(2024, 6, 12))
    assert [row.values["ended_on"] for row in sheet.rows] == ["2024-06-12"]
    assert [f.row for f in sheet.findings if f.severity == "set_aside"] == [3]
