"""What a record takes away of a variance: the conjugate normal's closed form, and the law of total variance summed by hand."""

import numpy as np
import pytest
from scipy.stats import norm

from wearfit.forecasts.narrowing import range_left, range_now, share_told

Array = np.ndarray

DRAWS = 4000
STANDARD = norm.ppf((np.arange(DRAWS) + 0.5) / DRAWS)
EVEN = np.ones(DRAWS)
PRIOR_SD = 3.0
VALUES = 20.0 + PRIOR_SD * STANDARD


def seen_with(noise: float, outcomes: int = 400) -> Array:
    """Chances of a reading of each value with normal noise, in bins of even width."""
    edges = 20.0 + np.hypot(PRIOR_SD, noise) * np.linspace(-4.5, 4.5, outcomes - 1)
    return np.diff(norm.cdf((edges - VALUES[:, None]) / noise), axis=1, prepend=0.0, append=1.0)


@pytest.mark.parametrize("noise", [0.3, 1.0, 3.0, 10.0])
def test_one_reading_of_a_normal_leaves_the_conjugate_posterior(noise: float) -> None:
    share = share_told(VALUES, EVEN, seen_with(noise))
    assert share == pytest.approx(PRIOR_SD**2 / (PRIOR_SD**2 + noise**2), abs=0.01)
    posterior_sd = 1.0 / np.sqrt(1.0 / PRIOR_SD**2 + 1.0 / noise**2)
    now = range_now(VALUES, EVEN)
    assert now == pytest.approx(2.0 * norm.ppf(0.9) * PRIOR_SD, rel=0.005)
    assert range_left(now, share) == pytest.approx(2.0 * norm.ppf(0.9) * posterior_sd, rel=0.05)


def test_what_is_told_and_what_is_left_make_up_the_variance() -> None:
    """Summed draw by draw and outcome by outcome, of skewed values under uneven weights."""
    rng = np.random.default_rng(3)
    values, weights = np.exp(0.1 * VALUES), rng.exponential(size=DRAWS)
    chances = seen_with(2.0, 8)
    mean, likely, left, told = np.average(values, weights=weights), [], [], []
    for outcome in chances.T:
        of = weights * outcome
        likely.append(of.sum() / weights.sum())
        middle = np.average(values, weights=of)
        left.append(np.average((values - middle) ** 2, weights=of))
        told.append((middle - mean) ** 2)
    whole = np.average((values - mean) ** 2, weights=weights)
    assert np.dot(likely, left) + np.dot(likely, told) == pytest.approx(whole)
    seeming = 8 * 2 / DRAWS  # about what eight outcomes seem to tell of so many draws of such weights
    assert share_told(values, weights, chances) == pytest.approx(np.dot(likely, told) / whole, abs=seeming)


def test_a_noisier_reading_tells_less() -> None:
    shares = [share_told(VALUES, EVEN, seen_with(noise)) for noise in (0.1, 0.3, 1.0, 3.0, 10.0, 100.0)]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 0.95
    assert shares[-1] < 0.005


def test_nothing_is_told_of_what_is_known_or_has_nothing_to_do_with_it() -> None:
    assert share_told(np.full(DRAWS, 7.0), EVEN, seen_with(1.0, 16)) == 0.0
    rng = np.random.default_rng(8)
    unrelated = [share_told(VALUES, EVEN, np.eye(16)[rng.integers(0, 16, DRAWS)]) for _ in range(40)]
    # Sixteen outcomes seem to explain 15 / 4000; taken off, what is left of noise is one standard deviation of it at most, on average.
    assert np.mean(unrelated) < np.sqrt(2.0 * 15.0) / DRAWS


def test_weights_count_as_repeats_do() -> None:
    rng = np.random.default_rng(4)
    times = rng.integers(0, 4, DRAWS)
    chances = seen_with(2.0, 12)
    weighed = share_told(VALUES, times.astype(float), chances)
    # A repeat is no draw of its own, which moves what is taken off for noise alone.
    assert weighed == pytest.approx(
        share_told(np.repeat(VALUES, times), np.ones(times.sum()), np.repeat(chances, times, axis=0)), abs=0.003
    )
    assert range_now(VALUES, times.astype(float)) == range_now(np.repeat(VALUES, times), np.ones(times.sum()))
