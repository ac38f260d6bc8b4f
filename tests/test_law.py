"""Identities of the wear law, the law against scipy, and the same law on PyTensor."""

from decimal import Decimal, getcontext

import numpy as np
import pytensor.tensor as pt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_examples import examples
from scipy.stats import weibull_min

from wearfit import law

ETA, SHAPES = 350_000.0, np.array([0.7, 1.0, 3.0, 8.0])  # shapes on a leading axis below
SPENT = np.geomspace(1e3, 1.2e6, 60)  # [reference shots]
K = SHAPES[:, None]
LOG_ETA = np.log(ETA)

checked = examples(100)
SPENT_SHARES = st.floats(1e-4, 3.0)  # of the characteristic life
ANY_SHAPE = st.floats(0.5, 12.0)


def test_survival_is_that_of_the_cumulative_hazard() -> None:
    assert law.survival(SPENT, LOG_ETA, K) == pytest.approx(np.exp(-law.cumulative_hazard(SPENT, LOG_ETA, K)), rel=1e-14)


def test_hazard_is_the_slope_of_the_cumulative_hazard() -> None:
    step = SPENT * 1e-5
    rise = law.cumulative_hazard(SPENT + step, LOG_ETA, K) - law.cumulative_hazard(SPENT - step, LOG_ETA, K)
    assert np.exp(law.log_hazard(SPENT, LOG_ETA, K)) == pytest.approx(rise / (2.0 * step), rel=1e-7)


def test_slope_is_that_of_the_log_cumulative_hazard() -> None:
    z, step = np.linspace(-4.0, 1.0, 21), 1e-5
    rise = law.log_cumulative_hazard(z + step, K) - law.log_cumulative_hazard(z - step, K)
    assert np.exp(law.log_slope(z, K)) == pytest.approx(rise / (2.0 * step), rel=1e-7)


@checked
@given(share=SPENT_SHARES, shape=ANY_SHAPE, further=st.floats(1e-3, 20.0))
def test_ratio_inverts_the_cumulative_hazard(share: float, shape: float, further: float) -> None:
    z = np.log(share)
    assert law.ratio_at(np.exp(law.log_cumulative_hazard(z, shape)), shape) == pytest.approx(z, abs=1e-9)
    assert law.log_cumulative_hazard(law.ratio_at(further, shape), shape) == pytest.approx(np.log(further), abs=1e-9)


@checked
@given(share=SPENT_SHARES, shape=ANY_SHAPE, probability=st.floats(1e-3, 0.999))
def test_conditional_quantile_inverts_the_conditional_survival(share: float, shape: float, probability: float) -> None:
    """Of lives that have reached D, the share `probability` goes on beyond the wear at H(D) - log(probability)."""
    spent = share * ETA
    reached = law.wear_at(law.cumulative_hazard(spent, LOG_ETA, shape) - np.log(probability), LOG_ETA, shape)
    assert reached >= spent
    goes_on = np.exp(law.cumulative_hazard(spent, LOG_ETA, shape) - law.cumulative_hazard(reached, LOG_ETA, shape))
    assert goes_on == pytest.approx(probability, rel=1e-9)


def test_against_scipy() -> None:
    known = weibull_min(K, scale=ETA)
    assert law.survival(SPENT, LOG_ETA, K) == pytest.approx(known.sf(SPENT), rel=1e-10)
    log_density = law.log_hazard(SPENT, LOG_ETA, K) - law.cumulative_hazard(SPENT, LOG_ETA, K)
    assert log_density == pytest.approx(known.logpdf(SPENT), rel=1e-10)
    probability = np.linspace(0.01, 0.99, 25)
    assert law.wear_at(-np.log1p(-probability), LOG_ETA, K) == pytest.approx(known.ppf(probability), rel=1e-10)


def test_no_wear_is_no_hazard() -> None:
    """An unworn life has survived with certainty, and the logs stay finite there."""
    assert law.survival(0.0, LOG_ETA, K) == pytest.approx(1.0, abs=1e-6)
    assert np.isfinite(law.log_hazard(0.0, LOG_ETA, K)).all()


def test_capacity_of_a_life_is_exponential_in_its_hazard() -> None:
    """H(C) - H(D) ~ Exp(1): among capacities drawn so, those of new lives follow the law."""
    excess = np.random.default_rng(8).standard_exponential(20_000)
    capacity = law.wear_at(excess, LOG_ETA, 3.0)
    share = np.mean(capacity > 0.8 * ETA)
    expected = weibull_min(3.0, scale=ETA).sf(0.8 * ETA)
    assert share == pytest.approx(expected, abs=4.0 * np.sqrt(expected * (1.0 - expected) / 20_000))


def test_numpy_and_pytensor_agree() -> None:
    k = pt.constant(K)
    graph = [
        law.log_slope(np.log(SPENT / ETA), k, pt),
        law.cumulative_hazard(SPENT, LOG_ETA, k, pt),
        law.log_hazard(SPENT, LOG_ETA, k, pt),
        law.survival(SPENT, LOG_ETA, k, pt),
        law.wear_at(SPENT / ETA, LOG_ETA, k, pt),
        law.log1mexp(pt.constant(SPENT / ETA), pt),
    ]
    plain = [
        law.log_slope(np.log(SPENT / ETA), K),
        law.cumulative_hazard(SPENT, LOG_ETA, K),
        law.log_hazard(SPENT, LOG_ETA, K),
        law.survival(SPENT, LOG_ETA, K),
        law.wear_at(SPENT / ETA, LOG_ETA, K),
        law.log1mexp(SPENT / ETA),
    ]
    for symbolic, numbers in zip(graph, plain, strict=True):
        assert symbolic.eval(mode="FAST_COMPILE") == pytest.approx(numbers, rel=1e-12)


# From where exp(-x) is all but one, through the switch of formulas at log 2, to where it is next to nothing.
@pytest.mark.parametrize("x", [1e-300, 1e-18, 1e-9, 1e-3, 0.5, float(np.log(2.0)), 0.7, 3.0, 30.0, 700.0])
def test_log1mexp_at_both_ends(x: float) -> None:
    getcontext().prec = 60 + int(max(0.0, -np.log10(x))) + int(x)
    exact = (1 - (-Decimal(x)).exp()).ln()
    assert float(law.log1mexp(np.array(x))) == pytest.approx(float(exact), rel=4e-16)


def test_log1mexp_has_a_gradient_at_both_ends() -> None:
    """d/dx log(1 - exp(-x)) = 1 / (exp(x) - 1), which a branch not taken must not spoil."""
    x = np.array([1e-18, 1e-9, 0.5, 0.7, 30.0])
    variable = pt.dvector("x")
    slope = pt.grad(law.log1mexp(variable, pt).sum(), variable)
    assert slope.eval({variable: x}, mode="FAST_COMPILE") == pytest.approx(1.0 / np.expm1(x), rel=1e-12)
