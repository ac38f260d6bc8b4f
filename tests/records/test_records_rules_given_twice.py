"""One run given twice with its days corrected, and runs that only look like it."""

import pytest
from fleets import Cells, about, fleet, records_of, run, tool

from wearfit.records.findings import Finding


def _used(*runs: Cells) -> tuple[list[int], list[Finding]]:
    """File rows of the runs that are used, in order, and what is set aside."""
    records = records_of(fleet(runs=list(runs), tools=[tool(), tool("T2")]))
    aside = [finding for finding in about(records.findings, "runs", "started_on") if finding.severity == "set_aside"]
    return sorted(records.tables["runs"]["row"]), aside


WRONG, CORRECTED = run("2020-03-06", "2020-03-19", "21340"), run("2020-03-09", "2020-03-19", "21340")


def test_of_a_run_with_its_first_day_corrected_the_later_row_is_used():
    for rows, stays, goes in (((WRONG, CORRECTED), 3, 2), ((CORRECTED, WRONG), 3, 2)):
        used, (finding,) = _used(*rows)
        assert (used, finding.row) == ([stays], goes)
        assert f"row {stays}" in finding.problem and "21,340 shots" in finding.problem and "2020-03-19" in finding.problem


@pytest.mark.parametrize(
    "other",
    [
        run("2020-03-08", "2020-03-21", "21340"),  # both days moved
        run("2020-03-13", "2020-03-19", "21340"),
    ],
)
def test_both_days_may_have_been_corrected(other: Cells):
    used, aside = _used(WRONG, other)
    assert used == [3] and len(aside) == 1


def test_a_round_number_tells_only_with_one_and_the_same_end():
    assert _used(run("2020-03-06", "2020-03-19", "21000"), run("2020-03-09", "2020-03-19", "21000"))[0] == [3]
    assert _used(run("2020-03-06", "2020-03-19", "21000"), run("2020-03-09", "2020-03-21", "21000")) == ([2, 3], [])


def test_parts_are_compared_with_parts():
    parts = run("2020-03-06", "2020-03-19", "", parts="21340"), run("2020-03-09", "2020-03-19", "", parts="21340")
    used, (finding,) = _used(*parts)
    assert used == [3] and "21,340 parts" in finding.problem
    assert _used(WRONG, parts[1]) == ([2, 3], [])


@pytest.mark.parametrize(
    "other",
    [
        run("2020-03-09", "2020-03-19", "21341"),
        run("2020-03-14", "2020-03-19", "21340"),  # eight days later
        run("2020-03-19", "2020-03-25", "21340"),  # handed over on the day
        run("2020-03-20", "2020-03-25", "21340"),
        run("2020-03-09", "2020-03-19", "21340", plant_id="Salt Quay"),
        run("2020-03-09", "2020-03-19", "21340", resin_id="R2"),
        run("2020-03-09", "2020-03-19", "21340", tool_id="T2"),
        run("2020-03-06", "2020-03-18", "21340"),  # the same key, which the reading of the sheet tells of
    ],
)
def test_another_run_is_another_run(other: Cells):
    assert _used(WRONG, other) == ([2, 3], [])


def test_lots_of_one_size_are_not_one_run():
    assert _used(WRONG, CORRECTED, run("2020-07-01", "2020-07-12", "21340")) == ([2, 3, 4], [])


def test_a_night_shift_and_the_early_one_after_it_are_two():
    assert _used(run("2020-03-09", "2020-03-10", "960"), run("2020-03-10", "2020-03-10", "960")) == ([2, 3], [])
