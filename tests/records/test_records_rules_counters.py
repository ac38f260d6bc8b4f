"""Counters: followed from reading to reading, never across a fall; slips left out or read as they were meant."""

import numpy as np
import pytest
from fleets import Cells, about, checked, event, tool
from hypothesis import given
from hypothesis import strategies as st
from shot_counters import Simulated, judged, monthly, reading, simulate

from wearfit.records.findings import Finding
from wearfit.records.rules.counter.slips import find_slips

HOME: Cells = tool(plant_id="Heath")
seeds = st.integers(0, 2**32 - 1)


def _total(counter: list[Cells], home: Cells = HOME) -> float:
    return float(judged(tools=[home], counter=counter)[0]["runs"]["shots"].sum())


def _noticed(counter: list[Cells], home: Cells = HOME) -> list[Finding]:
    return [finding for finding in judged(tools=[home], counter=counter)[1] if finding.row is not None]


def test_a_counter_that_only_rises_gives_the_difference_and_nothing_is_noticed():
    counter = monthly(12_000, 15_000, 15_000, 19_500)
    assert _total(counter) == 7_500
    assert _noticed(counter) == []


def test_a_reset_is_told_with_both_readings_and_nothing_is_counted_across_it():
    counter = monthly(340_000, 345_000, 200, 6_000, 11_000)
    assert _total(counter) == 5_000 + 10_800
    (finding,) = _noticed(counter)
    assert (finding.row, finding.column, finding.severity) == (4, "counter_shots", "note")
    for said in ("345,000 on 2020-02-29", "200 on 2020-03-31", "not counted", "younger"):
        assert said in finding.problem


def test_a_counter_that_leaps_further_than_the_tool_can_run_came_from_elsewhere():
    counter = monthly(10_000, 14_000, 9_000_000, 9_004_000)
    assert _total(counter) == 8_000
    (finding,) = _noticed(counter)
    assert (finding.row, finding.severity) == (4, "note")
    assert "fastest cycle to be expected" in finding.problem and "14,000 on 2020-02-29" in finding.problem


def test_how_far_a_counter_may_rise_hangs_on_the_cycle_time():
    able = int(86_400 / 60 * 1.25 * 30)  # 2020-02-29 to 2020-03-31 touches 32 days
    counter = monthly(10_000, 10_100, 10_100 + able)
    assert _total(counter, tool(plant_id="Heath", cycle_time_s="60")) == 100 + able
    assert _total(counter, tool(plant_id="Heath", cycle_time_s="120")) == 100
    (finding,) = _noticed(counter, tool(plant_id="Heath", cycle_time_s="120"))
    assert "a cycle of 120 s" in finding.problem


@pytest.mark.parametrize(("top", "shown"), [(999_999, (980_000, 995_000, 4_000)), (9_999_999, (9_980_000, 9_995_000, 4_000))])
def test_a_counter_that_passes_its_top_goes_on(top: int, shown: tuple[int, ...]):
    counter = monthly(*shown, 12_000)
    assert _total(counter) == 15_000 + (top + 1 - 995_000 + 4_000 if top < 10**6 else 5_000 + 4_000) + 8_000
    (finding,) = _noticed(counter)
    assert finding.severity == "note" and "highest number" in finding.problem and "9,000 shots are counted" in finding.problem


@pytest.mark.parametrize(
    "shown",
    [
        (500_000, 515_000, 4_000, 12_000),  # far from any top
        (1_180_000, 1_195_000, 4_000, 12_000),  # more digits than six
        (980_000, 985_000, 90_000, 95_000),  # too fast for this tool
        (995_000, 4_000),  # no other step to bear it out
    ],
)
def test_a_fall_that_no_top_explains_is_not_counted(shown: tuple[int, ...]):
    steps = np.diff(shown)
    assert _total(monthly(*shown)) == steps[steps > 0].sum()
    (finding,) = (f for f in _noticed(monthly(*shown)) if f.column == "counter_shots")
    assert "falls from" in finding.problem


@pytest.mark.parametrize("typed", [3_450_000, 34_500, 543_000, 0, 5])
def test_a_reading_that_both_neighbours_contradict_is_set_aside(typed: int):
    counter = monthly(335_000, 340_000, typed, 350_000, 354_000)
    assert _total(counter) == 19_000
    (finding,) = _noticed(counter)
    assert (finding.row, finding.severity, finding.value) == (4, "set_aside", str(typed))
    assert "340,000 on 2020-02-29" in finding.problem and "350,000 on 2020-04-30" in finding.problem
    assert "one more reading" in finding.repair


@pytest.mark.parametrize("typed", [(35, 36), (34, 35, 36), (3_450_000, 3_470_000)])
def test_slips_in_a_row_are_set_aside_where_the_jump_back_is_out_of_line(typed: tuple[int, ...]):
    counter = monthly(330_000, 335_000, 340_000, *typed, 355_000, 359_000)
    used, findings = judged(tools=[HOME], counter=counter)
    assert used["runs"]["shots"].sum() == 29_000
    assert [f.row for f in findings if f.severity == "set_aside"] == list(range(5, 5 + len(typed)))


def test_a_counter_set_back_early_that_soon_passes_its_old_mark_is_a_reset():
    counter = monthly(0, 4_000, 8_000, 300, 8_500, 12_500, 16_500, 21_000)
    assert _total(counter) == 8_000 + 20_700
    (finding,) = _noticed(counter)
    assert "falls from 8,000" in finding.problem


def test_where_a_slip_and_a_reset_are_both_possible_the_lower_count_is_taken():
    # Two steps say too little of the tool's usual rate.
    counter = monthly(0, 5_000, 10, 6_000)
    assert _total(counter) == 6_000


@pytest.mark.parametrize("typed", [345, 344, 346])
def test_a_reading_in_thousands_is_read_a_thousandfold(typed: int):
    counter = monthly(335_000, 340_000, typed, 350_000, 354_000)
    used, findings = judged(tools=[HOME], counter=counter)
    assert used["runs"]["shots"].tolist() == [5_000, 1000 * typed - 340_000, 350_000 - 1000 * typed, 4_000]
    assert used["counter"]["counter_shots"].tolist()[2] == 1000 * typed
    finding = next(f for f in findings if f.row == 4)
    assert finding.severity == "repaired" and f"{typed},000" in finding.problem and "thousands" in finding.problem


def test_a_thousand_rounded_the_wrong_way_stays_between_its_neighbours():
    assert _total(monthly(344_600, 344_700, 344, 352_000)) == 7_400
    assert [s.read_as for s in find_slips([0, 30, 60, 90], [344_600, 344_700, 344, 352_000], 1e4)] == [344_700]


def test_thousands_at_either_end_are_read_where_the_rates_leave_no_doubt():
    assert _total(monthly(330, 335, 340_000, 345_000, 351_000)) == 21_000
    assert _total(monthly(330_000, 335_000, 340_000, 345, 350, 356)) == 26_000
    # One low reading at the end may as well be a counter set back.
    assert _total(monthly(330_000, 335_000, 340_000, 345)) == 10_000


def test_a_tool_that_first_idles_and_then_runs_was_not_read_in_thousands():
    for counter in (monthly(10, 20, 4_000, 9_000, 14_000), monthly(9, 9_000, 18_000, 27_000, 36_000)):
        used, findings = judged(tools=[HOME], counter=counter)
        assert used["counter"]["counter_shots"].tolist() == [float(cells["counter_shots"]) for cells in counter]
        assert [f for f in findings if f.row is not None] == []


def test_a_counter_set_back_near_zero_is_no_counter_in_thousands():
    counter = monthly(4_000, 9_000, 16_000, 20_000, 27_000, 5, 4_000, 4_400)
    assert _total(counter) == 23_000 + 4_395
    assert [f.severity for f in _noticed(counter)] == ["note"]


def test_a_step_far_faster_than_all_others_is_doubted_but_counted():
    counter = monthly(0, 1_000, 2_000, 3_000, 4_000, 34_000)
    assert _total(counter) == 34_000
    (finding,) = _noticed(counter)
    assert (finding.row, finding.severity) == (7, "note") and "30,000 shots are counted" in finding.problem


def test_readings_before_commissioning_and_after_retirement():
    counter = [
        reading("2019-12-31", 5), reading("2020-01-31", 1_000), reading("2020-05-31", 9_000), reading("2020-06-20", 9_500),
        reading("2020-08-01", 30_000),
    ]  # fmt: skip
    used, findings = judged(tools=[HOME], counter=counter, events=[event("2020-06-10", "retire", cause="wear")])
    assert used["runs"][["shots"]].sum().item() == 8_500
    assert used["runs"]["ended_on"].max().isoformat()[:10] == "2020-06-10"
    early, closing, late = about(findings, "counter", "date")[:3]
    assert (early.row, early.severity) == (2, "set_aside") and "commissioned on 2020-01-01" in early.problem
    assert (closing.row, closing.severity) == (5, "repaired") and "2020-06-10" in closing.problem
    assert (late.row, late.severity) == (6, "set_aside") and "retired on 2020-06-10" in late.problem


def test_a_reading_on_the_day_of_retirement_closes_the_counter():
    counter = [reading("2020-01-31", 1_000), reading("2020-06-10", 9_000), reading("2020-06-20", 9_500)]
    used, findings = judged(tools=[HOME], counter=counter, events=[event("2020-06-10", "retire")])
    assert used["runs"]["shots"].sum() == 8_000
    assert about(findings, "counter", "date")[0].severity == "set_aside"


def test_each_tool_is_followed_by_itself():
    counter = [*monthly(100_000, 104_000), *monthly(3_000, 5_000, tool_id="T2"), *monthly(90_000, 10, 3_010, tool_id="T3")]
    used, _ = judged(tools=[HOME, tool("T2", plant_id="Heath"), tool("T3", plant_id="Heath")], counter=counter)
    assert used["runs"].groupby("tool_id")["shots"].sum().to_dict() == {"T1": 4_000, "T2": 2_000, "T3": 3_000}


@checked
@given(seeds)
def test_a_sound_counter_gives_the_true_total(seed: int):
    truth = simulate(np.random.default_rng(seed))
    assert _total(truth.cells()) == truth.made.sum()


@checked
@given(seeds, st.integers(1, 3))
def test_across_resets_the_steps_that_can_be_known_are_counted_and_no_other(seed: int, resets: int):
    rng = np.random.default_rng(seed)
    truth = simulate(rng, start=400_000)
    shown, known = truth.shown.copy(), np.ones(len(truth.day), dtype=bool)
    for at in rng.choice(np.arange(3, len(truth.day) - 3), size=resets, replace=False):
        # Set back at some time since the reading before.
        since = np.round(truth.made[at] * rng.random())
        shown[at:] = since + np.cumsum(truth.made[at:]) - truth.made[at]
        known[at] = False
    counter = Simulated(truth.day, shown, truth.made).cells()
    total = _total(counter)
    assert total <= truth.made.sum()
    if resets == 1:
        assert total == truth.made[known].sum()


@checked
@given(seeds)
def test_swaps_are_never_differenced_across(seed: int):
    rng = np.random.default_rng(seed)
    truth = simulate(rng, start=500_000)
    at = int(rng.integers(3, len(truth.day) - 3))
    other = rng.integers(0, 300_000) if rng.random() < 0.5 else rng.integers(5_000_000, 8_000_000)
    shown = np.where(np.arange(len(truth.day)) < at, truth.shown, other + np.cumsum(truth.made) - truth.made[:at].sum())
    assert _total(Simulated(truth.day, shown, truth.made).cells()) == truth.made.sum() - truth.made[at]


@checked
@given(seeds)
def test_roll_overs_lose_nothing(seed: int):
    truth = simulate(np.random.default_rng(seed), start=900_000, digits=6)
    assert _total(truth.cells()) == truth.made.sum()


@checked
@given(seeds, st.sampled_from(["digit more", "digit less", "swapped", "thousands", "zero"]), st.integers(1, 3))
def test_slips_never_invent_shots(seed: int, fault: str, count: int):
    rng = np.random.default_rng(seed)
    truth = simulate(rng, start=400_000)
    shown = truth.shown.copy()
    for at in rng.choice(np.arange(2, len(shown) - 2, 3), size=count, replace=False):
        text = f"{shown[at]:.0f}"
        place = int(rng.integers(1, len(text) - 1))
        typed = {
            "digit more": text[:place] + str(rng.integers(0, 10)) + text[place:],
            "digit less": text[:place] + text[place + 1 :],
            "swapped": text[:place] + text[place + 1] + text[place] + text[place + 2 :],
            "thousands": f"{round(shown[at] / 1000)}",
            "zero": "0",
        }  # fmt: skip
        shown[at] = float(typed[fault])
    # A slip leaves the readings around it, and with them the total.
    assert _total(Simulated(truth.day, shown, truth.made).cells()) <= truth.made.sum() + 1e-6


@checked
@given(seeds)
def test_the_order_of_readings_does_not_matter(seed: int):
    rng = np.random.default_rng(seed)
    cells = [*simulate(rng).cells("T1"), *simulate(rng, start=999_000, digits=6).cells("T2")]
    tools = [HOME, tool("T2", plant_id="Heath")]
    one = judged(tools=tools, counter=cells)[0]["runs"].drop(columns="row")
    other = judged(tools=tools, counter=[cells[i] for i in rng.permutation(len(cells))])[0]["runs"].drop(columns="row")
    assert one.equals(other)
