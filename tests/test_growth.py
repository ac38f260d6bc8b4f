"""Densities of one reading against SciPy's t distribution."""

import numpy as np
import pytest
from one_reading import log_chance_below
from scipy.stats import t as student

from wearfit.growth import density, log_below, log_cdf, share_below, slope_below


def test_distribution_is_that_of_t_with_four_degrees_of_freedom() -> None:
    x = np.linspace(-60.0, 60.0, 241)
    assert log_cdf(x) == pytest.approx(student.logcdf(x, 4), rel=1e-9)
    assert density(x) == pytest.approx(student.pdf(x, 4), rel=1e-9)


def test_a_reading_below_the_gauge_is_sound_or_a_fault() -> None:
    error, noise, step = np.linspace(-6.0, 6.0, 121), np.array(0.2), 1e-4
    assert log_below(error, noise) == pytest.approx(log_chance_below(error, noise), rel=1e-9)
    slope, bend = slope_below(error, noise)
    up, here, down = (log_chance_below(error + by, noise) for by in (step, 0.0, -step))
    assert slope == pytest.approx((up - down) / (2.0 * step), rel=1e-4, abs=1e-7)
    assert bend == pytest.approx((2.0 * here - up - down) / step**2, rel=1e-3, abs=1e-5)


def test_the_share_below_is_the_chance_without_its_logarithm() -> None:
    error = np.linspace(-6.0, 6.0, 61)
    for noise in (0.05, 0.3, 1.5):
        np.testing.assert_allclose(share_below(error, np.array(noise)), np.exp(log_chance_below(error, noise)), atol=1e-12)
