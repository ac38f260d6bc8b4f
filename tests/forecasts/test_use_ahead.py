"""Use ahead: the plan, then what is stated, then the last months; and the wear that it brings."""

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from known_fleet import AS_OF, Plant, Resin, Tool, known_calibration

from wearfit.calibration import Calibration
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.use_ahead import UseAhead


def use_of(calibration: Calibration) -> UseAhead:
    return UseAhead(calibration, read_outlook(calibration), np.arange(len(calibration.live.tool)))


def total(calibration: Calibration, first: dt.date, end: dt.date, what: str = "shots") -> np.ndarray:
    """Sum over a stretch of time, shape (sample, tool)."""
    return np.sum([getattr(use, what) for use, _ in use_of(calibration).between(first, end)], axis=0)


def monthly(calibration: Calibration, months: int, what: str = "shots") -> np.ndarray:
    """Sums over the first months after AS_OF, shape (month, sample, tool)."""
    use = use_of(calibration)
    ends = [AS_OF]
    for _ in range(months):
        ends.append((ends[-1] + dt.timedelta(days=40)).replace(day=1) - dt.timedelta(days=1))
    pairs = pairwise(ends)
    return np.stack([np.sum([getattr(u, what) for u, _ in use.between(a, b)], axis=0) for a, b in pairs])


def test_plan_comes_before_what_is_stated_and_that_before_the_last_months():
    lately = (600.0,) * 24  # every month alike: no season, and no doubt about the level
    tools = [
        Tool("planned", stated=500.0, recent=lately, plan={1: 100.0, 3: 0.0}),
        Tool("stated", stated=500.0, recent=lately),
        Tool("recorded", recent=lately),
        Tool("nothing"),
    ]
    shots = monthly(known_calibration(tools, samples=5), 4)
    np.testing.assert_allclose(shots[:, :, 0], [[100.0] * 5, [500.0] * 5, [0.0] * 5, [500.0] * 5])
    np.testing.assert_allclose(shots[:, :, 1], 500.0)
    np.testing.assert_allclose(shots[:, :, 2], 600.0)
    np.testing.assert_array_equal(shots[:, :, 3], 0.0)


def test_conditions_come_from_the_plan_then_from_where_and_in_what_the_tool_ran():
    plants = (Plant("Heath"), Plant("Quay", wear=np.log(2.0), sudden=np.log(5.0)))
    resins = (Resin("plain"), Resin("glass", wear=np.log(3.0)))
    tool = Tool(stated=1.0, mix=(0.75, 0.25), plan={1: 1.0, 2: 1.0, 3: 1.0}, plan_plant={2: 1, 3: 1}, plan_resin={1: 1, 3: 0})
    calibration = known_calibration([tool], plants=plants, resins=resins, samples=2, coefficients={"log_sudden_per_life": np.log(0.1)})
    mix = 0.75 * 1.0 + 0.25 * 3.0
    np.testing.assert_allclose(monthly(calibration, 4, "wear")[:, 0, 0], [3.0, mix * 2.0, 2.0, mix])
    np.testing.assert_allclose(monthly(calibration, 4, "sudden")[:, 0, 0], [0.1, 0.5, 0.5, 0.1])


def test_a_tool_without_a_plant_runs_at_the_mean_one_and_without_runs_in_the_reference_resin():
    plants = (Plant("Heath", wear=0.0), Plant("Quay", wear=1.0))
    tool = Tool(stated=1.0, plant=-1, mix=(0.0,))
    calibration = known_calibration([tool], plants=plants, resins=(Resin(wear=9.0),), samples=2)
    np.testing.assert_allclose(monthly(calibration, 1, "wear"), np.exp(0.5))


def test_set_ups_modifications_and_steel_count_in_wear():
    coefficients = {"log_setup": np.log(400.0), "slope.modification": 0.1, "slope.filler_soft": 0.4, "slope.filler_hard": 0.2}
    tools = [
        Tool("soft", stated=1000.0, setups_per_shot=1 / 5000, modifications=2),
        Tool("hard insert", stated=1000.0, setups_per_shot=1 / 5000, setup_share=0.25, steel="hard"),
    ]
    calibration = known_calibration(tools, resins=(Resin(filler=2.0),), coefficients=coefficients, samples=2)
    wear = monthly(calibration, 1, "wear")[0]
    np.testing.assert_allclose(wear[:, 0], 1000.0 * np.exp(0.2 + 0.8) * (1 + 400 / 5000))
    np.testing.assert_allclose(wear[:, 1], 1000.0 * np.exp(0.4) * (1 + 0.25 * 400 / 5000))


def test_sudden_stops_come_with_shots_and_with_the_set_ups_they_take():
    tool = Tool(stated=1000.0, setups_per_shot=1 / 500, log_band=np.log(1e5))
    coefficients = {"log_sudden_per_life": np.log(0.2), "log_sudden_per_handling": np.log(0.01)}
    calibration = known_calibration([tool], plants=(Plant(sudden=np.log(2.0)),), coefficients=coefficients, samples=2)
    np.testing.assert_allclose(monthly(calibration, 1, "sudden"), 2.0 * (1000 * 0.2 / 1e5 + 2 * 0.01))


def test_part_of_a_month_takes_its_part_of_the_use():
    calibration = known_calibration([Tool(stated=3100.0)], samples=2)
    np.testing.assert_allclose(total(calibration, dt.date(2026, 7, 10), dt.date(2026, 7, 20)), 3100.0 * 10 / 31)
    np.testing.assert_allclose(total(calibration, dt.date(2026, 7, 31), dt.date(2026, 8, 1)), 100.0)
    np.testing.assert_allclose(total(calibration, dt.date(2026, 6, 15), dt.date(2026, 8, 10)), 3100.0 * (15 / 30 + 1 + 10 / 31))
    assert list(use_of(calibration).between(AS_OF, AS_OF)) == []


def test_stretches_add_up(demo_calibration: Calibration):
    own = dt.date.fromisoformat(demo_calibration.identity.as_of)
    middle, end = own + dt.timedelta(days=133), own + dt.timedelta(days=900)
    for what in ("shots", "wear", "sudden"):
        parts = total(demo_calibration, own, middle, what) + total(demo_calibration, middle, end, what)
        np.testing.assert_allclose(parts, total(demo_calibration, own, end, what), rtol=1e-12)


@pytest.mark.parametrize("days", [0, 20, 200, 500, 3000])
def test_plan_then_one_year_for_ever_is_what_lies_ahead(demo_calibration: Calibration, days: int):
    own = dt.date.fromisoformat(demo_calibration.identity.as_of)
    first = own + dt.timedelta(days=days)
    use = use_of(demo_calibration)
    head, year, level = list(use.until_plan_ends(first)), use.year_after(first), use.usual.level
    made = year.use.year.T
    of_a_year = {
        "shots": level * made,
        "wear": level * use.usual.job * year.wear.year[use.usual.plant].T,
        "sudden": level * use.usual.sudden * made,
    }
    tomorrow = first + dt.timedelta(days=1)
    months = tomorrow.year * 12 + tomorrow.month - 1 + len(head) + 24
    end = dt.date(months // 12, months % 12 + 1, 1) - dt.timedelta(days=1)
    for what, yearly in of_a_year.items():
        stretch = np.sum([getattr(part, what) for part in head], axis=0) + 2 * yearly
        np.testing.assert_allclose(stretch, total(demo_calibration, first, end, what), rtol=1e-12)


def test_level_is_the_bayesian_bootstrap_over_the_last_months():
    lately = (0.0, 0.0, 9000.0, 0.0, 3000.0, 0.0, 0.0, 12000.0, 0.0, 0.0)  # in use for ten months
    calibration = known_calibration([Tool(recent=lately)], samples=4000)
    a_year = total(calibration, AS_OF, dt.date(2027, 5, 31))[:, 0] / 12.0
    # Rubin 1981: mean and variance of a Dirichlet(1, ..., 1) weighted mean of n values: m and s^2 / (n + 1), s^2 over n.
    assert a_year.mean() == pytest.approx(np.mean(lately), rel=4 * np.std(lately) / np.sqrt(11 * 4000) / np.mean(lately))
    assert a_year.std() == pytest.approx(np.std(lately) / np.sqrt(11), rel=0.05)


def test_months_before_the_tool_came_into_use_say_nothing_and_idle_months_do():
    young = known_calibration([Tool(recent=(500.0,) * 6)], samples=3)
    idle = known_calibration([Tool(recent=(0.0,) * 18 + (500.0,) * 6)], samples=4000)
    year = dt.date(2027, 5, 31)
    np.testing.assert_allclose(total(young, AS_OF, year), 6000.0)
    assert total(idle, AS_OF, year).mean() == pytest.approx(1500.0, rel=0.05)


def test_two_idle_years_are_no_use():
    np.testing.assert_array_equal(monthly(known_calibration([Tool(recent=(0.0,) * 24)], samples=3), 12), 0.0)


SUMMER = tuple(300.0 if month in (5, 6, 7) else 0.0 for _ in range(2) for month in (*range(5, 12), *range(5)))  # June first


def test_season_is_the_fleets_own_and_moves_no_yearly_total():
    fleet = [Tool("follows", stated=100.0), *(Tool(f"sets {i}", recent=SUMMER) for i in range(400))]
    calibration = known_calibration(fleet, samples=50)
    shots = monthly(calibration, 12)[:, :, 0]
    np.testing.assert_allclose(shots.sum(axis=0), 1200.0)
    np.testing.assert_allclose(shots.mean(axis=1), [400.0] * 3 + [0.0] * 9, atol=2.0)


def test_use_over_a_year_averages_its_level_whatever_the_season(demo_calibration: Calibration):
    season = read_outlook(demo_calibration).season
    np.testing.assert_allclose(season.mean(axis=1), 1.0)
    assert season.std(axis=1).mean() > 0.1


def test_one_tool_tells_half_a_season():
    calibration = known_calibration([Tool(stated=100.0, recent=SUMMER)], samples=4000)
    shots = monthly(calibration, 12)[:, :, 0]
    # By the share B ~ Uniform(0, 1) that the tool has against one that is used evenly: 4 B + (1 - B) in summer, 1 - B else.
    assert shots[0].mean() == pytest.approx(250.0, abs=4 * 300 / np.sqrt(12 * 4000))
    assert shots[5].mean() == pytest.approx(50.0, abs=4 * 100 / np.sqrt(12 * 4000))
    assert shots[0].std() == pytest.approx(300 / np.sqrt(12), rel=0.05)


def test_a_young_fleet_has_no_season_yet():
    calibration = known_calibration([Tool(f"{i}", recent=(900.0, 900.0, 900.0)) for i in range(50)], samples=4)
    np.testing.assert_allclose(monthly(calibration, 12), 900.0)


def test_season_is_less_sure_the_fewer_tools_tell_it():
    rng = np.random.default_rng(5)

    def spread(n: int) -> float:
        tools = [Tool(f"{i}", recent=tuple(rng.gamma(1.0, 1000.0, 24))) for i in range(n)]
        return float(read_outlook(known_calibration(tools, samples=500)).season.std(axis=0).mean())

    assert spread(60) < 0.5 * spread(6)


def test_the_same_seed_gives_the_same_use_and_another_seed_another():
    calibration = known_calibration([Tool(recent=(0.0, 900.0, 300.0))], samples=50)
    again = known_calibration([Tool(recent=(0.0, 900.0, 300.0))], samples=50)
    other = replace(calibration, identity=replace(calibration.identity, seed=12))
    first = monthly(calibration, 2)
    np.testing.assert_array_equal(monthly(again, 2), first)
    assert not np.array_equal(monthly(other, 2), first)


def test_damage_of_a_mix_of_jobs_adds_up_as_published():
    """Palmgren-Miner: rated 50000, 6500 and 1000 cycles at shares 40, 15 and 5 of 60: service life 7400.37951 cycles.

    Source: documentation of the Python package reliability, `palmgren_miner_linear_damage`; damages are its shares in per cent.
    """
    rated, share = np.array([50000.0, 6500.0, 1000.0]), np.array([40.0, 15.0, 5.0]) / 60.0
    resins = [Resin(f"job {i}", wear=-np.log(life)) for i, life in enumerate(rated)]
    mixed = Tool("mixed", life=1.0, mix=tuple(share), stated=1.0)
    single = [Tool(f"job {i}", life=1.0, mix=tuple(np.eye(3)[i] * share[i]), stated=1.0) for i in range(3)]
    wear = use_of(known_calibration([mixed, *single], resins=resins, samples=1)).wear_per_shot_at_even_use()[0]
    assert 1.0 / wear[0] == pytest.approx(7400.37951, rel=1e-8)
    np.testing.assert_allclose(100.0 * wear[1:] / wear[0], [9.86717, 28.463, 61.66983], rtol=1e-6)
