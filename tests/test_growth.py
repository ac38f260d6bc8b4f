"""The law of readings against quadrature over what a life's own path may be, and against SciPy's t distribution."""

import numpy as np
import pytest
from scipy.stats import t as student

from wearfit.growth import MIDDLE, SIDE, STEP, Growth, Readings, cdf_slope, log_cdf, log_marginal

Array = np.ndarray

PATHS = np.linspace(-7.0, 7.0, 141)  # standard deviations of a life's offset and of its growth
LEFT = np.linspace(0.01, 2.0, 20)  # log(C / D)


def by_quadrature(readings: Readings, log_share: Array, law: Growth) -> float:
    """Log-density of readings with offset and growth integrated out on a grid."""
    s, g = np.meshgrid(PATHS, PATHS, indexing="ij")
    log_density = -0.5 * (s**2 + g**2) - np.log(2.0 * np.pi)
    for i, way in enumerate(readings.log_way):
        noise = np.hypot(law.noise, readings.rounding[i])
        error = (way - law.level - law.life_sd * s - (law.growth + law.growth_sd * g) * log_share[i]) / noise
        log_density = log_density + (student.logcdf(error, 4) if readings.below[i] else student.logpdf(error, 4) - np.log(noise))
    top = log_density.max()
    return float(top + np.log(np.exp(log_density - top).sum() * (PATHS[1] - PATHS[0]) ** 2))


def a_life(rng: np.random.Generator) -> tuple[Readings, Array, Growth]:
    """Readings of a life that has `LEFT` somewhere ahead, some below the gauge, some of a coarse one, some faults."""
    n = int(rng.integers(1, 7))
    law = Growth(*(np.array(v) for v in (0.0, 1.2, rng.uniform(0.08, 0.35), rng.uniform(0.05, 0.3), rng.uniform(0.02, 0.25))))
    log_share = np.log(np.sort(rng.uniform(0.2, 1.0, n)))
    middle = law.growth * (log_share - rng.uniform(0.05, 1.0))
    s, g = rng.standard_normal(2)
    log_way = middle + law.life_sd * s + law.growth_sd * g * log_share + law.noise * rng.standard_t(4, n)
    if rng.random() < 0.15:
        log_way[rng.integers(n)] += np.log(10.0)
    below = ((rng.random(n) < 0.2) & (log_way < middle + 0.3)).astype(float)
    return Readings(log_way, below, rng.uniform(0.0, 0.2, n) * (rng.random(n) < 0.3)), log_share, law


def test_distribution_is_that_of_t_with_four_degrees_of_freedom() -> None:
    x = np.linspace(-60.0, 60.0, 241)
    assert log_cdf(x) == pytest.approx(student.logcdf(x, 4), rel=1e-9)
    assert cdf_slope(x) == pytest.approx(np.exp(student.logpdf(x, 4) - student.logcdf(x, 4)), rel=1e-9)


def test_of_one_exact_reading_the_density_is_right_where_its_noise_is_small_or_large() -> None:
    """Small: normal, of the life's spread. Large: t, of the noise."""
    for noise, life_sd in ((0.004, 0.3), (0.5, 0.003)):
        law = Growth(*(np.array(v) for v in (0.1, 1.0, noise, life_sd, 1e-9)))
        for way in (-0.2, 0.1, 0.3):
            readings, share = Readings(np.array([way]), np.zeros(1), np.zeros(1)), np.zeros(1)
            normal = -0.5 * ((way - 0.1) / life_sd) ** 2 - np.log(life_sd * np.sqrt(2.0 * np.pi))
            heavy = student.logpdf((way - 0.1) / noise, 4) - np.log(noise)
            assert float(log_marginal(readings, share, law)) == pytest.approx(normal if noise < life_sd else heavy, abs=0.01)


def test_what_readings_say_of_a_capacity_is_what_quadrature_says() -> None:
    """Mean and standard deviation of log C of 150 lives. Bounds: what was measured, rounded up; nine nodes are approximate."""
    rng = np.random.default_rng(7)
    shifts, ratios = [], []
    for _ in range(150):
        readings, log_share, law = a_life(rng)
        prior = -0.5 * LEFT**2
        ours = log_marginal(readings, log_share[:, None] - LEFT, law) + prior
        theirs = np.array([by_quadrature(readings, log_share - left, law) for left in LEFT]) + prior
        moments = []
        for log_density in (ours, theirs):
            weight = np.exp(log_density - log_density.max())
            mean = (weight @ LEFT) / weight.sum()
            moments.append((mean, np.sqrt(weight @ (LEFT - mean) ** 2 / weight.sum())))
        (mean, sd), (true_mean, true_sd) = moments
        shifts.append((mean - true_mean) / true_sd)
        ratios.append(sd / true_sd)
    assert np.quantile(np.abs(shifts), 0.9) < 0.01
    assert np.abs(shifts).max() < 0.03
    assert abs(np.mean(shifts)) < 0.002
    assert 0.998 < np.median(ratios) < 1.002
    assert np.quantile(np.abs(np.log(ratios)), 0.9) < 0.01


@pytest.mark.parametrize("n", [2, 4])
def test_the_noise_at_which_many_lives_are_likeliest_is_that_of_quadrature(n: int) -> None:
    """Of 60 lives with as many readings as given. At the mode alone (Laplace's method) it comes out 13 to 23 % larger."""
    rng = np.random.default_rng(11)
    noises = np.exp(np.linspace(np.log(0.07), np.log(0.16), 9))
    ours, theirs = np.zeros(9), np.zeros(9)
    for _ in range(60):
        log_share, (s, g) = np.sort(np.log(rng.uniform(0.15, 1.0, n))), rng.standard_normal(2)
        log_way = -0.1 + 0.3 * s + (1.3 + 0.25 * g) * log_share + 0.1 * rng.standard_t(4, n)
        readings = Readings(log_way, np.zeros(n), np.zeros(n))
        laws = [Growth(*(np.array(v) for v in (-0.1, 1.3, noise, 0.3, 0.25))) for noise in noises]
        ours += [float(log_marginal(readings, log_share, law)) for law in laws]
        theirs += [by_quadrature(readings, log_share, law) for law in laws]
    peaks = []
    for total in (ours, theirs):
        at = int(np.clip(total.argmax(), 1, 7))
        bend, slope, _ = np.polyfit(np.log(noises[at - 1 : at + 2]), total[at - 1 : at + 2], 2)
        peaks.append(np.exp(-0.5 * slope / bend))
    assert noises[0] < peaks[1] < noises[-1]
    assert peaks[0] == pytest.approx(peaks[1], rel=0.04)


def test_the_rule_of_three_nodes_is_exact_for_a_normal_density_and_for_one_of_t() -> None:
    """Of t with the scale that gives its density, over its height, the normal's integral: sqrt(2 pi)."""
    scale = np.sqrt(2.0 * np.pi) * student.pdf(0.0, 4)
    for fallen in (np.exp(-0.5 * STEP**2), student.pdf(STEP / scale, 4) / student.pdf(0.0, 4)):
        assert MIDDLE + 2.0 * SIDE * fallen == pytest.approx(1.0, abs=1e-6)


def test_lives_side_by_side_are_as_each_alone() -> None:
    rng = np.random.default_rng(8)
    readings, log_share, law = a_life(rng)
    side_by_side = log_marginal(readings, log_share[:, None] - LEFT, law)
    for left, value in zip(LEFT, side_by_side, strict=True):
        assert float(log_marginal(readings, log_share - left, law)) == pytest.approx(value, abs=1e-4)
