"""Luck read from shared tables is to each tool, and to sums over tools, what luck drawn anew would be."""

import numpy as np
import pytest
from known_fleet import Tool, known_calibration
from scipy import stats

from wearfit.calibration import Calibration
from wearfit.forecasts.own_luck import bootstrap_means, exponential_draws, normal_draws

TOOLS, SAMPLES = 400, 1000


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return known_calibration([Tool(f"tool {i}") for i in range(TOOLS)], samples=SAMPLES)


@pytest.fixture(scope="module")
def wear(calibration: Calibration) -> np.ndarray:
    return exponential_draws(calibration, np.arange(TOOLS), "wear")


def test_each_tool_has_one_exponential_draw_in_each_stratum(wear: np.ndarray):
    stratum = np.floor(SAMPLES * np.exp(-wear) - 1e-9).astype(int)
    np.testing.assert_array_equal(np.sort(stratum, axis=0), np.arange(SAMPLES)[:, None].repeat(TOOLS, axis=1))


def test_a_normal_draw_is_one(calibration: Calibration):
    drawn = normal_draws(calibration, np.arange(TOOLS), "lead")
    # Sixteen tables of a thousand numbers each are behind them all.
    assert abs(drawn.mean()) < 4 / np.sqrt(16 * SAMPLES)
    assert abs(drawn.std() - 1) < 4 / np.sqrt(2 * 16 * SAMPLES)
    assert stats.kstest(drawn[:, 0], "norm").pvalue > 1e-3


@pytest.mark.parametrize("kind", ["exponential", "normal"])
def test_no_two_tools_go_together(calibration: Calibration, kind: str):
    drawn = (exponential_draws if kind == "exponential" else normal_draws)(calibration, np.arange(TOOLS), "lead")
    r = np.corrcoef(drawn.T)[np.triu_indices(TOOLS, 1)]
    # Of independent draws r has variance 1 / (n - 1); about one pair in 16,000 reads the same table from the same place.
    together = np.abs(r) > 0.99
    assert together.sum() <= stats.poisson.ppf(0.9999, len(r) / (16 * SAMPLES))
    assert np.abs(r[~together]).max() < 6 / np.sqrt(SAMPLES)
    assert r[~together].std() == pytest.approx(1 / np.sqrt(SAMPLES - 1), rel=0.1)


def test_one_tools_kinds_of_luck_do_not_go_together(calibration: Calibration, wear: np.ndarray):
    sudden = exponential_draws(calibration, np.arange(TOOLS), "sudden")
    r = [np.corrcoef(wear[:, i], sudden[:, i])[0, 1] for i in range(TOOLS)]
    assert np.std(r) == pytest.approx(1 / np.sqrt(SAMPLES), rel=0.2)


def test_sums_over_a_fleet_spread_as_those_of_independent_tools(wear: np.ndarray):
    """The variance of sums over m tools is m: pairs of tools add nothing to it in the middle."""
    fleets = np.random.default_rng(5).permutation(TOOLS).reshape(8, -1)
    ratio = [wear[:, fleet].sum(axis=1).var() / len(fleet) for fleet in fleets]
    assert np.mean(ratio) == pytest.approx(1.0, abs=4 * np.sqrt(2 / SAMPLES / len(fleets)))


@pytest.mark.parametrize("share", [0.02, 0.1, 0.5])
def test_how_many_tools_of_a_fleet_meet_bad_luck_at_once_is_binomial(wear: np.ndarray, share: float):
    """What copies and budgets hang on: how many lives end early in one and the same draw."""
    ended = (wear < -np.log1p(-share)).sum(axis=1)
    law = stats.binom(TOOLS, share)
    assert ended.mean() == pytest.approx(law.mean(), rel=0.02)
    assert ended.var() == pytest.approx(law.var(), rel=5 * np.sqrt(2 / SAMPLES))
    for probability in (0.05, 0.5, 0.95):
        at = law.ppf(probability)
        assert (ended <= at).mean() == pytest.approx(law.cdf(at), abs=5 * np.sqrt(0.25 / SAMPLES))


@pytest.mark.parametrize("missing", [0, 4])
def test_bootstrapped_means_of_two_tools_go_together_no_more_than_chance_has_it(calibration: Calibration, missing: int):
    values = np.random.default_rng(3).gamma(1.0, 1000.0, 24)
    values[:missing] = np.nan
    drawn = bootstrap_means(calibration, np.arange(100), np.tile(values, (100, 1)))
    r = np.corrcoef(drawn)[np.triu_indices(len(drawn), 1)]
    r = r[r < 0.99]  # the few pairs that share table and place
    assert np.abs(r).max() < 6 / np.sqrt(SAMPLES)
    # Rubin 1981: a Dirichlet(1, ..., 1) weighted mean of n values has mean m and variance s^2 / (n + 1).
    there = values[missing:]
    assert drawn.mean() == pytest.approx(there.mean(), rel=0.02)
    assert drawn.std() == pytest.approx(there.std() / np.sqrt(len(there) + 1), rel=0.05)


def test_a_bootstrapped_mean_of_equal_values_is_that_value(calibration: Calibration):
    values = np.full((2, 24), 1234.5)
    values[1, ::3] = np.nan
    np.testing.assert_allclose(bootstrap_means(calibration, np.arange(2), values), 1234.5, rtol=1e-13)
