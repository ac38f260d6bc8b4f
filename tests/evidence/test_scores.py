"""Properties of the scores: proper, blind to what was not seen, and honest about lives that are still running."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, weibull_min

from wearfit.evidence.backtest import shared_variance
from wearfit.evidence.scores import (
    average,
    brier_curve,
    brier_scores,
    calibration_curve,
    count_range,
    covered,
    log_scores,
    restricted_crps,
    seen_share,
)

Array = np.ndarray
LAW = weibull_min(2.0, scale=1.0)
POINTS = np.linspace(0.0, 0.9, 181)


@given(st.floats(0.01, 0.99), st.floats(0.01, 0.99))
def test_the_true_chance_is_the_best_to_tell(truth: float, told: float) -> None:
    for score in (log_scores, brier_scores):
        honest, other = (float(score(np.array(chance), np.array(truth))) for chance in (truth, told))
        assert honest <= other + 1e-12


def lost_lives(n: int, seed: int) -> tuple[Array, Array]:
    """Lives of LAW, some of them lost sight of for no reason that has to do with them: when last seen, and whether that was the end."""
    rng = np.random.default_rng(seed)
    ended, lost = LAW.rvs(n, random_state=rng), rng.exponential(1.2, n)
    return np.minimum(ended, lost), (ended <= lost).astype(float)


def test_lives_lost_sight_of_leave_the_score_as_if_all_had_been_seen() -> None:
    """Against the mean of the restricted score over the law, by quadrature: E is the integral of F (1 - F) where F is right."""
    time, happened = lost_lives(40_000, 5)
    chance = np.broadcast_to(LAW.cdf(POINTS)[:, None], (len(POINTS), len(time)))
    expected = np.trapezoid(LAW.cdf(POINTS) * LAW.sf(POINTS), POINTS)
    assert restricted_crps(chance, POINTS, time, happened) == pytest.approx(expected, rel=0.02)  # 1 / sqrt(40,000) is .005


@pytest.mark.parametrize("scale", [0.7, 0.85, 1.2, 1.5])
def test_a_wrong_law_scores_worse(scale: float) -> None:
    time, happened = lost_lives(4_000, 6)

    def of(law: object) -> float:
        return restricted_crps(np.tile(law.cdf(POINTS)[:, None], len(time)), POINTS, time, happened)

    assert of(LAW) < of(weibull_min(2.0, scale=scale))


def test_with_every_life_seen_the_curve_is_the_plain_brier_score() -> None:
    rng = np.random.default_rng(7)
    time, chance = rng.uniform(0.0, 1.0, 50), rng.uniform(0.0, 1.0, (3, 50))
    points = np.array([0.2, 0.5, 0.8])
    by_hand = [np.mean([(float(t <= at) - c) ** 2 for t, c in zip(time, row, strict=True)]) for at, row in zip(points, chance, strict=True)]
    assert brier_curve(chance, points, time, np.ones(50)) == pytest.approx(by_hand)


def test_share_still_seen_by_hand() -> None:
    """Of six lives, one lost at 2 while five are watched, one at 4 while three are: 4/5, then 2/3 of that."""
    time, happened = np.array([1.0, 2.0, 3.0, 4.0, 4.0, 5.0]), np.array([1.0, 0.0, 1.0, 1.0, 0.0, 1.0])
    assert seen_share(time, happened, np.array([0.5, 1.0, 2.0, 3.9])) == pytest.approx([1.0, 1.0, 0.8, 0.8])
    # The life that ends at 4 ends before the other is lost, of which two were left then.
    assert seen_share(time, happened, np.array([4.0])) == pytest.approx([0.8 * 0.5])


@pytest.mark.parametrize("level", [0.5, 0.8, 0.9])
def test_right_forecasts_cover_their_level_though_many_lives_are_lost(level: float) -> None:
    time, happened = lost_lives(20_000, 8)
    by = LAW.cdf(time)
    assert covered(by, by, happened, level).mean() == pytest.approx(level, abs=0.012)  # four standard errors


def test_a_forecast_that_is_too_sure_covers_less() -> None:
    time, happened = lost_lives(5_000, 9)
    by = weibull_min(4.0, scale=1.0).cdf(time)
    assert covered(by, by, happened, 0.8).mean() < 0.7


def test_an_end_somewhere_in_between_counts_by_the_share_of_it_inside() -> None:
    low, high = np.array([0.05, 0.0, 0.2]), np.array([0.15, 0.1, 0.4])
    assert covered(low, high, np.ones(3), 0.8) == pytest.approx([0.5, 0.0, 1.0])
    # A life still running at a chance of .6: of the .4 above it .3 lie inside.
    assert covered(np.array([0.6]), np.array([0.6]), np.zeros(1), 0.8) == pytest.approx([0.75])
    # Half a wear-out, at a place inside.
    assert covered(np.array([0.6]), np.array([0.6]), np.array([0.5]), 0.8) == pytest.approx([0.875])


def test_groups_of_like_chances_are_held_against_a_binomial_band() -> None:
    rng = np.random.default_rng(10)
    chance = rng.uniform(0.0, 0.5, 4_000)
    happened = (rng.random(4_000) < chance).astype(float)
    curve = calibration_curve(chance, happened)
    assert sum(group["n"] for group in curve) == 4_000
    assert sum(group["n"] * group["observed"] for group in curve) == pytest.approx(happened.sum())
    assert sum(not group["low"] <= group["observed"] <= group["high"] for group in curve) <= 2
    assert sum(group["low"] <= group["observed"] <= group["high"] for group in calibration_curve(chance / 2, happened)) <= 2
    for group in curve:
        inside = binom.cdf(group["n"] * group["high"] + 1e-9, group["n"], group["forecast"])
        assert inside - binom.cdf(group["n"] * group["low"] - 1 + 1e-9, group["n"], group["forecast"]) >= 0.9


def test_a_chance_of_one_has_a_group() -> None:
    assert calibration_curve(np.array([0.0, 1.0]), np.array([0.0, 1.0]))[-1]["n"] == 1


def test_the_average_of_tools_that_each_answer_many_times_is_no_surer_than_the_tools() -> None:
    """Ten tools asked fifty times each: the interval is that of ten draws, not of five hundred."""
    rng = np.random.default_rng(11)
    of_tool = rng.normal(size=10)
    found = average(np.repeat(of_tool, 50), np.repeat(np.arange(10), 50))
    assert found.mean == pytest.approx(of_tool.mean())
    half = 1.645 * of_tool.std() / np.sqrt(10)
    assert (found.high - found.low) / 2 == pytest.approx(half, rel=0.1)


def test_the_range_of_a_count_of_like_chances_is_the_binomials() -> None:
    low, high = count_range(np.full(200, 0.07))
    assert (low, high) == (binom.ppf(0.05, 200, 0.07), binom.ppf(0.95, 200, 0.07))


def test_what_tools_share_widens_the_range_of_a_count_as_it_does_in_simulation() -> None:
    """Fleets whose chances hang on one thing that all tools share, and on one that each has of its own."""
    rng = np.random.default_rng(9)
    draws, tools = 4_000, 120
    common, own, usual = 0.5 * rng.standard_normal(draws), 0.8 * rng.standard_normal((draws, tools)), rng.normal(-2.8, 0.7, tools)
    chance = 1.0 / (1.0 + np.exp(-(usual + common[:, None] + own)))
    counts = (rng.random(chance.shape) < chance).sum(axis=1)
    variance = shared_variance([[chance[:, i]] for i in range(tools)])
    alone = chance.mean(axis=0)
    assert variance + float((alone * (1.0 - alone)).sum()) == pytest.approx(counts.var(), rel=0.06)  # of 4,000 counts 2.2 % each way
    low, high = count_range(alone, variance)
    assert float(((counts >= low) & (counts <= high)).mean()) == pytest.approx(0.9, abs=0.03)
    narrow = count_range(alone)
    assert float(((counts >= narrow[0]) & (counts <= narrow[1])).mean()) < 0.75


def test_tools_that_share_nothing_have_no_variance_in_common() -> None:
    rng = np.random.default_rng(10)
    chance = rng.beta(2.0, 20.0, (20_000, 50))
    assert shared_variance([[chance[:, i]] for i in range(50)]) < 0.03 * float(chance.var(axis=0).sum())
    assert shared_variance([[], []]) == 0.0
