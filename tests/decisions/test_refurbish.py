"""Refurbish, retool or run on: limiting cases, and a path-by-path reckoning."""

import numpy as np
import pytest
from known_draws import known_tool

from wearfit.decisions.decision import decide
from wearfit.decisions.inputs import fill
from wearfit.decisions.refurbish import REFURBISH, costs_of

VOLUME = {"planned_shots": 2500.0}


def costs_by_key(tool, **given: float) -> dict[str, np.ndarray]:
    costs = costs_of(tool, fill(REFURBISH.inputs, tool.on_record, {**VOLUME, **given}))
    return dict(zip(costs.known_as, costs.cost, strict=True))


def test_a_refurbishment_that_makes_new_is_a_retool():
    tool = known_tool(regained=1.0, samples=50)
    same = {"refurbish_cost": 300.0, "retool_cost": 300.0, "refurbish_weeks": 5.0, "retool_weeks": 5.0}
    costs = costs_by_key(tool, **same)
    assert costs["refurbish"] == pytest.approx(costs["retool"])
    assert costs["run on, refurbish"] == pytest.approx(costs["run on, retool"])


def test_a_refurbishment_that_gives_nothing_back_costs_its_price_for_a_fresh_luck():
    tool = known_tool(regained=0.0, samples=4000)
    given = {"refurbish_cost": 50.0, "planned_week_cost": 0.0, "discount_rate": 0.0}
    costs = costs_by_key(tool, **given)
    gain = costs["refurbish"] - costs["run on, retool"]
    assert abs(gain.mean() - 50.0) < 4.0 * gain.std() / np.sqrt(gain.size)


def test_each_path_costs_what_its_story_costs():
    tool = known_tool(age=600.0, sudden=2e-4, samples=8, futures=10)
    v = fill(REFURBISH.inputs, tool.on_record, {**VOLUME, "refurbishments": 1.0, "discount_rate": 0.1, "planned_week_cost": 3.0})
    costs = costs_by_key(tool, refurbishments=1.0, discount_rate=0.1, planned_week_cost=3.0)

    def paid(money: float, shots: float) -> float:
        return money * 1.1 ** (-shots / v["shots_per_month"] / 12.0)

    unplanned = v["retool_cost"] + v["stop_cost"] + v["retool_weeks"] * v["gap_cost_per_week"]

    def then(made: float, turn: int, s: int, f: int) -> float:
        total = 0.0
        while made < 2500.0:
            total += paid(unplanned, made)
            made += tool.fresh_shots(turn)[s, f]
            turn += 1
        return total

    kept = 1.0 - 0.4 * 0.7
    refurbished = tool.refurbished_shots(tool.age[:, None], 1.0, 1)
    # What the refurbished surface has behind it, by the law: H rises by the exponential that the luck gives.
    rise = ((600.0 * kept + np.minimum(refurbished, 1e9)) / 1000.0) ** 2.5 - (600.0 * kept / 1000.0) ** 2.5
    wears = refurbished < tool.luck.exponential("sudden", 1) / 2e-4
    assert rise[wears] == pytest.approx(tool.luck.exponential("wear", 1)[wears])
    for s in range(8):
        for f in range(10):
            now = v["refurbish_cost"] + 3.0 * v["refurbish_weeks"]
            assert costs["refurbish"][s, f] == pytest.approx(now + then(refurbished[s, f], 2, s, f))
            now = v["retool_cost"] + 3.0 * v["retool_weeks"]
            assert costs["retool"][s, f] == pytest.approx(now + then(tool.fresh_shots(1)[s, f], 2, s, f))
            assert costs["run on, retool"][s, f] == pytest.approx(then(tool.shots_to_end()[s, f], 1, s, f))


def test_a_planned_retool_is_never_worse_than_its_best_month_alone():
    tool = known_tool(age=900.0, samples=400)
    costs = costs_by_key(tool, stop_cost=5000.0, planned_week_cost=0.0)
    assert costs["later"].mean() < costs["run on, retool"].mean()
    costs = costs_by_key(tool, stop_cost=0.0, gap_cost_per_week=0.0, planned_week_cost=0.0, discount_rate=0.2)
    assert costs["later"].mean() >= costs["run on, retool"].mean() - 1e-9


def test_a_worn_tool_cannot_run_on():
    outcome = decide(REFURBISH, known_tool(status="worn", samples=50), VOLUME)
    assert [a.action for a in outcome.actions] == ["refurbish now", "retool now"]
    assert any("worn by the records" in note for note in outcome.notes)


def test_no_volume_left_needs_nothing():
    costs = costs_by_key(known_tool(age=10.0, samples=50), planned_shots=1.0)
    assert costs["run on, retool"].max() == 0.0
    assert costs["retool"].min() > 0.0


@pytest.mark.parametrize(("name", "key"), [("refurbish_cost", "refurbish"), ("retool_cost", "retool")])
def test_a_dearer_action_never_gains(name: str, key: str):
    tool = known_tool(age=700.0, samples=300, regained=0.4)
    shares = []
    for price in (100.0, 400.0, 1600.0):
        outcome = decide(REFURBISH, tool, {**VOLUME, name: price})
        shares.append(sum(a.p_best for a in outcome.actions if a.action == f"{key} now"))
    assert shares[0] >= shares[1] >= shares[2]
