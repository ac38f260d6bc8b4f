"""The law of readings against quadrature over what a life's own path may be, with densities of SciPy's t distribution."""

from collections.abc import Callable

import numpy as np
import pytest
from one_reading import log_chance_below, log_density
from scipy.stats import norm
from scipy.stats import t as student

from wearfit.growth import FAULT, FAULT_NOISE, Growth, Readings
from wearfit.growth_integral import MIDDLE, SIDE, STEP, log_marginal, way_drawn

Array = np.ndarray

PATHS = np.linspace(-7.0, 7.0, 71)  # standard deviations of an offset or a growth; of noise down to .25 of them sums are right to 1e-6
LEFT = np.linspace(0.01, 2.0, 20)  # log(C / D)


def by_quadrature(readings: Readings, log_share: Array, law: Growth, of_one: Callable[..., Array] = log_density) -> float:
    """Log-density of readings with offset and growth integrated out on a grid."""
    s, g = np.meshgrid(PATHS, PATHS, indexing="ij")
    total = -0.5 * (s**2 + g**2) - np.log(2.0 * np.pi)
    for i, way in enumerate(readings.log_way):
        noise = np.hypot(law.noise, readings.rounding[i])
        error = way - law.level - law.life_sd * s - (law.growth + law.growth_sd * g) * log_share[i]
        total = total + (log_chance_below(error, noise) if readings.below[i] else of_one(error, noise))
    top = total.max()
    return float(top + np.log(np.exp(total - top).sum() * (PATHS[1] - PATHS[0]) ** 2))


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


def test_of_one_exact_reading_the_density_is_right_where_its_noise_is_small_or_large() -> None:
    """Small: normal, of the life's spread, or wide. Large: that of its error. Faults elsewhere than at the mode are not seen: a percent."""
    for noise, life_sd in ((0.004, 0.3), (0.5, 0.003)):
        law = Growth(*(np.array(v) for v in (0.1, 1.0, noise, life_sd, 1e-9)))
        for way in (-0.2, 0.1, 0.3):
            readings, share = Readings(np.array([way]), np.zeros(1), np.zeros(1)), np.zeros(1)
            sound, fault = norm.logpdf(way, 0.1, life_sd), student.logpdf((way - 0.1) / FAULT_NOISE, 4) - np.log(FAULT_NOISE)
            either = np.logaddexp(np.log(1.0 - FAULT) + sound, np.log(FAULT) + fault)
            expected = either if noise < life_sd else log_density(np.array(way - 0.1), noise)
            assert float(log_marginal(readings, share, law)) == pytest.approx(float(expected), abs=0.015)


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
        for log_weight in (ours, theirs):
            weight = np.exp(log_weight - log_weight.max())
            mean = (weight @ LEFT) / weight.sum()
            moments.append((mean, np.sqrt(weight @ (LEFT - mean) ** 2 / weight.sum())))
        (mean, sd), (true_mean, true_sd) = moments
        shifts.append((mean - true_mean) / true_sd)
        ratios.append(sd / true_sd)
    assert np.quantile(np.abs(shifts), 0.9) < 0.012
    assert np.abs(shifts).max() < 0.025
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


def median_left(readings: Readings, log_share: Array, law: Growth, of_one: Callable[..., Array] | None) -> float:
    """Median of (C - D) / D by the law of readings, or by quadrature with another density, log(C / D) as likely anywhere in `LEFT`."""
    if of_one is None:
        log_weight = log_marginal(readings, log_share[:, None] - LEFT, law)
    else:
        log_weight = np.array([by_quadrature(readings, log_share - left, law, of_one) for left in LEFT])
    weight = np.exp(log_weight - log_weight.max())
    return float(np.expm1(np.interp(0.5, np.cumsum(weight) / weight.sum(), LEFT)))


def test_a_reading_ten_times_too_large_beside_others_moves_what_is_left_by_little() -> None:
    """Three sound readings and a fault, 40 lives: nine in ten move by less than 15 %. By tails of t_4 alone it were three times that."""
    rng = np.random.default_rng(3)
    moved, by_tails_alone = [], []
    for _ in range(40):
        law = Growth(*(np.array(v) for v in (0.0, 1.1, 0.25 / np.sqrt(2.0), 0.15, 0.15)))
        log_share, (s, g) = np.log(np.linspace(0.35, 1.0, 4)), rng.standard_normal(2)
        log_way = 0.15 * s + (1.1 + 0.15 * g) * (log_share - np.log(rng.uniform(1.15, 2.2))) + law.noise * rng.standard_t(4, 4)
        log_way[-1] += np.log(10.0)
        for of_one, results in ((None, moved), (lambda error, noise: student.logpdf(error / noise, 4) - np.log(noise), by_tails_alone)):
            before = median_left(Readings(log_way[:3], np.zeros(3), np.zeros(3)), log_share[:3], law, of_one)
            results.append(median_left(Readings(log_way, np.zeros(4), np.zeros(4)), log_share, law, of_one) / before - 1.0)
    assert np.quantile(np.abs(moved), 0.9) < 0.15
    assert np.median(by_tails_alone) < 3.0 * np.median(moved) < 0.0


def test_a_lifes_own_way_is_drawn_about_where_its_readings_put_it() -> None:
    """Sound readings: the posterior of offset and growth summed on a grid has the mean and the spread of the draws."""
    rng = np.random.default_rng(17)
    law = Growth(*(np.array(v) for v in (0.05, 1.2, 0.15, 0.25, 0.2)))
    log_share = np.log(np.array([0.3, 0.45, 0.6, 0.8])) - 0.2
    for _ in range(6):
        own_s, own_g = rng.standard_normal(2)
        way = law.level + law.life_sd * own_s + (law.growth + law.growth_sd * own_g) * log_share + 0.1 * rng.standard_normal(4)
        readings = Readings(way, np.zeros(4), np.zeros(4))
        s, g = np.meshgrid(PATHS, PATHS, indexing="ij")
        density = -0.5 * (s**2 + g**2)
        for of_one, share in zip(way, log_share, strict=True):
            density = density + log_density(of_one - law.level - law.life_sd * s - (law.growth + law.growth_sd * g) * share, law.noise)
        mass = np.exp(density - density.max())
        mass /= mass.sum()
        many = np.ones(20_000)
        drawn = way_drawn(
            readings, log_share[:, None] * many, Growth(*(v * many for v in vars(law).values())), tuple(rng.standard_normal((2, 20_000)))
        )
        for at, of_it in zip((s, g), drawn, strict=True):
            mean = (mass * at).sum()
            spread = np.sqrt((mass * (at - mean) ** 2).sum())
            assert abs(of_it.mean() - mean) < 0.15 * spread
            assert of_it.std() == pytest.approx(spread, rel=0.15)


def test_nothing_steps_where_several_readings_may_be_faults() -> None:
    """Twelve readings of a mould, seven below the gauge and the last two far over what the rest say, as its capacity moves.

    Steps from no offset, and from all readings alike, ended on the same lesser mode here or on a shoulder, five nats too low.
    """
    share = np.array([0.02, 0.065, 0.122, 0.216, 0.241, 0.373, 0.471, 0.779, 0.806, 0.905, 1.054, 1.054])
    readings = Readings(
        np.log([0.08] * 9 + [0.16, 1.38, 1.6]), np.append(np.ones(7), np.zeros(5)), np.append(np.zeros(7), [0.1, 0.1, 0.05, 0.0, 0.0])
    )
    law = Growth(*(np.array(v) for v in (-0.016, 1.033, 0.176, 0.329, 0.188)))
    log_share = np.log(share)[:, None] - np.linspace(-0.4, 0.8, 241)
    exact, found = np.array([by_quadrature(readings, each, law) for each in log_share.T]), log_marginal(readings, log_share, law)
    assert np.diff(found) == pytest.approx(np.diff(exact), abs=0.1)
    assert found == pytest.approx(exact, abs=np.log(2.0) + 0.2)  # where two modes hold as much, the nodes stand about one
