"""The simulator's lives against distributions from scipy.stats and against the theory of counting processes."""

import dataclasses
import math
from collections import defaultdict
from datetime import date
from itertools import pairwise

import numpy as np
import pytest
from scipy import stats

from wearfit.demo.capacity import cumulative_hazard, draw_capacity, ratio_at, virtual_age
from wearfit.demo.scenario import SCENARIO
from wearfit.demo.settings import WearTruth
from wearfit.demo.simulate import SimulatedFleet, simulate_fleet

SHAPE = 3.0
LAWS = ("weibull", "lognormal", "loglogistic")
REFERENCE_MEDIAN = 400_000.0  # of class 103, .8 of its cap
LOG_SD = math.pi / (SHAPE * math.sqrt(6.0))
MEDIAN = math.log(2.0) ** (1.0 / SHAPE)
SCIPY = {
    "weibull": stats.weibull_min(SHAPE),
    "lognormal": stats.lognorm(LOG_SD, scale=MEDIAN),
    "loglogistic": stats.fisk(math.pi / (LOG_SD * math.sqrt(3.0)), scale=MEDIAN),
}


@pytest.mark.parametrize("law", LAWS)
def test_survival_is_that_of_the_named_law(law):
    ratios = np.linspace(0.05, 3.0, 25)
    hazard = np.array([cumulative_hazard(law, SHAPE, r) for r in ratios])
    np.testing.assert_allclose(np.exp(-hazard), SCIPY[law].sf(ratios), rtol=1e-9)
    np.testing.assert_allclose([ratio_at(law, SHAPE, h) for h in hazard], ratios, rtol=1e-9)


@pytest.mark.parametrize("law", LAWS)
def test_capacities_given_survival_follow_the_conditional_law(law):
    rng = np.random.default_rng(8)
    spent, log_life = 260_000.0, math.log(400_000.0)
    drawn = np.array([draw_capacity(law, SHAPE, log_life, spent, rng.exponential()) for _ in range(2000)])
    assert drawn.min() > spent
    frozen, entry = SCIPY[law], spent / 400_000.0
    assert stats.kstest(drawn / 400_000.0, lambda x: 1.0 - frozen.sf(x) / frozen.sf(entry)).pvalue > 0.01


def shots_until(fleet: SimulatedFleet, tool_id: str, first_event: str) -> int:
    return sum(int(r["shots"]) for r in fleet.tables["runs"] if r["tool_id"] == tool_id and r["ended_on"] <= first_event)


def test_recorded_lives_of_unit_exposure_tools_are_weibull(plain):
    """First lives as the records tell them, in tools young enough at the start that every one was seen to its end."""
    fleet = simulate_fleet(plain)
    wear_outs = defaultdict(list)
    for event in fleet.tables["events"]:
        if event["event"] in ("worn", "retool", "refurbish"):
            wear_outs[event["tool_id"]].append(event["date"])
    young = [c.tool.tool_id for c in fleet.careers if c.tool.commissioned < date(2020, 1, 1).toordinal()]
    assert all(wear_outs[tool_id] for tool_id in young)
    lives = [shots_until(fleet, tool_id, min(wear_outs[tool_id])) for tool_id in young]
    scale = REFERENCE_MEDIAN / math.log(2.0) ** (1.0 / SHAPE)
    assert len(lives) > 150
    assert stats.kstest(lives, stats.weibull_min(SHAPE, scale=scale).cdf).pvalue > 0.01


def test_lives_after_a_refurbishment_start_at_the_virtual_age_of_kijima(plain):
    habits = dataclasses.replace(plain.habits, refurbish_share=1.0)
    fleet = simulate_fleet(dataclasses.replace(plain, n_tools=60, habits=habits))
    seen = 0
    for career in fleet.careers:
        repeat = 0
        for before, life in pairwise(career.lives):
            repeat = 0 if life.opened_by == "retool" else repeat + 1
            expected = 0.0 if repeat == 0 else (1.0 - 0.35 * 0.7 ** (repeat - 1)) * before.spent
            assert life.virtual_age == pytest.approx(expected)
            seen += repeat > 0
    assert seen > 50


def test_rejuvenation_fades_with_each_refurbishment():
    truth = WearTruth(rejuvenation=0.35, rejuvenation_fade=0.7)
    assert [virtual_age(truth, 100.0, j) for j in (1, 2, 3)] == pytest.approx([65.0, 75.5, 82.85])


@pytest.mark.parametrize("law", LAWS)
def test_wear_outs_are_as_many_as_the_hazard_spent(law):
    """Events less cumulative hazard is a martingale, whatever censors the lives: renewals, damage, the as-of day."""
    habits = dataclasses.replace(SCENARIO.habits, late_found_share=0.0, modify_rate=0.0)
    events, spent = 0, 0.0
    for seed in range(12):
        fleet = simulate_fleet(dataclasses.replace(SCENARIO, law=law, habits=habits, seed=seed, truth=WearTruth(storage=0.0)))
        for career in fleet.careers:
            life_scale = math.exp(career.tool.log_life)
            for life in career.lives:
                events += life.ending == "wear"
                spent += cumulative_hazard(law, SHAPE, min(life.spent, life.capacity) / life_scale)
                spent -= cumulative_hazard(law, SHAPE, life.virtual_age / life_scale)
    assert events > 700
    assert abs(events - spent) < 3.0 * math.sqrt(spent)


def test_sudden_stops_come_at_the_stated_rate():
    truth = WearTruth(sudden_per_life=0.4, sudden_per_handling=0.004, sudden_plant_sd=0.0)
    habits = dataclasses.replace(SCENARIO.habits, continued_share=0.0)
    stops, expected = 0, 0.0
    for seed in range(8):
        fleet = simulate_fleet(dataclasses.replace(SCENARIO, seed=seed, truth=truth, habits=habits, late_entry_share=0.0))
        for career in fleet.careers:
            stops += sum(life.ending == "damage" for life in career.lives)
            expected += 0.4 * sum(life.shots for life in career.lives) / math.exp(career.tool.class_log_life)
            handled = sum(int(r.get("setups", "1")) for r in career.runs) + sum(e["event"] == "move" for e in career.events)
            expected += 0.004 * handled
    assert abs(stops - expected) < 3.0 * math.sqrt(expected)


def test_tool_effects_keep_their_spread_under_heavy_tails():
    wide = dataclasses.replace(SCENARIO, n_tools=4000, tail=5.0, n_designs=40, designs=(), years=2)
    effects = np.array([c.tool.effect for c in simulate_fleet(wide).careers])
    assert stats.kstest(effects / (0.30 * math.sqrt(3.0 / 5.0)), stats.t(5.0).cdf).pvalue > 0.01
    assert effects.std() == pytest.approx(0.30, abs=0.03)
