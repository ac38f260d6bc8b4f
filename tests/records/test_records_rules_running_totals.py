"""Running totals typed as the shots of runs, and runs that only happen to rise."""

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pytest
from fleets import Cells, fleet, records_of, run, tool

from wearfit.records.findings import Finding
from wearfit.records.records import Records

DAYS = (5, 8, 6, 10, 4, 9, 5, 7)
MADE = tuple(1_700 * days + 90 * (days % 3) for days in DAYS)  # of 2,880 that a cycle of 30 s allows a day
PRESS = tool(cycle_time_s="30", cavities="2")


def _runs(numbers: Sequence[float], column: str = "shots", days: Sequence[int] = DAYS, **cells: str) -> list[Cells]:
    day = dt.date(2020, 1, 10)
    runs = []
    for number, length in zip(numbers, days, strict=False):
        last = day + dt.timedelta(length - 1)
        runs.append(run(day.isoformat(), last.isoformat(), **{"shots": "", column: f"{number:.0f}", **cells}))
        day = last + dt.timedelta(40)
    return runs


def _judged(runs: Sequence[Cells], told_by: Cells = PRESS, **tables: Sequence[Cells]) -> tuple[list[float], list[Finding], Records]:
    records = records_of(fleet(runs=runs, tools=[told_by], **tables))
    words = "running total", "no total before it"
    told = [finding for finding in records.findings if finding.table == "runs" and any(word in finding.problem for word in words)]
    return records.tables["runs"]["shots"].tolist(), told, records


def test_each_run_has_what_the_total_rose_by():
    shots, (finding,), records = _judged(_runs(np.cumsum(MADE)))
    assert shots == list(MADE)
    assert (finding.row, finding.severity, finding.value, finding.source) == (None, "repaired", "T1", "runs.csv")
    assert "8 runs" in finding.problem and f"{sum(MADE):,} in all" in finding.problem and "counter table" in finding.repair
    assert not [other for other in records.findings if "parts" in other.problem]


def test_the_first_run_of_an_older_tool_is_set_aside():
    for told_by in ({**PRESS, "commissioned_on": "2015-01-01"}, {**PRESS, "opening_shots": "4000"}):
        shots, told, _ = _judged(_runs(np.cumsum(MADE)), told_by)
        assert shots == list(MADE[1:])
        assert [(finding.row, finding.severity) for finding in told] == [(None, "repaired"), (2, "set_aside")]
        assert f"{sum(MADE[1:]):,} in all" in told[0].problem and "left out" in told[0].problem


def test_a_row_of_parts_that_is_set_aside_shows_its_number():
    _, told, _ = _judged(_runs(2 * np.cumsum(MADE), "parts", scrap_parts="0"), {**PRESS, "commissioned_on": "2015-01-01"})
    assert [(finding.column, finding.value) for finding in told[1:]] == [("parts", f"{2 * MADE[0]}")]


def test_a_first_total_that_no_press_makes_in_its_days_is_set_aside():
    assert _judged(_runs(500_000 + np.cumsum(MADE)))[0] == list(MADE[1:])


def test_totals_of_parts_rise_by_parts():
    shots, told, _ = _judged(_runs(2 * np.cumsum(MADE), "parts", scrap_parts="0"))
    assert shots == list(MADE)
    assert [finding.column for finding in told] == ["parts"]


def test_without_a_cycle_time_the_fastest_press_tells():
    assert _judged(_runs(900_000 + np.cumsum(MADE)), tool())[0] == list(MADE[1:])


def test_numbers_that_a_press_can_make_are_set_aside_from_eight_runs_on():
    shots, told, _ = _judged(_runs(np.cumsum(MADE)), tool())
    assert shots == [] and [finding.row for finding in told] == list(range(2, 10))
    assert {finding.severity for finding in told} == {"set_aside"}
    shots, (note,), _ = _judged(_runs(np.cumsum(MADE)[:7]), tool())
    assert shots == np.cumsum(MADE)[:7].tolist() and (note.row, note.severity) == (None, "note")


def test_a_counter_beside_them_keeps_them_in_use():
    counter = [{"tool_id": "T1", "date": day, "counter_shots": shots} for day, shots in (("2020-01-05", "0"), ("2021-06-01", "330000"))]
    shots, (note,), _ = _judged(_runs(np.cumsum(MADE)), tool(), counter=counter)
    assert len(shots) == 8 and note.severity == "note"


@pytest.mark.parametrize(
    "numbers",
    [
        np.cumsum(MADE[:4]),  # too few
        [*np.cumsum(MADE[:7]), 900],  # falls at the end
        [*np.cumsum(MADE[:7]), sum(MADE[:7])],  # stands still
        [2_000, 2_900, 3_000, 3_900, 4_000, 4_050, 7_000, 7_100],  # grows, but not evenly
    ],
)
def test_other_numbers_stay(numbers: Sequence[float]):
    assert _judged(_runs(numbers))[1] == []


def test_longer_and_longer_runs_are_no_running_total():
    days = (3, 4, 5, 6, 7, 8, 9, 10)
    numbers = [1_700 * length for length in days]
    assert _judged(_runs(numbers, days=days))[0] == numbers


def test_parts_typed_as_shots_are_left_to_be_read_as_parts():
    days, cavities = (4, 6, 5, 7, 9, 8, 7), 4
    made = [8_300, 10_400, 10_900, 11_900, 14_600, 14_700, 15_100]
    shots, told, records = _judged(_runs([cavities * n for n in made], days=days), tool(cycle_time_s="30", cavities="4"))
    assert told == [] and shots == pytest.approx([n / 0.97 for n in made])
    assert any("look like parts" in finding.problem for finding in records.findings)


def test_honest_tools_are_hardly_ever_doubted():
    rng = np.random.default_rng(3)
    tools, runs = [], []
    for i in range(400):
        tools.append(tool(f"T{i}", cycle_time_s="30" if i % 3 else ""))
        days = rng.integers(2, 15, 5)
        made = days * 1_500 * np.exp(rng.normal(0, 0.25, 5))
        runs += _runs(made.tolist(), days=days.tolist(), tool_id=f"T{i}")
    findings = records_of(fleet(tools=tools, runs=runs)).findings
    told = [finding for finding in findings if "running total" in finding.problem]
    assert [finding for finding in told if finding.severity != "note"] == [] and len(told) <= 2
