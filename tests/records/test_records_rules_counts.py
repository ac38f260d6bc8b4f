"""Parts or shots: what is changed, what is kept, what is said of it, and how often it is wrong on simulated fleets."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from fleets import Cells, event, fleet, records_of, rows_of, run, tool

from wearfit.records.assemble import assemble
from wearfit.records.choices import Choices, CountChoice
from wearfit.records.findings import Finding
from wearfit.records.readers.read import read
from wearfit.records.records import Records
from wearfit.records.rules.counts.judge import CHANGED_FROM, OTHER_RUNS
from wearfit.records.rules.counts.odds import Counts, odds_of_the_other

SLIPS, HABIT_PLANT = 0.07, 0


def _records(runs: Sequence[Cells], tools: Sequence[Cells], choices: Choices = Choices()) -> Records:  # noqa: B008
    return assemble(rows_of(fleet(runs=list(runs), tools=list(tools), events=[event("2020-01-02", "service")])), (), choices)


def _said(records: Records) -> list[Finding]:
    return [f for f in records.findings if f.table == "runs" and ("look like" in f.problem or "may be" in f.problem)]


def _runs(shots: Sequence[float], tool_id: str = "T1", plant: str = "Heath", **cells: str) -> list[Cells]:
    """Runs of ten days each, one a month."""
    return [
        run(f"{2020 + i // 12}-{i % 12 + 1:02}-10", f"{2020 + i // 12}-{i % 12 + 1:02}-19", f"{n:g}", tool_id, plant_id=plant, **cells)
        for i, n in enumerate(shots)
    ]


STEADY = (15_100, 16_000, 15_500, 14_800, 15_900, 16_300, 15_200)  # of 28,800 that a cycle of 30 s allows in ten days
IN_PARTS = 61_000  # 4 cavities: 15,722 shots


def _shots(records: Records) -> dict[int, float]:
    return dict(zip(records.tables["runs"]["row"], records.tables["runs"]["shots"], strict=True))


@pytest.mark.parametrize("cycle", ["30", ""])
def test_parts_under_shots_are_found_by_cycle_time_or_by_the_other_runs(cycle: str):
    records = _records(_runs((*STEADY, IN_PARTS)), [tool(cavities="4", cycle_time_s=cycle)])
    (finding,) = _said(records)
    assert (finding.row, finding.column, finding.value, finding.severity) == (9, "shots", "61000", "repaired")
    assert "61,000" in finding.problem and "15,722 are used" in finding.problem
    assert "[[counts]] tool_id = 'T1', plant_id = 'Heath', counted_in = 'shots'" in finding.repair
    assert _shots(records) == pytest.approx({**{i + 2: n for i, n in enumerate(STEADY)}, 9: 61_000 / 0.97 / 4})


def test_a_single_run_that_its_cycle_time_forbids_is_read_as_parts():
    records = _records(_runs((IN_PARTS,)), [tool(cavities="4", cycle_time_s="30")])
    assert [f.severity for f in _said(records)] == ["repaired"]


def test_without_a_cycle_time_and_with_too_few_runs_nothing_is_changed():
    few = STEADY[: OTHER_RUNS - 1]
    records = _records(_runs((*few, IN_PARTS)), [tool(cavities="4")])
    assert _said(records) == [] and _shots(records)[len(few) + 2] == IN_PARTS


def test_shots_under_parts_are_found_by_the_other_runs():
    in_parts = [{**cells, "shots": "", "parts": cells["shots"]} for cells in _runs([n * 3.9 for n in STEADY] + [15_300], scrap_parts="50")]
    records = _records(in_parts, [tool(cavities="4", cycle_time_s="30")])
    (finding,) = _said(records)
    assert (finding.row, finding.column, finding.severity) == (9, "parts", "repaired")
    assert _shots(records)[9] == 15_300


def test_the_demo_has_nothing_to_change():
    records = assemble(read(Path(__file__).resolve().parents[2] / "data" / "demo").rows)
    assert _said(records) == [] and len(records.tables["runs"]) > 2_000


def test_one_cavity_or_an_unknown_number_leaves_nothing_to_tell():
    for tools in ([tool(cavities="1", cycle_time_s="30")], [tool(cycle_time_s="30")]):
        records = _records(_runs((*STEADY, IN_PARTS)), tools)
        assert _said(records) == [] and _shots(records)[9] == IN_PARTS


def test_the_cavities_open_in_the_run_count():
    records = _records(_runs((*STEADY, IN_PARTS), active_cavities="3"), [tool(cavities="4", cycle_time_s="30")])
    assert _shots(records)[9] == pytest.approx(61_000 / 0.97 / 3)


def test_one_number_under_shots_and_parts_is_parts():
    runs = _runs((*STEADY, IN_PARTS))
    records = _records([*runs[:-1], {**runs[-1], "parts": "60000", "scrap_parts": "1000"}], [tool(cavities="4", cycle_time_s="30")])
    assert _shots(records)[9] == 61_000 / 4
    assert [f.severity for f in _said(records)] == ["repaired"]
    apart = _records([*runs[:-1], {**runs[-1], "shots": "28000", "parts": "108000"}], [tool(cavities="4", cycle_time_s="30")])
    assert _said(apart) == [] and _shots(apart)[9] == 28_000


def test_a_plant_that_counts_parts_is_told_once():
    tools = [tool(name, cavities="4", cycle_time_s="30") for name in ("A", "B", "C")]
    right = [cells for name in "ABC" for cells in _runs(STEADY[:4], name)]
    wrong = [cells for name in "ABC" for cells in _runs([n * 3.88 for n in STEADY[4:]], name, "Salt Quay")]
    records = _records([*right, *wrong], tools)
    (finding,) = _said(records)
    assert (finding.row, finding.value, finding.severity) == (None, "Salt Quay", "repaired")
    assert "All 9 runs of 3 tools at Salt Quay" in finding.problem and "The same for each tool." in finding.repair
    assert records.tables["runs"]["shots"].max() < 17_000


def test_a_tool_that_counts_parts_is_told_once():
    tools = [tool(cavities="8", cycle_time_s="30"), tool("T2", cavities="8", cycle_time_s="30")]
    records = _records([*_runs([n * 7.8 for n in STEADY]), *_runs(STEADY, "T2")], tools)
    (finding,) = _said(records)
    assert (finding.row, finding.value) == (None, "T1") and "All 7 runs of tool T1" in finding.problem


def test_runs_of_one_pace_and_runs_without_a_part_are_weighed_too():
    tools = [tool(name, cavities="4", cycle_time_s="30") for name in "AB"]
    even = [cells for name in "AB" for cells in _runs((15_000,) * 6, name)]
    scrap = {**run("2023-01-10", "2023-01-19", "", "A"), "parts": "0", "scrap_parts": "400"}
    records = _records([*even, *_runs((60_000,), "A", "Salt Quay"), scrap], tools)
    (finding,) = _said(records)
    assert (finding.row, finding.severity) == (14, "repaired")
    assert _shots(records)[15] == 100


def test_the_users_choice_holds_and_silences():
    runs, tools = _runs((*STEADY, IN_PARTS)), [tool(cavities="4", cycle_time_s="30")]
    kept = _records(runs, tools, Choices(counts=(CountChoice("T1", "shots"),)))
    assert _said(kept) == [] and _shots(kept)[9] == IN_PARTS
    (note,) = [f for f in kept.findings if "By your choice" in f.problem]
    assert (note.row, note.value, note.severity) == (None, "T1", "note")
    read = _records(runs, tools, Choices(counts=(CountChoice("T1", "parts", "Heath"),)))
    assert _shots(read)[2] == pytest.approx(STEADY[0] / 0.97 / 4)
    assert any("8 runs given under shots changed" in f.problem for f in read.findings)
    elsewhere = _records(runs, tools, Choices(counts=(CountChoice("T1", "shots", "Salt Quay"),)))
    assert len(_said(elsewhere)) == 1 and any("no run fits" in f.problem for f in elsewhere.findings)


def test_a_choice_of_shots_reads_parts_as_shots():
    runs = [{**cells, "shots": "", "parts": cells["shots"]} for cells in _runs(STEADY)]
    records = _records(runs, [tool(cavities="4")], Choices(counts=(CountChoice("T1", "shots"),)))
    assert list(_shots(records).values()) == list(STEADY)


def _simulated(
    seed: int, slips: float, scatter: float = 0.15, slow: float = 0.15, habit: bool = False
) -> tuple[Counts, "np.ndarray", "np.ndarray"]:
    """120 tools of about 16 runs at 8 plants, which counts are wrong, and the cavities."""
    rng = np.random.default_rng(seed)
    cavities = rng.choice([1, 2, 3, 4, 8, 16], 120, p=[0.2, 0.2, 0.1, 0.25, 0.2, 0.05])
    runs = rng.poisson(16, 120) + 1
    of = np.repeat(np.arange(120), runs)
    plant = rng.integers(0, 8, (120, 2))[of, (rng.random(len(of)) < 0.35).astype(int)]
    true = rng.normal(np.log(0.55), 0.25, 120)[of] + rng.normal(0, scatter, len(of))
    true = np.minimum(true - np.where(rng.random(len(of)) < slow, rng.exponential(0.7, len(of)), 0), np.log(0.95))
    timed = (rng.random(120) < 0.7)[of]
    true = true + np.where(timed, rng.normal(0, 0.05, 120)[of], np.log(86_400 / rng.choice([15.0, 20, 30, 40, 60], 120))[of])
    in_parts = rng.random(len(of)) < 0.3
    wrong = rng.random(len(of)) < slips
    if habit:
        in_parts &= plant != HABIT_PLANT
        wrong |= plant == HABIT_PLANT
    wrong &= cavities[of] > 1
    step = np.log(cavities[of]) * np.where(in_parts, 1, -1)
    return Counts(true - np.where(wrong, step, 0), step, timed, of, plant), wrong, cavities[of]


def _changed(counts: Counts) -> "np.ndarray":
    enough = counts.timed | (np.bincount(counts.tool)[counts.tool] > OTHER_RUNS)
    return enough & (odds_of_the_other(counts) > CHANGED_FROM)


SEEDS = range(10)


@pytest.mark.parametrize(("scatter", "slow"), [(0.15, 0.15), (0.3, 0.25), (0.6, 0.3)])
def test_honest_counts_are_left_alone(scatter: float, slow: float):
    changed = [_changed(_simulated(seed, 0.0, scatter, slow)[0]) for seed in SEEDS]
    assert np.concatenate(changed).mean() < 0.002


def test_wrong_counts_are_found_and_right_ones_beside_them_left_alone():
    fleets = [_simulated(seed, SLIPS) for seed in SEEDS]
    changed = np.concatenate([_changed(counts) for counts, _, _ in fleets])
    wrong, cavities = (np.concatenate([f[i] for f in fleets]) for i in (1, 2))
    down = np.concatenate([counts.other > 0 for counts, _, _ in fleets])
    assert changed[~wrong].mean() < 0.005
    assert changed[wrong & (cavities >= 4)].mean() > 0.9
    least = {2: (0.5, 0.05), 3: (0.8, 0.4), 4: (0.9, 0.65), 8: (0.9, 0.85), 16: (0.95, 0.9)}
    for number, (up, under_parts) in least.items():
        of = wrong & (cavities == number)
        assert changed[of & ~down].mean() > up, number
        assert changed[of & down].mean() > under_parts, number


def test_a_plants_habit_is_found_with_two_cavities_too():
    fleets = [_simulated(seed, 0.02, habit=True) for seed in SEEDS]
    for number, least in ((2, 0.8), (4, 0.9), (8, 0.9)):
        found = [_changed(c)[wrong & (cavities == number) & (c.plant == HABIT_PLANT)] for c, wrong, cavities in fleets]
        assert np.concatenate(found).mean() > least, number


@pytest.mark.parametrize("timed", [True, False])
def test_counts_that_follow_no_pace_are_not_read_into(timed: bool):
    """Shots that have nothing to do with the days: no reading is better than the other, whatever the cavities."""
    rng = np.random.default_rng(5)
    of = np.repeat(np.arange(300), 20)
    pace = np.log(rng.uniform(1_000, 12_000, len(of)) / rng.integers(2, 11, len(of)))
    pace -= np.log(86_400 / 8.0) * timed
    cavities = rng.choice([2, 4, 8, 16, 32], 300)[of]
    changed = _changed(Counts(pace, -np.log(cavities), np.full(len(of), timed), of, of % 12))
    assert changed.sum() == 0


def test_cycle_times_that_right_runs_pass_are_not_held_against_others():
    """Where many runs of one cavity are faster than their cycle time allows, the cycle times say nothing."""
    tools = [tool(cavities="2", cycle_time_s="30"), *(tool(f"X{i}", cavities="1", cycle_time_s="30") for i in range(20))]
    fast = [n * 2.6 for n in STEADY]
    others = [cells for i in range(20) for cells in _runs(fast, f"X{i}")]
    believed = _records([*_runs(fast), *others], tools)
    assert _said(believed) == []
    doubted = _records(_runs(fast), tools[:1])
    assert {f.severity for f in _said(doubted)} == {"repaired"}


def test_a_run_of_next_to_no_shot_is_not_weighed():
    """Met in fuzzing: 1e-308 shots, whose ratio to any other count has no end."""
    counts = ("1e-308", "20000", "21000", "20500")
    runs = [run(f"2020-0{month}-10", f"2020-0{month}-19", shots) for month, shots in enumerate(counts, start=1)]
    records = records_of(fleet(tools=[tool(cavities="4", cycle_time_s="28")], runs=runs))
    assert np.isfinite(records.tables["runs"]["shots"]).all()
