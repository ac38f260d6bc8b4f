"""The three laws: identities, against scipy, one median and one spread; and draws of several laws side by side."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_examples import examples
from scipy.integrate import quad
from scipy.stats import fisk, lognorm, weibull_min

from wearfit import law
from wearfit.law import LAWS, LOG_LOGISTIC, LOGNORMAL, WEIBULL, Shape

ETA = 350_000.0
LOG_ETA = np.log(ETA)
SHAPES = np.array([0.7, 1.0, 3.0, 8.0])
SPENT = np.geomspace(1e3, 1.2e6, 60)  # [reference shots]
ALL = [pytest.param(code, id=name) for code, name in enumerate(LAWS)]

checked = examples(100)


def shape(code: int) -> Shape:
    return Shape(SHAPES[:, None], code)


def known(code: int, k: float) -> Any:
    """The law of scipy with the median and the standard deviation of log life of a Weibull law of shape k."""
    median = weibull_min(k, scale=ETA).median()
    sd = np.pi / np.sqrt(6.0) / k  # of the log of a Weibull life: that of a Gumbel law
    if code == WEIBULL:
        return weibull_min(k, scale=ETA)
    if code == LOG_LOGISTIC:
        return fisk(np.pi / np.sqrt(3.0) / sd, scale=median)  # of the log of such a life: that of a logistic law
    return lognorm(sd, scale=median)


@pytest.mark.parametrize("code", ALL)
def test_against_scipy(code: int) -> None:
    for k in SHAPES:
        of, law_of = known(code, k), Shape(k, code)
        near = of.sf(SPENT) > 1e-250
        assert law.survival(SPENT, LOG_ETA, law_of)[near] == pytest.approx(of.sf(SPENT[near]), rel=1e-9)
        log_density = law.log_hazard(SPENT, LOG_ETA, law_of) - law.cumulative_hazard(SPENT, LOG_ETA, law_of)
        assert log_density[near] == pytest.approx(of.logpdf(SPENT[near]), rel=1e-9, abs=1e-9)
        probability = np.linspace(0.01, 0.99, 25)
        assert law.wear_at(-np.log1p(-probability), LOG_ETA, law_of) == pytest.approx(of.ppf(probability), rel=1e-9)


@pytest.mark.parametrize("code", ALL)
def test_one_median_and_one_spread_of_log_life(code: int) -> None:
    of = Shape(2.4, code)
    assert law.wear_at(np.log(2.0), LOG_ETA, of) == pytest.approx(ETA * np.log(2.0) ** (1.0 / 2.4), rel=1e-12)

    def density(z: float) -> float:
        total = law.cumulative_hazard(np.exp(z), 0.0, of)
        return float(np.exp(law.log_hazard(np.exp(z), 0.0, of) - total + z))

    mean = quad(lambda z: z * density(z), -12.0, 6.0, limit=200)[0]
    variance = quad(lambda z: (z - mean) ** 2 * density(z), -12.0, 6.0, limit=200)[0]
    assert np.sqrt(variance) == pytest.approx(np.pi / np.sqrt(6.0) / 2.4, rel=1e-6)


@pytest.mark.parametrize("code", ALL)
def test_hazard_is_the_slope_of_the_cumulative_hazard(code: int) -> None:
    step = SPENT * 1e-5
    rise = law.cumulative_hazard(SPENT + step, LOG_ETA, shape(code)) - law.cumulative_hazard(SPENT - step, LOG_ETA, shape(code))
    steep = rise > 1e-200
    hazard = np.exp(law.log_hazard(SPENT, LOG_ETA, shape(code)))
    assert hazard[steep] == pytest.approx((rise / (2.0 * step))[steep], rel=1e-6)


@pytest.mark.parametrize("code", ALL)
@checked
@given(share=st.floats(0.05, 3.0), k=st.floats(0.5, 8.0), further=st.floats(1e-3, 20.0))
def test_wear_beyond_and_its_rise_undo_each_other(code: int, share: float, k: float, further: float) -> None:
    of, spent = Shape(np.array([k]), code), np.array([share * ETA])
    hazard, at = law.cumulative_hazard(spent, LOG_ETA, of), law.level(spent, LOG_ETA, of)
    longer = law.log_longer_at(hazard, at, further, of)
    assert law.rise_beyond(hazard, at, longer, of) == pytest.approx(further, rel=1e-7)
    assert spent * np.exp(longer) == pytest.approx(law.wear_at(hazard + further, LOG_ETA, of), rel=1e-7)
    step = 1e-5
    slope = (law.rise_beyond(hazard, at, longer + step, of) - law.rise_beyond(hazard, at, longer - step, of)) / (2.0 * step)
    assert np.exp(law.log_rise_beyond(at, longer, of)) == pytest.approx(slope, rel=1e-4)


@pytest.mark.parametrize("code", ALL)
def test_far_out_the_logs_stay_finite(code: int) -> None:
    """From no wear at all to two thousand characteristic lives, as of a tool that is tried in a class far too short-lived."""
    for z in (-40.0, -20.0, 0.0, 4.0, 7.6):
        for part in (law.log_cumulative_hazard, law.log_slope):
            assert np.isfinite(part(np.array([z]), Shape(np.array([3.0]), code))).all(), z


def test_draws_of_several_laws_are_each_of_their_own() -> None:
    laws = np.array([WEIBULL, LOG_LOGISTIC, LOGNORMAL, WEIBULL])
    mixed = law.shape_of_draws(SHAPES, laws)
    reached = np.linspace(0.2, 3.0, 5) * np.ones((4, 5))
    for i, code in enumerate(laws):
        alone = Shape(SHAPES[i], int(code))
        for part in (law.cumulative_hazard, law.log_hazard):
            assert part(SPENT, LOG_ETA, mixed[:, None])[i] == pytest.approx(part(SPENT, LOG_ETA, alone), rel=1e-14)
        assert law.wear_at(reached, LOG_ETA, mixed[:, None])[i] == pytest.approx(law.wear_at(reached[i], LOG_ETA, alone), rel=1e-14)
    assert mixed[np.array([1, 2])].law.tolist() == [LOG_LOGISTIC, LOGNORMAL]
    assert law.is_weibull(law.shape_of_draws(SHAPES, np.zeros(4)))
