"""Counter beside runs: the counter gives the total where the two agree within 15 %, else the runs stand and the finding says where."""

import numpy as np
import pytest
from fleets import Cells, about, checked, run, tool
from hypothesis import given
from hypothesis import strategies as st
from shot_counters import Frames, frames_of, monthly, reading

from wearfit.records.findings import Finding
from wearfit.records.records import Records
from wearfit.records.rules.counter.judge import judge_counters
from wearfit.records.rules.counter.made import MadeBy
from wearfit.records.rules.counter.reconcile import reconcile_counters
from wearfit.records.rules.runs import judge_runs

HOME: Cells = tool(plant_id="Heath")
MONTHS = ("2020-02-01", "2020-03-01", "2020-04-01", "2020-05-01", "2020-06-01")
ENDS = ("2020-02-29", "2020-03-31", "2020-04-30", "2020-05-31", "2020-06-30")


def _reconciled(**tables: list[Cells]) -> tuple[Frames, list[Finding]]:
    frames, _ = judge_counters(frames_of(**{"tools": [HOME], **tables}))
    frames, _ = judge_runs(frames)
    return reconcile_counters(frames)


def _each_month(*shots: float) -> list[Cells]:
    return [run(start, end, f"{made:.0f}") for start, end, made in zip(MONTHS, ENDS, shots, strict=False)]


def test_dry_shots_are_added_in_proportion():
    used, findings = _reconciled(runs=_each_month(1_000, 3_000), counter=monthly(500, 1_600, 500 + 4_200))
    assert used["runs"]["shots"].tolist() == pytest.approx([1_050, 3_150])
    (finding,) = about(findings, "counter", "counter_shots")
    assert (finding.row, finding.severity) == (None, "note")
    assert "one tool" in finding.problem and "1.05 times" in finding.problem and "dry shots" in finding.problem


def test_runs_and_counter_are_never_summed():
    used, _ = _reconciled(runs=_each_month(1_000, 3_000), counter=monthly(0, 1_000, 4_000))
    assert used["runs"]["shots"].tolist() == [1_000, 3_000]


@pytest.mark.parametrize(("counted", "total"), [(4_600, 4_600), (4_601, 4_000), (3_479, 3_479), (3_478, 4_000)])
def test_agreement_ends_at_fifteen_per_cent_either_way(counted: int, total: int):
    used, findings = _reconciled(runs=_each_month(1_000, 3_000), counter=monthly(0, 900, counted))
    assert used["runs"]["shots"].sum() == pytest.approx(total)
    assert [f.row is None for f in about(findings, "counter", "counter_shots")] == [total == counted]


def test_where_they_differ_the_runs_stand_and_the_finding_says_where():
    runs = _each_month(1_000, 1_000, 0, 1_000)
    used, findings = _reconciled(runs=[r for r in runs if r["shots"] != "0"], counter=monthly(0, 1_020, 2_050, 7_000, 8_030))
    assert used["runs"]["shots"].tolist() == [1_000] * 3
    (finding,) = about(findings, "counter", "counter_shots")
    assert (finding.row, finding.severity) == (5, "note")
    for said in ("Between 2020-01-31 and 2020-05-31", "8,030 shots (2.68 times as many)", "its runs 3,000"):
        assert said in finding.problem
    assert "between 2020-03-31 and 2020-04-30 (4,950 by the counter, 0 by the runs)." in finding.problem


def test_a_counter_that_stood_still_while_runs_were_made_differs():
    used, findings = _reconciled(runs=_each_month(1_000), counter=monthly(7_000, 7_000))
    assert used["runs"]["shots"].tolist() == [1_000]
    assert "shows 0 shots" in about(findings, "counter", "counter_shots")[0].problem


def test_each_stretch_of_one_counter_is_judged_by_itself():
    counter = monthly(90_000, 91_050, 10, 3_070, 9_000)
    used, findings = _reconciled(runs=_each_month(1_000, 2_000, 3_000, 4_000), counter=counter)
    # February agrees; March was lost in the exchange; April and May are 8,990 by the new counter and 7,000 by the runs.
    assert used["runs"]["shots"].tolist() == pytest.approx([1_050, 2_000, 3_000, 4_000])
    assert [f.row for f in about(findings, "counter", "counter_shots")] == [None, 6]


def test_a_run_beyond_the_readings_is_scaled_by_the_days_inside():
    counter = [reading("2020-02-10", 0), reading("2020-02-20", 1_100)]
    used, _ = _reconciled(runs=[run("2020-02-01", "2020-02-29", "2900")], counter=counter)
    assert used["runs"]["shots"].tolist() == pytest.approx([2_900 + 100])


def test_shots_of_parts_are_reckoned_before_they_are_scaled():
    runs = [run("2020-02-01", "2020-02-29", "", parts="3800", scrap_parts="200")]
    used, _ = _reconciled(tools=[tool(plant_id="Heath", cavities="4")], runs=runs, counter=monthly(0, 1_080))
    assert used["runs"]["shots"].tolist() == pytest.approx([1_080])
    assert used["runs"]["parts"].tolist() == [3_800]


def test_a_counter_kept_in_thousands_is_known_by_its_runs():
    used, findings = _reconciled(runs=_each_month(20_000, 30_000, 25_000), counter=monthly(338, 359, 390, 416))
    assert used["runs"]["shots"].sum() == pytest.approx(78_000)
    assert used["counter"]["counter_shots"].tolist() == [338_000, 359_000, 390_000, 416_000]
    (finding,) = (f for f in findings if f.severity == "repaired")
    assert finding.row == 2 and "as thousands" in finding.problem
    few, findings = _reconciled(runs=_each_month(3_000), counter=monthly(338, 341))
    assert few["counter"]["counter_shots"].tolist() == [338, 341]
    assert [f.severity for f in findings] == ["note"]


def test_reckoned_runs_stay_as_the_counter_says():
    frames, _ = judge_runs(judge_counters(frames_of(tools=[HOME], counter=monthly(0, 3_000, 10, 4_000)))[0])
    used, findings = reconcile_counters(frames)
    assert used["runs"].equals(frames["runs"]) and findings == []


def test_the_note_counts_the_tools_and_spans_their_ratios():
    runs = [*_each_month(1_000), run("2020-02-01", "2020-02-29", "1000", tool_id="T2")]
    counter = [*monthly(0, 1_020), *monthly(0, 1_080, tool_id="T2")]
    _, findings = _reconciled(tools=[HOME, tool("T2")], runs=runs, counter=counter)
    (finding,) = findings
    assert "2 tools" in finding.problem and "1.02 to 1.08 times" in finding.problem


def test_the_fingerprint_follows_the_scaling():
    def fingerprint(counted: int) -> str:
        return Records(_reconciled(runs=_each_month(1_000), counter=monthly(0, counted))[0], ()).fingerprint

    assert fingerprint(1_050) == fingerprint(1_050)
    assert fingerprint(1_050) != fingerprint(1_051)


@checked
@given(st.integers(0, 2**32 - 1), st.floats(1.0, 1.1))
def test_scaled_runs_inside_the_readings_sum_to_the_counter(seed: int, dry: float):
    rng = np.random.default_rng(seed)
    made = rng.integers(200, 5_000, size=5)
    counter = monthly(*(700 + np.round(np.concatenate([[0], np.cumsum(made)]) * dry)))
    used, _ = _reconciled(runs=_each_month(*made), counter=counter)
    counted = float(counter[-1]["counter_shots"]) - 700
    assert used["runs"]["shots"].sum() == pytest.approx(counted)
    # The runs say when: their shares stay as they were.
    assert used["runs"]["shots"].to_numpy() / counted == pytest.approx(made / made.sum())


@checked
@given(st.integers(0, 2**32 - 1))
def test_amounts_by_day_are_those_of_a_sum_over_days(seed: int):
    rng = np.random.default_rng(seed)
    tool_of, start, length = rng.integers(0, 3, 20), rng.integers(0, 60, 20), rng.integers(1, 15, 20)
    amount = rng.uniform(1, 1e5, 20)
    made = MadeBy(tool_of, start, start + length - 1, amount)
    by_day = np.zeros((4, 100))
    for t, first, days, shots in zip(tool_of, start, length, amount, strict=True):
        by_day[t, first : first + days] += shots / days
    asked_tool, first = rng.integers(0, 4, 50), rng.integers(0, 80, 50)
    last = first + rng.integers(0, 19, 50)
    expected = [by_day[t, a : b + 1].sum() for t, a, b in zip(asked_tool, first, last, strict=True)]
    assert made.between(asked_tool, first, last) == pytest.approx(expected, abs=1e-6)


def test_nothing_made_is_nothing_by_any_day():
    none = np.zeros(0, dtype=np.int64)
    assert MadeBy(none, none, none, none.astype(float))(np.array([0, 1]), np.array([5, 6])).tolist() == [0, 0]
