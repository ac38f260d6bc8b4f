"""Readings that the calibration has not seen, against sums over fine grids that share no code with what is tested."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pytest
from known_fleet import (
    AS_OF,
    FEATURE_COMMON_SD,
    FEATURE_LOC,
    FEATURE_OWN_SD,
    GROWTH_SD,
    LIFE_SD,
    Feature,
    Read,
    Tool,
    known_calibration,
)
from scipy import stats

from wearfit.calibration import Calibration, from_bytes, to_bytes
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.news import NewReading, News
from wearfit.forecasts.next_run import answer_runs
from wearfit.forecasts.run_question import RunQuestion
from wearfit.forecasts.tracks import growth_of_feature
from wearfit.growth import FAULT, FAULT_NOISE

Array = np.ndarray

RNG = np.random.default_rng(5)
DRAWS = 120
SHAPE = np.exp(RNG.normal(np.log(3.0), 0.1, DRAWS))
LIFE = 1000.0 * np.exp(0.3 * RNG.standard_normal(DRAWS))
SPENT = 450.0 * np.exp(0.15 * RNG.standard_normal(DRAWS))
FEATURES = {
    "flash": Feature(0.1 * RNG.standard_normal(DRAWS), 1.1 * np.exp(0.1 * RNG.standard_normal(DRAWS)), 0.2),
    "pin": Feature(0.1 * RNG.standard_normal(DRAWS), 0.9, 0.15),
}
EARLIER = AS_OF - dt.timedelta(days=400)
LATER = dt.date(2026, 8, 31)
BEGAN, AT_EIGHTY = dt.date(2023, 12, 31), dt.date(2025, 12, 1)
BY_EARLIER = (EARLIER - BEGAN).days / (AT_EIGHTY - BEGAN).days
SEEN = (Read(EARLIER, "flash", 0.22, 0.5), Read(AT_EIGHTY, "flash", 0.3, 0.8))
PER_MONTH = 25.0


def tool(readings: Sequence[Read] = SEEN) -> Tool:
    return Tool(
        spent=SPENT, life=LIFE, stated=PER_MONTH, readings=readings, trail=((BEGAN, 0.0), (AT_EIGHTY, 0.8), (AS_OF, 1.0))
    )  # fmt: skip


def fleet(*readings: Read, **given: object) -> Calibration:
    return known_calibration([tool(readings)], shape=SHAPE, samples=DRAWS, features=FEATURES, **given)  # type: ignore[arg-type]


def said(day: dt.date, feature: str, way: float, from_new: bool = True) -> NewReading:
    return NewReading("cup-1", day, feature, float(np.log(way)), False, 0.0, from_new)


def as_seen(read: Read) -> NewReading:
    return said(read.day, read.feature, read.way)


@dataclass(frozen=True)
class Reading:
    """For the sum over grids: wear at it is (sample,)."""

    feature: str
    way: float
    wear: Array


def likelihood(readings: Sequence[Reading], capacity: Array) -> Array:
    """Of readings where a life's capacity is (sample, point): its own offset and growth summed over a grid of normal quantiles."""
    at = np.linspace(-4.5, 4.5, 31).astype(np.float32)
    weight = stats.norm.pdf(at) * (at[1] - at[0])
    out = np.ones_like(capacity)
    for name, feature in FEATURES.items():
        density = np.ones((*capacity.shape, len(at), len(at)), dtype=np.float32)
        for reading in (r for r in readings if r.feature == name):
            level, growth, noise = (np.broadcast_to(np.asarray(v), DRAWS)[:, None, None, None] for v in vars(feature).values())
            log_share = np.log(reading.wear[:, None] / capacity)[:, :, None, None]
            offset, slope = LIFE_SD * at[:, None], growth + GROWTH_SD * at[None, :]
            error = (np.log(reading.way) - level - offset - slope * log_share).astype(np.float32)
            of_one = np.zeros_like(error)
            for share, scale in ((1.0 - FAULT, noise.astype(np.float32)), (FAULT, np.float32(FAULT_NOISE))):
                of_one += share * 0.375 * (1.0 + (error / scale) ** 2 / 4.0) ** -2.5 / scale  # t with four degrees of freedom
            density *= of_one
        out = out * np.einsum("spab,a,b->sp", density, weight, weight)
    return out


def summed(before: Sequence[Reading], after: Sequence[Reading], now: Array) -> tuple[Array, Array, Array]:
    """Capacity beyond `now`, (sample, point), its weight with the readings after, and the weight that the draw had before, (sample,)."""
    capacity = SPENT[:, None] * (1.0 + np.exp(np.linspace(-7.0, 3.0, 91)))
    law = stats.weibull_min(SHAPE[:, None], scale=LIFE[:, None])
    width = np.gradient(capacity, axis=1)
    prior = law.pdf(capacity) / law.sf(SPENT[:, None]) * width
    old = (prior * likelihood(before, capacity)).sum(axis=1)
    new = prior * likelihood(after, capacity)
    return capacity, np.where(capacity > now[:, None], new, 0.0), old


SEEN_READINGS = [Reading("flash", 0.22, 0.5 * SPENT), Reading("flash", 0.3, 0.8 * SPENT)]
CASES = {
    "one more of a feature": (SEEN, [said(AS_OF, "flash", 0.62)], SEEN_READINGS, [*SEEN_READINGS, Reading("flash", 0.62, SPENT)]),
    "another feature": (SEEN, [said(AS_OF, "pin", 0.7)], SEEN_READINGS, [*SEEN_READINGS, Reading("pin", 0.7, SPENT)]),
    "the first of a tool": ((), [said(AS_OF, "flash", 0.55)], [], [Reading("flash", 0.55, SPENT)]),
    "two on a day between": (
        (), [said(EARLIER, "pin", way) for way in (0.3, 0.36)], [], [Reading("pin", way, 0.8 * BY_EARLIER * SPENT) for way in (0.3, 0.36)],
    ),
    "one put right": (
        SEEN, [said(SEEN[1].day, "flash", 0.45)], SEEN_READINGS, [SEEN_READINGS[0], Reading("flash", 0.45, 0.8 * SPENT)],
    ),
    "after the calibration": (
        SEEN, [said(dt.date(2026, 7, 31), "flash", 0.6)], SEEN_READINGS, [*SEEN_READINGS, Reading("flash", 0.6, SPENT + 2 * PER_MONTH)],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_answers_are_the_sum_over_all_that_a_life_may_be(case: str):
    seen, new, before, after = CASES[case]
    day = LATER if case == "after the calibration" else AS_OF
    now = SPENT + (3 * PER_MONTH if day == LATER else 0.0)
    calibration = from_bytes(to_bytes(fleet(*seen)))
    capacity, weight, old = summed(before, after, now)
    weight = weight / old[:, None]
    news = News(tuple(new))
    lengths = (50, 150, 300, 600)
    runs = answer_runs(calibration, [RunQuestion("cup-1", "Heath", "plain", f"{day:%Y-%m}", n) for n in lengths], day, news=news).runs
    for run, length in zip(runs, lengths, strict=True):
        expected = weight[capacity <= (now + length)[:, None]].sum() / weight.sum()
        assert run["readings_since"] == len(new)
        assert run["p_wear_out"] == pytest.approx(expected, abs=0.012)
    (answer,) = forecast_fleet(calibration, day, news=news).tools
    left = (capacity - now[:, None]).ravel()
    order = np.argsort(left)
    reached = np.cumsum(weight.ravel()[order]) / weight.sum()
    assert answer["remaining_shots"]["p50"] == pytest.approx(left[order][np.searchsorted(reached, 0.5)], rel=0.1)
    assert answer["readings_since"] == len(new)
    (without,) = forecast_fleet(calibration, day).tools
    assert without["remaining_shots"]["p50"] != pytest.approx(answer["remaining_shots"]["p50"], rel=0.02)


def test_what_the_calibration_saw_counts_once():
    calibration = fleet(*SEEN)
    news = News(tuple(as_seen(read) for read in SEEN))
    assert forecast_fleet(calibration, news=news).as_json() == forecast_fleet(calibration).as_json()


def test_a_reading_after_the_day_of_the_question_is_not_known():
    calibration, news = fleet(*SEEN), News((said(LATER, "flash", 0.9),))
    before = LATER - dt.timedelta(days=1)
    assert forecast_fleet(calibration, before, news=news).as_json() == forecast_fleet(calibration, before).as_json()
    assert forecast_fleet(calibration, LATER, news=news).tools[0]["readings_since"] == 1


def test_a_reading_of_the_life_before_or_before_any_wear_says_nothing():
    calibration = fleet(*SEEN)
    news = News((said(dt.date(2019, 12, 31), "flash", 0.9), said(dt.date(2023, 12, 1), "flash", 0.9)))
    assert forecast_fleet(calibration, news=news).as_json() == forecast_fleet(calibration).as_json()


def test_where_the_age_at_entry_counts_a_reading_before_the_records_says_something():
    calibration = known_calibration(
        [replace(tool(()), recorded_share=np.linspace(0.3, 0.9, DRAWS))], shape=SHAPE, samples=DRAWS, features=FEATURES
    )
    (answer,) = forecast_fleet(calibration, news=News((said(dt.date(2023, 12, 1), "flash", 0.4),))).tools
    assert answer["readings_since"] == 1


def test_two_in_a_row_over_the_limit_are_a_wear_out():
    calibration = fleet(*SEEN)
    one = News((said(AS_OF, "flash", 1.2),))
    two = News((*one.readings, said(LATER, "flash", 1.1)))
    assert forecast_fleet(calibration, LATER, news=one).tools[0]["status"] == "running"
    (answer,) = forecast_fleet(calibration, LATER, news=two).tools
    assert (answer["status"], answer["wear_out_on"]["p50"], answer["overdue"]) == ("worn", str(LATER), True)
    assert f"from {AS_OF} to {LATER}" in answer["readings_note"]
    (run,) = answer_runs(calibration, [RunQuestion("cup-1", "Heath", "plain", "2026-09", 100)], LATER, news=two).runs
    assert "worn" in run["problem"]
    mended = News((*two.readings[:1], said(LATER, "flash", 0.4)))
    assert forecast_fleet(calibration, LATER, news=mended).tools[0]["status"] == "running"


def test_without_a_new_value_two_over_the_limit_alone_are_no_wear_out():
    """Nobody knows from which side they come to it."""
    two = News(tuple(said(day, "step", 1.3, from_new=False) for day in (EARLIER, AS_OF)))
    assert forecast_fleet(fleet(), news=two).tools[0]["status"] == "running"


def test_a_tool_renewed_since_waits_for_the_next_calibration():
    calibration = fleet(*SEEN)
    news = News((said(AS_OF, "flash", 0.9),), {"cup-1": dt.date(2026, 5, 1)})
    (answer,) = forecast_fleet(calibration, news=news).tools
    (without,) = forecast_fleet(calibration).tools
    assert "recalibrate first" in answer["readings_note"]
    assert answer["readings_since"] == 0
    assert answer["remaining_shots"] == without["remaining_shots"]


def test_one_tools_readings_touch_no_other():
    tools = [tool(), replace(tool(), tool_id="cup-2")]
    calibration = known_calibration(tools, shape=SHAPE, samples=DRAWS, features=FEATURES)
    plain, told = forecast_fleet(calibration).tools, forecast_fleet(calibration, news=News((said(AS_OF, "flash", 0.9),))).tools
    assert told[1] == plain[1]
    assert told[0] != plain[0]


def test_a_feature_never_seen_is_drawn_from_the_population_of_features():
    """Against the normal law of one feature given the others, from the joint covariance of all of them."""
    calibration = fleet()
    drawn = growth_of_feature(calibration, "gloss")
    for i, (name, values) in enumerate((("level", drawn.level), ("growth", np.log(drawn.growth)), ("noise", np.log(drawn.noise)))):
        covariance = FEATURE_COMMON_SD[i] ** 2 + np.diag(np.full(3, FEATURE_OWN_SD[i] ** 2))
        gain = covariance[0, 1:] @ np.linalg.inv(covariance[1:, 1:])
        given = np.stack([np.broadcast_to(np.asarray(getattr(f, name), dtype=float), DRAWS) for f in FEATURES.values()])
        known = (given if name == "level" else np.log(given)) - FEATURE_LOC[i]
        sd = np.sqrt(covariance[0, 0] - gain @ covariance[1:, 0])
        assert stats.kstest((values - FEATURE_LOC[i] - gain @ known) / sd, "norm").pvalue > 1e-3, name
    alone = known_calibration([tool(())], shape=SHAPE, samples=DRAWS)
    prior = growth_of_feature(alone, "gloss").level
    assert stats.kstest(prior / np.hypot(FEATURE_COMMON_SD[0], FEATURE_OWN_SD[0]), "norm").pvalue > 1e-3
    (answer,) = forecast_fleet(alone, news=News((said(AS_OF, "gloss", 0.9),))).tools
    assert answer["readings_since"] == 1


def moved_by_a_wild_one(seen: Sequence[Read]) -> float:
    """How far a new reading ten times too large moves the median of what is left, against none."""
    calibration = fleet(*seen)
    (plain,), (wild,) = (forecast_fleet(calibration, news=News(readings)).tools for readings in ((), (said(AS_OF, "flash", 10 * 0.45),)))
    return float(wild["remaining_shots"]["p50"] / plain["remaining_shots"]["p50"] - 1.0)


def test_one_reading_ten_times_too_large_moves_little_where_there_are_several():
    several = [
        Read(EARLIER + dt.timedelta(days=60 * i), "flash", 0.45 * share**1.1, share) for i, share in enumerate((0.4, 0.55, 0.7, 0.8, 0.9))
    ]
    assert abs(moved_by_a_wild_one(several)) < 0.15


def test_where_it_is_the_only_one_it_is_believed_and_a_second_is_asked_for():
    assert -0.9 < moved_by_a_wild_one(()) < -0.15
    (answer,) = forecast_fleet(fleet(), news=News((said(AS_OF, "flash", 4.5),))).tools
    assert "measure again" in answer["readings_note"]
    (answer,) = forecast_fleet(fleet(*SEEN), news=News((said(AS_OF, "flash", 4.5),))).tools
    assert answer["readings_note"] is None


def test_readings_that_leave_few_draws_say_so():
    far = News(tuple(said(day, name, way) for name in FEATURES for day, way in ((AS_OF - dt.timedelta(days=9), 0.9), (AS_OF, 0.95))))
    (answer,) = forecast_fleet(fleet(*SEEN), news=far).tools
    assert "recalibrate for exact figures" in answer["readings_note"]
