"""Totals among the runs that they sum, and long rows that sum nothing."""

from itertools import permutations

import pytest
from fleets import Cells, about, fleet, records_of, run, tool

from wearfit.records.findings import Finding


def _judged(*runs: Cells) -> tuple[float, list[Finding]]:
    """Shots in use, and the totals set aside."""
    records = records_of(fleet(runs=list(runs), tools=[tool(), tool("T2")]))
    aside = [finding for finding in about(records.findings, "runs", "started_on") if "total" in finding.problem]
    assert all(finding.severity == "set_aside" for finding in aside)
    return records.tables["runs"]["shots"].sum(), aside


MARCH = (run("2020-03-02", "2020-03-06", "4210"), run("2020-03-16", "2020-03-31", "9130"))
MAY = (run("2020-05-04", "2020-05-08", "3170"), run("2020-05-11", "2020-05-11", "640"))


def test_a_months_total_is_set_aside_with_the_runs_it_sums():
    shots, (finding,) = _judged(*MARCH, run("2020-03-01", "2020-03-31", "13340"))
    assert (shots, finding.row) == (13_340, 4)
    assert "13,340 shots" in finding.problem and "the 2 runs" in finding.problem and "row 2" in finding.problem


def test_totals_of_months_quarters_and_a_year_are_each_set_aside():
    rows = (
        *MARCH, *MAY, run("2020-03-01", "2020-03-31", "13340"), run("2020-05-01", "2020-05-31", "3810"),
        run("2020-01-01", "2020-03-31", "13340"), run("2020-01-01", "2020-12-31", "17150"),
    )  # fmt: skip
    shots, aside = _judged(*rows)
    assert (shots, [finding.row for finding in aside]) == (17_150, [6, 7, 8, 9])


def test_the_order_of_rows_plays_no_part():
    rows = (*MARCH, run("2020-03-01", "2020-03-31", "13340"), run("2020-01-01", "2020-06-30", "13340"))
    assert {_judged(*some)[0] for some in permutations(rows)} == {13_340}


def test_a_total_of_whole_months_may_sum_plants_and_resins():
    elsewhere = run("2020-05-04", "2020-05-08", "3170", plant_id="Salt Quay", resin_id="R2")
    assert _judged(MARCH[0], elsewhere, run("2020-01-01", "2020-12-31", "7380"))[0] == 7_380
    assert _judged(MARCH[0], elsewhere, run("2020-01-02", "2020-12-31", "7380")) == (14_760, [])


def test_parts_are_summed_with_parts():
    rows = [run(row["started_on"], row["ended_on"], "", parts=row["shots"], scrap_parts="0") for row in MARCH]
    total = run("2020-03-01", "2020-03-31", "", parts="13340", scrap_parts="0")
    assert _judged(*rows, total)[0] == 13_340
    assert _judged(*MARCH, total) == (26_680, [])


@pytest.mark.parametrize("number", ["6000", "6120"])
def test_a_total_of_one_run(number: str):
    once = run("2020-03-02", "2020-03-06", number)
    assert _judged(once, run("2020-01-01", "2020-12-31", number))[0] == float(number)
    assert _judged(once, run("2020-02-10", "2020-03-25", number))[1] == []


@pytest.mark.parametrize(
    "long",
    [
        run("2020-03-01", "2020-03-31", "13341"),
        run("2020-03-01", "2020-03-30", "13340"),  # ends before a run that it would sum
        run("2020-03-01", "2020-03-31", "13340", tool_id="T2"),
        run("2020-04-01", "2020-04-30", "13340"),
    ],
)
def test_a_long_run_that_sums_nothing_is_used(long: Cells):
    assert _judged(*MARCH, long)[1] == []


def test_round_lots_and_shifts_that_happen_to_add_up_are_used():
    lots = run("2020-06-01", "2020-06-19", "16000"), run("2020-06-03", "2020-06-05", "8000"), run("2020-06-08", "2020-06-10", "8000")
    assert _judged(*lots) == (32_000, [])
    night = run("2020-06-01", "2020-06-02", "1810"), run("2020-06-01", "2020-06-01", "905"), run("2020-06-02", "2020-06-02", "905")
    assert _judged(*night) == (3_620, [])
    assert _judged(*lots, run("2020-06-11", "2020-06-11", "700"), run("2020-06-01", "2020-06-30", "32700"))[0] == 32_700
