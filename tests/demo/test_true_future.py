"""The oracle of the benchmarks: true probabilities against what the simulated tools then do."""

import dataclasses
import math
from datetime import date

import numpy as np
import pytest

from wearfit.demo.future import (
    NextRun,
    any_stop_probability,
    ask_next_runs,
    machine_shots_left,
    spent_after,
    wear_out_probability,
    wears_out,
)
from wearfit.demo.scenario import SCENARIO
from wearfit.demo.simulate import SimulatedFleet, simulate_fleet


@pytest.fixture(scope="module")
def fleet() -> SimulatedFleet:
    return simulate_fleet(SCENARIO)


@pytest.mark.parametrize("law", ["weibull", "lognormal", "loglogistic"])
def test_true_probabilities_are_calibrated(law):
    """Over fleets, as many tools wear out in their next run as the true probabilities say, below and above a fifth."""
    p, worn = [], []
    for seed in range(20):
        fleet = simulate_fleet(dataclasses.replace(SCENARIO, seed=seed, law=law, unseen_sites=1))
        for run in ask_next_runs(fleet, seed):
            p.append(wear_out_probability(fleet, run))
            worn.append(wears_out(fleet, run))
    p, worn = np.array(p), np.array(worn)
    for part in (p < 0.2, p >= 0.2):
        spread = math.sqrt((p[part] * (1.0 - p[part])).sum())
        assert part.sum() > 40
        assert abs(worn[part].sum() - p[part].sum()) < 3.0 * spread


def test_probability_rises_with_shots_from_almost_nothing_to_one(fleet):
    run = ask_next_runs(fleet, 4)[0]
    p = [wear_out_probability(fleet, dataclasses.replace(run, shots=shots)) for shots in (1, 10_000, 100_000, 10_000_000, 10**9)]
    assert p == sorted(p)
    assert p[0] < 0.05 and p[-1] == pytest.approx(1.0)


def test_a_sudden_stop_can_only_add_to_the_risk(fleet):
    for run in ask_next_runs(fleet, 4):
        assert wear_out_probability(fleet, run) <= any_stop_probability(fleet, run) <= 1.0


def test_a_damp_month_on_the_salt_coast_costs_more_than_a_dry_one_inland(fleet):
    run = next(r for r in ask_next_runs(fleet, 4) if not fleet.live[r.tool_id].stored)
    summer = date(2026, 8, 1)
    inland = spent_after(fleet, dataclasses.replace(run, plant_id="steppe", month=summer))
    coast = spent_after(fleet, dataclasses.replace(run, plant_id="salt-quay", month=summer))
    spent = fleet.live[run.tool_id].spent
    sweating = {p: fleet.world.weather[p].season[7] for p in ("steppe", "salt-quay")}
    truth, effect = fleet.settings.truth, fleet.world.plant
    log_ratio = (
        effect["salt-quay"]
        - effect["steppe"]
        + truth.sweating * (sweating["salt-quay"] - sweating["steppe"])
        + truth.log_corrosivity * (fleet.world.weather["salt-quay"].log_corrosivity - fleet.world.weather["steppe"].log_corrosivity)
    )
    assert (coast - spent) / (inland - spent) == pytest.approx(math.exp(log_ratio))


def test_shots_left_end_where_the_capacity_ends(plain):
    """Where a machine shot is a reference shot, what is left is capacity less wear, and a run of so many shots just ends it."""
    fleet = simulate_fleet(dataclasses.replace(plain, n_tools=40))
    for tool_id, career in fleet.live.items():
        if career.worn:
            continue
        left = machine_shots_left(fleet, tool_id)
        assert left == pytest.approx(career.capacity - career.spent)
        run = NextRun(tool_id, "hall", "plain", date(2026, 7, 1), math.ceil(left))
        assert wears_out(fleet, run)
        assert not wears_out(fleet, dataclasses.replace(run, shots=math.floor(left) - 1))


def test_worn_tools_are_not_asked_and_retired_ones_not_known(fleet):
    asked = {run.tool_id for run in ask_next_runs(fleet, 4)}
    run = ask_next_runs(fleet, 4)[0]
    worn = next(c.tool.tool_id for c in fleet.live.values() if c.worn)
    retired = next(c.tool.tool_id for c in fleet.careers if c.retired)
    assert not asked & {worn, retired}
    with pytest.raises(ValueError, match="worn"):
        wear_out_probability(fleet, dataclasses.replace(run, tool_id=worn))
    with pytest.raises(KeyError):
        wear_out_probability(fleet, dataclasses.replace(run, tool_id=retired))


def test_nobody_knows_of_a_wear_out_that_the_records_do_not_tell(fleet):
    for tool_id, career in fleet.live.items():
        if not career.worn:
            assert career.spent < career.capacity
        else:
            assert [
                e["event"] for e in fleet.tables["events"] if e["tool_id"] == tool_id and e["event"] in ("worn", "retool", "refurbish")
            ][-1] == "worn"
