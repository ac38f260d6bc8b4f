"""What is left of a life: without readings in closed form, with them against sums over a fine grid."""

import numpy as np
import pytest

from wearfit import law
from wearfit.growth import Growth, Readings
from wearfit.model.read_capacity import LiveRead
from wearfit.remaining import DEEPEST, Remaining, Track, log_likelihood, log_prior, packed, remaining, unpacked

Array = np.ndarray

DRAWS = 16
RNG = np.random.default_rng(21)
K = np.exp(RNG.normal(np.log(3.0), 0.1, DRAWS))
SHAPE = law.Shape(K)
LOG_LIFE = np.log(3e5) + 0.3 * RNG.standard_normal(DRAWS)
SPENT = 1e5 * np.exp(0.2 * RNG.standard_normal(DRAWS))
FINE = np.linspace(-14.0, 10.0, 8_001)  # of q


def track(spent_shares: Array, noise: float, seed: int) -> Track:
    """Readings of a life with half a life ahead, in the middle of one draw's belief."""
    log_share = np.log(spent_shares)
    error = noise * np.random.default_rng(seed).standard_t(4, len(log_share))
    readings = Readings(1.2 * (log_share - 0.5) + error, np.zeros(len(log_share)), np.zeros(len(log_share)))
    columns = (np.full(DRAWS, v) for v in (0.0, 1.2, noise, 0.15, 0.12))
    return Track(readings, np.tile(log_share, (DRAWS, 1)), Growth(*columns))


ALL = [pytest.param(law.Shape(K, code), id=name) for code, name in enumerate(law.LAWS)]


def on_a_grid(tracks: list[Track], shape: law.Shape) -> tuple[Array, Array]:
    """Log mass, and the share below each point of FINE."""
    hazard, level = (np.asarray(of(SPENT, LOG_LIFE, shape)) for of in (law.cumulative_hazard, law.level))
    # e^-E dE by q, E the hazard from D to D (1 + e^q), by differences of the hazard alone.
    edges = np.concatenate([FINE - 0.5 * (FINE[1] - FINE[0]), [FINE[-1] + 0.5 * (FINE[1] - FINE[0])]])
    rise = law.cumulative_hazard(SPENT[:, None] * (1.0 + np.exp(edges)), LOG_LIFE[:, None], shape[:, None]) - hazard[:, None]
    alone = -np.diff(np.exp(-rise), axis=1) / np.diff(edges)
    assert np.exp(log_prior(FINE, hazard, shape, level)) == pytest.approx(alone, rel=2e-3, abs=1e-6)
    density = np.exp(log_prior(FINE, hazard, shape, level) + log_likelihood(np.logaddexp(0.0, FINE), DRAWS, tracks))
    below = np.cumsum(density, axis=1) * (FINE[1] - FINE[0])
    return np.log(below[:, -1]), below / below[:, -1:]


@pytest.mark.parametrize("shape", ALL)
def test_without_readings_the_rest_is_a_standard_exponential(shape: law.Shape) -> None:
    left = remaining(SPENT, LOG_LIFE, shape, [])
    assert left.log_mass() == pytest.approx(0.0, abs=2e-3)
    for rise in (0.01, 0.1, 0.5, 1.0, 3.0):
        assert left.share_within(np.full(DRAWS, rise)) == pytest.approx(-np.expm1(-rise), abs=3e-3)
    for probability in (0.05, 0.5, 0.95):
        assert left.rise_at(np.full(DRAWS, probability)) == pytest.approx(-np.log1p(-probability), rel=0.02)


@pytest.mark.parametrize(
    ("shares", "noise", "code"),
    [
        ((0.3, 0.6, 0.8, 1.0), 0.15, law.WEIBULL),
        (np.linspace(0.2, 1.0, 12), 0.15, law.WEIBULL),
        ((0.9,), 0.06, law.WEIBULL),
        ((0.3, 0.6, 0.8, 1.0), 0.15, law.LOG_LOGISTIC),
        ((0.3, 0.6, 0.8, 1.0), 0.15, law.LOGNORMAL),
    ],
)
def test_with_readings_it_is_the_sum_over_a_fine_grid(shares: Array, noise: float, code: int) -> None:
    shape = law.Shape(K, code)
    tracks = [track(np.asarray(shares), noise, seed=3), track(np.array([0.5, 0.7]), 0.2, seed=4)]
    left = remaining(SPENT, LOG_LIFE, shape, tracks)
    log_mass, below = on_a_grid(tracks, shape)
    assert left.log_mass() == pytest.approx(log_mass, abs=5e-3)
    for ratio in (0.05, 0.2, 0.4, 0.7):
        q = np.log(np.expm1(ratio))
        expected = np.array([np.interp(q, FINE, row) for row in below])
        assert left.share_within(law.rise_beyond(left.hazard, left.level, np.full(DRAWS, ratio), shape)) == pytest.approx(
            expected, abs=3e-3
        )


@pytest.mark.parametrize("shape", ALL)
def test_a_rise_and_its_probability_undo_each_other(shape: law.Shape) -> None:
    left = remaining(SPENT, LOG_LIFE, shape, [track(np.array([0.4, 0.7, 1.0]), 0.15, seed=5)])
    probability = np.random.default_rng(6).uniform(0.001, 0.999, DRAWS)
    assert left.share_within(left.rise_at(probability)) == pytest.approx(probability, abs=1e-6)
    assert left.share_within(np.zeros(DRAWS)) == pytest.approx(0.0, abs=1e-4)
    assert left.share_within(np.full(DRAWS, 1e9)) == pytest.approx(1.0, abs=1e-9)


def test_a_median_is_told_and_nothing_is_kept_of_what_was_summed_for_it() -> None:
    """A fleet has hundreds of live tools that are asked for their medians, and the sums are as large as sixty such answers."""
    left = remaining(SPENT, LOG_LIFE, SHAPE, [track(np.array([0.4, 0.7, 1.0]), 0.15, seed=5)])
    before = set(vars(left))
    median = LiveRead(0, left, np.zeros((3, 7)), np.zeros((DRAWS, 3))).median_rise
    assert set(vars(left)) == before
    np.testing.assert_array_equal(median, left.rise_at(np.full(DRAWS, 0.5)))
    assert set(vars(left)) > before  # who asks for more than one answer has them summed once


def test_readings_near_the_limit_shorten_what_is_left() -> None:
    def median_left(way: float) -> float:
        given = track(np.array([1.0]), 0.1, seed=7)
        near = Track(Readings(np.array([np.log(way)]), np.zeros(1), np.zeros(1)), given.log_share, given.law)
        return float(np.median(remaining(SPENT, LOG_LIFE, SHAPE, [near]).rise_at(np.full(DRAWS, 0.5))))

    assert median_left(0.95) < median_left(0.6) < median_left(0.3)


def test_packing_keeps_what_counts() -> None:
    left = remaining(SPENT, LOG_LIFE, SHAPE, [track(np.array([0.4, 0.7, 1.0]), 0.15, seed=8)])
    back = Remaining(left.hazard, left.shape, left.q_low, left.q_high, unpacked(packed(left.log_likelihood)), left.level)
    lost = (left.log_likelihood - left.log_likelihood.max(axis=1, keepdims=True)) - back.log_likelihood
    shallow = back.log_likelihood > -0.9 * DEEPEST
    assert np.abs(lost[shallow]).max() < 0.13
    for probability in (0.1, 0.5, 0.9):
        rise = left.rise_at(np.full(DRAWS, probability))
        assert back.share_within(rise).mean() == pytest.approx(probability, abs=0.005)


@pytest.mark.parametrize("shape", ALL)
def test_single_precision_is_enough_for_what_is_kept_of_readings(shape: law.Shape) -> None:
    """It is off by less than a thousandth of what 2,000 draws leave open."""
    left = remaining(SPENT, LOG_LIFE, shape, [track(np.array([0.4, 0.7, 1.0]), 0.15, seed=8)])
    single = Remaining(left.hazard, left.shape, left.q_low, left.q_high, left.log_likelihood.astype(np.float32), left.level)
    for probability in (0.001, 0.1, 0.5, 0.99):
        rise = left.rise_at(np.full(DRAWS, probability))
        assert single.share_within(rise) == pytest.approx(np.full(DRAWS, probability), rel=2e-5)
        assert single.rise_at(np.full(DRAWS, probability)) == pytest.approx(rise, rel=2e-5)
