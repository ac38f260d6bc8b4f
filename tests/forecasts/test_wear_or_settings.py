"""Wear or settings: against integrals done by hand, against simulated lives whose defects' causes are known, and with readings."""

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from known_fleet import AS_OF, Tool, known_calibration
from scipy import integrate, stats

from wearfit.calibration import Calibration, NotedTable, ReadTable
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.growth import Growth, Readings
from wearfit.remaining import Track, packed, remaining

Array = np.ndarray

SHAPE, LIFE, POWER = 3.0, 1000.0, 2.0
DAY = (AS_OF - dt.date(1970, 1, 1)).days - 100
TWO_SIDED = 1e-3


def with_noted(calibration: Calibration, live: Array, share: Array, p_wear: Array, kind: str = "detail") -> Calibration:
    """With a defect noted of each of some live tools when a share of its wear of now was spent."""
    n = len(live)
    words = np.full(n, kind, dtype=object)
    noted = NotedTable(live, np.full(n, DAY), words, p_wear, words, np.zeros(n), words)
    log_share = np.tile(np.log(share), (calibration.samples, 1))
    return replace(calibration, noted=noted, draws=replace(calibration.draws, noted_share=log_share))


def one_noted(tool: Tool, share: float, p_wear: float = 0.6, as_of: dt.date = AS_OF, **others: Any) -> dict[str, Any]:
    calibration = with_noted(known_calibration([tool], shape=SHAPE, **others), np.zeros(1, int), np.array([share]), np.array([p_wear]))
    (answer,) = forecast_fleet(calibration, as_of).tools
    (noted,) = answer["noted"]
    return noted


def by_hand(spent: float, share: float, p_wear: float) -> float:
    """Odds of wear by the mean rate over the capacities of a life that has come so far."""

    def rate_at(capacity: float) -> float:
        rate = (POWER + 1.0) * (share * spent / capacity) ** POWER
        return rate * stats.weibull_min.pdf(capacity, SHAPE, scale=LIFE) / stats.weibull_min.sf(spent, SHAPE, scale=LIFE)

    odds = p_wear / (1.0 - p_wear) * integrate.quad(rate_at, spent, 10.0 * LIFE, limit=200)[0]
    return odds / (1.0 + odds)


@pytest.mark.parametrize("spent", [50.0, 400.0, 900.0, 1600.0])
@pytest.mark.parametrize(("share", "p_wear"), [(1.0, 0.75), (0.7, 0.75), (0.7, 0.05), (0.2, 0.6)])
def test_the_chance_is_the_one_reckoned_by_hand(spent: float, share: float, p_wear: float):
    assert one_noted(Tool(spent=spent, life=LIFE), share, p_wear)["p_wear"] == pytest.approx(by_hand(spent, share, p_wear), abs=2e-3)


def test_what_is_said_of_a_defect():
    noted = one_noted(Tool(spent=800.0, life=LIFE), 0.5)
    assert noted["date"] == (AS_OF - dt.timedelta(100)).isoformat()
    assert (noted["defect"], noted["question"], noted["note"]) == ("detail", "detail", "detail")
    assert (noted["p_wear_by_kind"], noted["look_before_running"]) == (0.6, False)
    used = noted["life_used_then"]
    capacity = stats.weibull_min.isf(0.5 * stats.weibull_min.sf(800.0, SHAPE, scale=LIFE), SHAPE, scale=LIFE)
    assert used["p50"] == pytest.approx(400.0 / capacity, rel=5e-3)
    assert used["p95"] <= 0.5 + 1e-9


def test_of_a_tool_of_unknown_age_the_kind_alone_tells():
    noted = one_noted(Tool(spent=np.nan), 0.5, 0.35)
    assert noted["p_wear"] == pytest.approx(0.35)
    assert set(noted["life_used_then"].values()) == {None}


def test_of_a_worn_tool_the_capacity_is_what_it_wore():
    odds = 1.5 * 3.0 * 0.7**2
    assert one_noted(Tool(spent=800.0, life=LIFE, status="worn"), 0.7, 0.6)["p_wear"] == pytest.approx(odds / (1.0 + odds))


def test_a_hazard_has_no_chance():
    noted = one_noted(Tool(spent=800.0, life=LIFE), 0.7, np.nan)
    assert noted["p_wear"] is None and noted["p_wear_by_kind"] is None


def test_coming_through_another_year_speaks_against_wear():
    tool = Tool(spent=700.0, life=LIFE, stated=40.0)
    now, later = (one_noted(tool, 1.0, as_of=day)["p_wear"] for day in (AS_OF, AS_OF + dt.timedelta(365)))
    assert later < now - 0.05


def test_chances_are_those_of_simulated_lives():
    """Lives end by the law; defects come at an even rate by the settings, at one that grows with x^2 by wear."""
    rng, n, p_wear, notes_a_life = np.random.default_rng(41), 4000, 0.6, 2.0
    life = LIFE * np.exp(0.3 * rng.standard_normal(n))
    capacity, spent = life * rng.weibull(SHAPE, n), life * rng.uniform(0.05, 1.3, n)
    under_way = np.flatnonzero(capacity > spent)
    capacity, spent, life = capacity[under_way], spent[under_way], life[under_way]
    tool = np.repeat(np.arange(len(spent)), rng.poisson(3.0 * notes_a_life * spent / capacity))  # thinned by what can at most come
    then = spent[tool] * rng.random(len(tool))
    rate = np.stack([p_wear * 3.0 * (then / capacity[tool]) ** 2, np.full(len(tool), 1.0 - p_wear)])
    kept = 3.0 * rng.random(len(tool)) < rate.sum(axis=0)
    by_wear = (rng.random(len(tool)) < rate[0] / rate.sum(axis=0))[kept]
    noted, share = np.unique(tool[kept], return_inverse=True), (then / spent[tool])[kept]
    tools = [Tool(f"cup-{i}", spent=spent[i], life=life[i]) for i in noted[0]]
    calibration = known_calibration(tools, shape=SHAPE, samples=400)
    calibration = with_noted(calibration, noted[1], share, np.full(len(share), p_wear))
    order = np.argsort(noted[1], kind="stable")
    said = np.array([d["p_wear"] for answer in forecast_fleet(calibration).tools for d in answer["noted"]])
    true = by_wear[order]
    assert len(said) > 1500
    for low, high in ((0.0, 0.2), (0.2, 0.45), (0.45, 0.7), (0.7, 1.0)):
        inside = (low <= said) & (said < high)
        fewest, most = stats.binom.ppf([TWO_SIDED / 2, 1 - TWO_SIDED / 2], inside.sum(), said[inside].mean())
        assert inside.sum() > 100
        assert fewest <= true[inside].sum() <= most, (low, high, said[inside].mean(), true[inside].mean())
    brier, of_kind_alone = np.mean((said - true) ** 2), np.mean((p_wear - true) ** 2)
    assert brier < 0.75 * of_kind_alone


def with_readings(ways: list[float], share: float) -> float:
    """Chance of a defect noted with the third of five readings, at even steps of the wear up to now."""
    tool, samples = Tool(spent=600.0, life=LIFE), 500
    log_share = np.log(np.arange(1, 6) / 5.0)
    columns = (np.full(samples, v) for v in (0.0, 1.1, 0.15, 0.15, 0.15))
    track = Track(Readings(np.log(ways), np.zeros(5), np.zeros(5)), np.tile(log_share, (samples, 1)), Growth(*columns))
    calibration = known_calibration([tool], shape=SHAPE, samples=samples)
    left = remaining(np.full(samples, 600.0), np.log(np.full(samples, LIFE)), np.full(samples, SHAPE), [track])
    reads = ReadTable(np.zeros(1, int), np.array([left.q_low]), np.array([left.q_high]))
    draws = replace(calibration.draws, read_told=packed(left.log_likelihood)[:, None, :])
    calibration = with_noted(replace(calibration, reads=reads, draws=draws), np.zeros(1, int), np.array([share]), np.array([0.75]))
    (answer,) = forecast_fleet(calibration).tools
    return float(answer["noted"][0]["p_wear"])


def test_a_jump_that_came_back_is_less_likely_wear_than_steady_growth():
    growth = with_readings([0.18, 0.37, 0.56, 0.74, 0.93], 0.6)
    jump = with_readings([0.06, 0.12, 0.60, 0.25, 0.31], 0.6)
    never = with_readings([0.06, 0.12, 0.18, 0.25, 0.31], 0.6)
    none = one_noted(Tool(spent=600.0, life=LIFE), 0.6, 0.75)["p_wear"]
    assert growth / (1.0 - growth) > 3.0 * jump / (1.0 - jump)
    assert jump == pytest.approx(never, abs=0.05)
    assert jump < none < growth


def test_growth_over_the_last_readings_tells_more_than_one_high_reading():
    assert with_readings([0.06, 0.12, 0.2, 0.25, 0.9], 1.0) < with_readings([0.18, 0.37, 0.56, 0.74, 0.93], 1.0) - 0.05
