"""Next run and order day a second way: many futures lived through one by one in plain Python, from the law and the draws alone.

Each future takes one draw of the parameters, one life and one piece of luck, and walks day by day. Nothing of the forecasts'
own code is used, so that a slip in their derivation cannot hide in both.
"""

import calendar
import datetime as dt
import itertools
import math
import random
from collections.abc import Iterator

import numpy as np
import pytest
from known_fleet import AS_OF, Plant, Resin, Tool, known_calibration

from wearfit.calibration import Calibration
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.next_run import answer_runs
from wearfit.forecasts.run_question import RunQuestion

FUTURES = 20_000
DRAWS = 2000
PER_MONTH, PLAN = 900.0, {1: 400.0, 2: 0.0, 3: 2500.0}  # shots; the plan by months after AS_OF
SETUPS_PER_SHOT = 1 / 2000
SETUP_SHOTS, SLOPE = 300.0, 0.3
PER_LIFE, PER_HANDLING, LOG_BAND = 0.3, 0.004, math.log(40_000.0)
MEDIAN_LEAD_WEEKS, LEAD_LOG_SD = 12.0, 0.4
TOLERANCE = 0.15
QUAY_SWEATS = tuple(0.3 if month in (6, 7, 8) else -0.1 for month in range(1, 13))


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    rng = np.random.default_rng(21)
    return known_calibration(
        [
            Tool(
                spent=rng.uniform(8_000.0, 12_000.0, DRAWS), life=rng.lognormal(11.1, 0.3, DRAWS), stated=PER_MONTH, plan=PLAN,
                plan_plant={3: 1}, plan_resin={1: 1}, setups_per_shot=SETUPS_PER_SHOT, log_band=LOG_BAND, mix=(0.6, 0.4),
            )
        ],
        shape=rng.lognormal(0.9, 0.15, DRAWS),
        samples=DRAWS,
        plants=(
            Plant("Heath", wear=rng.normal(0.0, 0.1, DRAWS)),
            Plant("Quay", wear=rng.normal(0.3, 0.1, DRAWS), sudden=0.5, season=QUAY_SWEATS),
        ),
        resins=(Resin("plain"), Resin("glass", wear=rng.normal(0.2, 0.1, DRAWS), filler=1.0)),
        coefficients={
            "log_setup": math.log(SETUP_SHOTS), "slope.filler_soft": SLOPE, "slope.sweating_within": 0.5,
            "log_sudden_per_life": math.log(PER_LIFE), "log_sudden_per_handling": math.log(PER_HANDLING),
        },
        lead_weeks=MEDIAN_LEAD_WEEKS,
        lead_log_sd=LEAD_LOG_SD,
    )  # fmt: skip


def per_shot(calibration: Calibration, draw: int, plant: int, month: int, resin: int) -> float:
    """Wear per shot."""
    log_wear = float(calibration.draws.plant[draw, plant]) + 0.5 * (QUAY_SWEATS[month - 1] if plant == 1 else 0.0)
    return math.exp(log_wear + (float(calibration.draws.resin[draw, 1]) + SLOPE if resin == 1 else 0.0))


def a_life(calibration: Calibration, draw: int, luck: random.Random) -> tuple[float, float]:
    """Wear spent, and the wear at which this life ends, which it has not done yet."""
    spent, life = float(calibration.draws.wear_spent[draw, 0]), float(calibration.draws.characteristic_life[draw, 0])
    shape = math.exp(float(calibration.coefficient("log_shape")[draw]))
    # By the conditional survival, S(C) / S(spent) uniform.
    return spent, life * ((spent / life) ** shape - math.log(luck.random())) ** (1.0 / shape)


def band(share: float, n: int = FUTURES) -> float:
    """Four binomial standard deviations."""
    return 4.0 * math.sqrt(max(share * (1.0 - share), 1.0 / n) / n)


@pytest.mark.parametrize(
    ("plant", "resin", "month", "shots", "handlings"), [("Heath", "plain", "2026-06", 12_000, 1), ("Quay", "glass", "2026-07", 8_000, 2)]
)
def test_next_run(calibration: Calibration, plant: str, resin: str, month: str, shots: int, handlings: int):
    luck = random.Random(31)
    worn = stopped = 0
    at, of = ("Heath", "Quay").index(plant), ("plain", "glass").index(resin)
    for _ in range(FUTURES):
        draw = luck.randrange(DRAWS)
        spent, capacity = a_life(calibration, draw, luck)
        wears_out = spent + (shots + SETUP_SHOTS) * per_shot(calibration, draw, at, int(month[5:]), of) >= capacity
        stops = math.exp(0.5 * at) * (shots * PER_LIFE / math.exp(LOG_BAND) + handlings * PER_HANDLING)
        worn += wears_out
        stopped += wears_out or luck.random() < 1.0 - math.exp(-stops)
    (run,) = answer_runs(calibration, [RunQuestion("cup-1", plant, resin, month, shots)]).runs
    assert run["p_wear_out"] == pytest.approx(worn / FUTURES, abs=band(worn / FUTURES))
    assert run["p_any_stop"] == pytest.approx(stopped / FUTURES, abs=band(stopped / FUTURES))
    assert 0.02 < run["p_wear_out"] < run["p_any_stop"] - 0.005


def days_ahead(calibration: Calibration, draw: int) -> Iterator[tuple[float, float]]:
    """Wear and expected sudden stops of each day to come."""
    for ahead in itertools.count(1):
        year, month = AS_OF.year + (AS_OF.month + ahead - 1) // 12, (AS_OF.month + ahead - 1) % 12 + 1
        days = calendar.monthrange(year, month)[1]
        shots = PLAN.get(ahead, PER_MONTH) / days
        plant, glass = int(ahead == 3), 1.0 if ahead == 1 else 0.4
        wear = (1 - glass) * per_shot(calibration, draw, plant, month, 0) + glass * per_shot(calibration, draw, plant, month, 1)
        stops = math.exp(0.5 * plant) * (PER_LIFE / math.exp(LOG_BAND) + PER_HANDLING * SETUPS_PER_SHOT)
        yield from [(shots * wear * (1.0 + SETUP_SHOTS * SETUPS_PER_SHOT), shots * stops)] * days


def first_stop(calibration: Calibration, draw: int, luck: random.Random, give_up: int) -> tuple[int, int]:
    """Whole days until the tool is worn out, and until it is of no use for whatever reason; `give_up` where later."""
    spent, capacity = a_life(calibration, draw, luck)
    wear_left, luck_left = capacity - spent, -math.log(luck.random())
    stop = give_up
    for day, (wear, stops) in zip(range(1, give_up), days_ahead(calibration, draw), strict=False):
        wear_left, luck_left = wear_left - wear, luck_left - stops
        if stop == give_up and luck_left < 0:
            stop = day
        if wear_left < 0:
            return day, min(stop, day)
    return give_up, stop


def test_order_day_and_dates(calibration: Calibration):
    luck, futures, give_up = random.Random(32), FUTURES // 10, 1500
    stops = []
    for _ in range(futures):
        worn_on, stopped_on = first_stop(calibration, luck.randrange(DRAWS), luck, give_up)
        lead = 7.0 * MEDIAN_LEAD_WEEKS * math.exp(luck.gauss(0.0, LEAD_LOG_SD))
        stops.append((worn_on, stopped_on, lead))
    (tool,) = forecast_fleet(calibration, tolerance=TOLERANCE).tools

    def gap(order_day: int) -> float:
        return sum(stopped_on < order_day + lead for _, stopped_on, lead in stops) / futures

    order_day = (dt.date.fromisoformat(tool["order_by"]) - AS_OF).days
    noise = 4.0 * math.sqrt(TOLERANCE * (1 - TOLERANCE) * (1 / futures + 1 / DRAWS))  # of the futures, and of the forecast's own draws
    assert gap(0) == pytest.approx(tool["gap_risk_if_ordered_today"], abs=noise)
    assert gap(order_day) == pytest.approx(TOLERANCE, abs=noise)
    assert gap(order_day - 120) < TOLERANCE - 0.01 and gap(order_day + 120) > TOLERANCE + 0.01  # so the day is told at all
    assert not tool["overdue"] and order_day > 90
    for name, share in (("p10", 0.10), ("p25", 0.25), ("p50", 0.50)):
        day = (dt.date.fromisoformat(tool["wear_out_on"][name]) - AS_OF).days
        worn = sum(worn_on <= day for worn_on, _, _ in stops) / futures
        assert worn == pytest.approx(share, abs=4.0 * math.sqrt(share * (1 - share) * (1 / futures + 1 / DRAWS)))
    within_a_year = sum(worn_on <= 365 for worn_on, _, _ in stops) / futures
    assert within_a_year == pytest.approx(tool["p_within_12_months"], abs=noise)
