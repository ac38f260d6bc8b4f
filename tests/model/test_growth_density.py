"""What one reading says, as compiled functions: the density against SciPy's t distribution, its derivatives against differences."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.stats import t as student

from wearfit.growth import FAULT, FAULT_NOISE, LOG_PEAK
from wearfit.model.growth_density import (
    SOUND_PEAK,
    bends,
    bends_below,
    fault_over_sound,
    log_below,
    noise_parts,
    slopes,
    slopes_below,
    sound_share,
    sound_slopes,
)

ERRORS = (-6.0, -2.0, -0.5, -0.1, 0.05, 0.4, 1.0, 3.0)
VARIANCES = (0.01, 0.09, 0.5)
STEP = 1e-5


def log_density(error: float, variance: float, below: bool) -> float:
    noise = np.sqrt(variance)
    if below:
        parts = student.logcdf(error / noise, 4), student.logcdf(error / FAULT_NOISE, 4)
    else:
        parts = (student.logpdf(error / noise, 4) - np.log(noise), student.logpdf(error / FAULT_NOISE, 4) - np.log(FAULT_NOISE))
    return float(np.logaddexp(np.log1p(-FAULT) + parts[0], np.log(FAULT) + parts[1]))


def share_at(error: float, variance: float) -> tuple[float, float, float, float]:
    """What derivatives ask of a reading: one over the variance of its noise, and its `sound_share`."""
    precision, odds = noise_parts(variance)
    return precision, *sound_share(error * error, precision, odds)


def slopes_of(error: float, variance: float, below: bool) -> tuple[float, float]:
    return slopes_below(error, variance) if below else slopes(error, *share_at(error, variance))


def differences(of: Callable[[float, float], float], error: float, variance: float) -> tuple[float, float]:
    rise = STEP * variance
    by_error = (of(error + STEP, variance) - of(error - STEP, variance)) / (2.0 * STEP)
    return by_error, (of(error, variance + rise) - of(error, variance - rise)) / (2.0 * rise)


@pytest.mark.parametrize("variance", VARIANCES)
@pytest.mark.parametrize("error", ERRORS)
def test_the_density_is_that_of_a_sound_reading_or_a_fault(error: float, variance: float) -> None:
    sound = SOUND_PEAK - 0.5 * np.log(variance) - 2.5 * np.log1p(0.25 * error**2 / variance)
    odds = fault_over_sound(error**2, *noise_parts(variance))
    assert sound + np.log1p(odds) == pytest.approx(log_density(error, variance, False), rel=1e-12)
    assert log_below(error, np.sqrt(variance)) == pytest.approx(log_density(error, variance, True), rel=1e-9)
    assert np.log1p(-FAULT) + LOG_PEAK == SOUND_PEAK


@pytest.mark.parametrize("below", [False, True])
@pytest.mark.parametrize("variance", VARIANCES)
@pytest.mark.parametrize("error", ERRORS)
def test_its_derivatives_are_those_of_differences(error: float, variance: float, below: bool) -> None:
    by_density = differences(lambda e, v: log_density(e, v, below), error, variance)
    assert slopes_of(error, variance, below) == pytest.approx(by_density, rel=1e-5, abs=1e-7)
    by_pull = differences(lambda e, v: -slopes_of(e, v, below)[0], error, variance)
    bend = bends_below(error, variance) if below else bends(error, *share_at(error, variance))
    assert bend == pytest.approx(by_pull, rel=1e-5, abs=1e-6)


@pytest.mark.parametrize("variance", VARIANCES)
@pytest.mark.parametrize("error", ERRORS)
def test_the_chance_to_be_sound_moves_as_it_should(error: float, variance: float) -> None:
    by_chance = differences(lambda e, v: float(np.log(share_at(e, v)[1])), error, variance)
    assert sound_slopes(error, *share_at(error, variance)) == pytest.approx(by_chance, rel=1e-4, abs=1e-6)


def test_a_reading_ten_times_too_large_is_a_fault() -> None:
    assert share_at(np.log(10.0), 0.2**2)[1] < 0.1
    assert share_at(0.2, 0.2**2)[1] > 0.95
