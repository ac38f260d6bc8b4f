"""Weights and power-scaling against closed forms: a normal mean with a normal prior, whose posterior under any power is normal."""

from math import log2, sqrt

import numpy as np
import pytest
from arviz_base import from_dict
from arviz_stats import psense
from scipy.integrate import quad
from scipy.stats import norm

from wearfit.model.importance import ALPHAS, sensitivity, smoothed

PRIOR_MEAN, PRIOR_SD, DATA_MEAN, DATA_SD = 0.0, 1.0, 2.0, 0.8  # of the mean; of the data's mean, given it


def scaled(prior_power: float, likelihood_power: float) -> tuple[float, float]:
    """Mean and standard deviation of the posterior with prior and likelihood raised to powers."""
    a, b = prior_power / PRIOR_SD**2, likelihood_power / DATA_SD**2
    return (a * PRIOR_MEAN + b * DATA_MEAN) / (a + b), 1.0 / sqrt(a + b)


@pytest.fixture(scope="module")
def draws() -> np.ndarray:
    rng = np.random.default_rng(11)
    mean, sd = scaled(1.0, 1.0)
    # Evenly spread in probability, so that what is left is the weights' own error.
    return np.asarray(rng.permutation(norm.ppf((np.arange(4000) + 0.5) / 4000, mean, sd)))


@pytest.mark.parametrize("power", [0.5, 0.8, 1.25, 2.0])
@pytest.mark.parametrize("part", ["prior", "likelihood"])
def test_weighted_draws_are_those_of_the_scaled_posterior(draws: np.ndarray, power: float, part: str) -> None:
    prior = norm.logpdf(draws, PRIOR_MEAN, PRIOR_SD)
    likelihood = norm.logpdf(DATA_MEAN, draws, DATA_SD)
    w = smoothed((power - 1.0) * (prior if part == "prior" else likelihood))
    mean, sd = scaled(power, 1.0) if part == "prior" else scaled(1.0, power)
    assert w.reliable
    assert w.weights.sum() == pytest.approx(1.0)
    found = float(w.weights @ draws)
    assert found == pytest.approx(mean, abs=0.02)
    assert sqrt(float(w.weights @ (draws - found) ** 2)) == pytest.approx(sd, rel=0.03)


def cumulative_jensen_shannon(first: tuple[float, float], second: tuple[float, float]) -> float:
    """The distance of two normals by its definition (Nguyen & Vreeken 2015), the greater of the two ways to accumulate."""

    def one_way(sign: float) -> float:
        p, q = (norm(sign * mean, sd) for mean, sd in (first, second))

        def part(x: float, a: norm, b: norm) -> float:
            mixed = 0.5 * (a.cdf(x) + b.cdf(x))
            return float(a.cdf(x) * np.log2(a.cdf(x) / mixed) + (b.cdf(x) - a.cdf(x)) / (2.0 * np.log(2.0))) if mixed > 1e-12 else 0.0

        # The measure accumulates over the range of the draws, which their own number bounds.
        low, high = (
            (sign * np.asarray(norm.ppf([0.5 / 4000, 1 - 0.5 / 4000], *first))).min(),
            (sign * np.asarray(norm.ppf([0.5 / 4000, 1 - 0.5 / 4000], *first))).max(),
        )
        both = sum(quad(part, low, high, args=pair, limit=400, epsabs=1e-12)[0] for pair in ((p, q), (q, p)))
        bound = sum(quad(a.cdf, low, high, limit=200)[0] for a in (p, q))
        return sqrt(max(both, 0.0) / bound)

    return max(one_way(1.0), one_way(-1.0))


@pytest.mark.parametrize("part", ["prior", "likelihood"])
def test_sensitivity_is_that_of_the_closed_form(draws: np.ndarray, part: str) -> None:
    log_density = norm.logpdf(draws, PRIOR_MEAN, PRIOR_SD) if part == "prior" else norm.logpdf(DATA_MEAN, draws, DATA_SD)
    at = [scaled(a, 1.0) if part == "prior" else scaled(1.0, a) for a in ALPHAS]
    low, high = (cumulative_jensen_shannon(scaled(1.0, 1.0), moved) for moved in at)
    exact = 0.5 * (-low / log2(ALPHAS[0]) + high / log2(ALPHAS[1]))
    assert exact > 0.05  # this prior does tell against these data
    assert sensitivity(draws, np.asarray(log_density)) == pytest.approx(exact, rel=0.1)


def test_sensitivity_is_that_of_the_library_on_a_whole_posterior(draws: np.ndarray) -> None:
    prior = np.asarray(norm.logpdf(draws, PRIOR_MEAN, PRIOR_SD))
    tree = from_dict({"posterior": {"mu": draws.reshape(4, 1000)}, "log_prior": {"mu": prior.reshape(4, 1000)}})
    theirs = float(psense(tree, group="prior")["mu"])
    assert sensitivity(draws, prior) == pytest.approx(theirs, rel=0.05)  # they smooth the tail on both sides


def test_what_never_varies_moves_nothing(draws: np.ndarray) -> None:
    assert sensitivity(np.ones(4000), draws) == 0.0
    assert sensitivity(draws, np.zeros(4000)) == 0.0
    even = smoothed(np.full(4000, 3.0))
    np.testing.assert_allclose(even.weights, 1 / 4000)
    assert even.reliable


def test_a_few_draws_that_stand_for_all_are_not_relied_on() -> None:
    rng = np.random.default_rng(3)
    assert not smoothed(8.0 * rng.standard_normal(4000)).reliable
