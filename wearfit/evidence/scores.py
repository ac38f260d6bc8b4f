"""Scores of probability forecasts, all of them penalties: the lower the better.

Lives that are still running are scored as far as they were seen. A plain score of them would favour whoever forecasts what is easy to
see, so that each moment is scored for the lives seen until then, weighed by how many others were lost sight of before.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.stats import binom, norm, poisson_binom

Array = np.ndarray

EDGES: Final = (0.0, 0.01, 0.02, 0.05, 0.1, 0.2, 0.4, 1.0)  # chances that are looked at together
BAND: Final = 0.9  # of the time the observed share lies inside the band, were the forecasts right
LEVELS: Final = (50, 80, 90)  # per cent
SHARED_NODES: Final = 21  # equally likely values of what chances share


def log_scores(chance: Array, happened: Array) -> Array:
    """Negative log of the chance given to what happened, shape as given.

    `happened` may be a share where it is not known: the score is then what is to be expected of it. Source: Good 1952, J. R. Stat. Soc.
    B 14.
    """
    return np.asarray(-(happened * np.log(chance) + (1.0 - happened) * np.log1p(-chance)))


def brier_scores(chance: Array, happened: Array) -> Array:
    """Squared distance of the chance from what happened, shape as given. Source: Brier 1950, Mon. Weather Rev. 78."""
    return np.asarray(happened * (1.0 - chance) ** 2 + (1.0 - happened) * chance**2)


def seen_share(time: Array, happened: Array, at: Array) -> Array:
    """Chance of not being lost sight of by each of some times, shape (at,).

    Parameters
    ----------
    time, happened : arrays, shape (life,)
        When a life was last seen, and whether what is waited for happened then, as a share where that is not known.

    Notes
    -----
    Kaplan & Meier 1958, J. Am. Stat. Assoc. 53, with the roles exchanged; an ending comes before a loss at the same time.
    """
    moments = np.unique(time)
    place = np.searchsorted(moments, time)
    lost = np.bincount(place, weights=1.0 - happened, minlength=len(moments))
    ended = np.bincount(place, weights=happened, minlength=len(moments))
    at_risk = np.cumsum((lost + ended)[::-1])[::-1] - ended
    left = np.cumprod(np.where(lost > 0, 1.0 - lost / np.where(at_risk > 0, at_risk, 1.0), 1.0))
    return np.concatenate([[1.0], left])[np.searchsorted(moments, at, side="right")]


def brier_curve(chance: Array, points: Array, time: Array, happened: Array) -> Array:
    """Brier score of "it has happened by then" at each of some points, lives lost sight of before counted, shape (point,).

    Parameters
    ----------
    chance : array, shape (point, life)
        That it has happened by each point.
    points : array, shape (point,)
    time, happened : arrays, shape (life,)
        As for `seen_share`.

    Notes
    -----
    Inverse probability of censoring weights: Graf, Schmoor, Sauerbrei & Schumacher 1999, Stat. Med. 18. They take it that being lost
    sight of tells nothing of the life.
    """
    of_life, of_point = seen_share(time, happened, time), seen_share(time, happened, points)
    over = (time[None, :] <= points[:, None]) * happened * (1.0 - chance) ** 2 / np.where(of_life > 0, of_life, np.inf)
    alive = (time[None, :] > points[:, None]) * chance**2 / np.where(of_point > 0, of_point, np.inf)[:, None]
    return np.asarray((over + alive).mean(axis=1))


def restricted_crps(chance: Array, points: Array, time: Array, happened: Array) -> float:
    """Continuous ranked probability score up to the last point: the Brier score of every point, integrated.

    Up to infinity and with every life seen to its end this is the mean of the CRPS. Stopped at a point that was fixed without
    looking at the outcomes it stays proper: the threshold-weighted CRPS of Gneiting & Ranjan 2011, J. Bus. Econ. Stat. 29.
    """
    return float(np.trapezoid(brier_curve(chance, points, time, happened), points))


def covered(low: Array, high: Array, happened: Array, level: float) -> Array:
    """Share of each life that a central interval holds, shape (life,).

    Parameters
    ----------
    low, high : arrays, shape (life,)
        Chance, by the forecast, that the life ends by the earliest and by the latest time at which it may have ended; equal where that
        is known. Of a life that has not ended the chance of the time when it was last seen.
    happened : array, shape (life,)
        Whether it ended, as a share where that is not known.
    level : float
        Of the interval, in (0, 1).

    Notes
    -----
    The chance that a forecast gives to all that comes before the outcome is uniform where the forecasts are right (Dawid 1984, J. R.
    Stat. Soc. A 147). Of a life still running it is uniform above that of the time when it was last seen, and the interval holds the
    share of what is above that lies in it, as in the D-calibration of Haider et al. 2020, J. Mach. Learn. Res. 21. The average is the
    level where the forecasts are right, and is drawn to it by the lives that are not over.
    """
    bottom, top = 0.5 - 0.5 * level, 0.5 + 0.5 * level

    def inside(from_: Array, to: Array) -> Array:
        width = np.maximum(to - from_, 1e-12)
        held = np.clip(np.minimum(to, top) - np.maximum(from_, bottom), 0.0, None) / width
        return np.where(to - from_ < 1e-12, (from_ >= bottom) & (from_ <= top), held)

    return np.asarray(happened * inside(low, high) + (1.0 - happened) * inside(low, np.ones_like(low)))


def calibration_curve(chance: Array, happened: Array, edges: Sequence[float] = EDGES) -> list[dict[str, float]]:
    """Forecast and observed share of runs whose chances lie together, with the band of the observed share were the forecasts right.

    Returns
    -------
    list of dict
        `forecast`, `observed`, `n`, and `low`, `high` of the binomial band that holds BAND of the shares.
    """
    place = np.clip(np.searchsorted(np.asarray(edges), chance, side="right") - 1, 0, len(edges) - 2)
    curve = []
    for group in range(len(edges) - 1):
        here = place == group
        n = int(here.sum())
        if n:
            forecast = float(chance[here].mean())
            low, high = (float(binom.ppf(0.5 + side * BAND, n, forecast)) / n for side in (-0.5, 0.5))
            curve.append({"forecast": forecast, "observed": float(happened[here].mean()), "n": n, "low": low, "high": high})
    return curve


def count_range(chance: Array, shared_variance: float = 0.0) -> tuple[int, int]:
    """Between which numbers the count of what happens lies BAND of the time, were the forecasts right.

    Parameters
    ----------
    chance : array, shape (question,)
        Each is settled alone, given what all of them share.
    shared_variance : float
        Of the count, because what they share is not known: all chances are as much larger or smaller, by a lognormal factor.
    """
    expected = float(chance.sum())
    spread = np.sqrt(np.log1p(shared_variance / expected**2)) if expected > 0.0 else 0.0
    share = (np.arange(SHARED_NODES) + 0.5) / SHARED_NODES if spread > 0.0 else np.array([0.5])
    factors = np.exp(spread * norm.ppf(share))
    factors /= factors.mean()
    number = np.arange(len(chance) + 1)
    at_most = np.mean([poisson_binom(np.minimum(chance * factor, 1.0)).cdf(number) for factor in factors], axis=0)
    low, high = np.searchsorted(at_most, [0.5 - 0.5 * BAND, 0.5 + 0.5 * BAND])
    return int(low), int(high)


@dataclass(frozen=True)
class Average:
    """A mean, and the interval that holds 90 % of it when tools are drawn anew."""

    mean: float
    low: float
    high: float

    def as_list(self) -> list[float]:
        return [self.low, self.high]


def average(values: Array, tool: Array, draws: int = 4_000, seed: int = 1) -> Average:
    """Mean of some values, with its interval by the bootstrap over tools.

    Parameters
    ----------
    values : array, shape (question,)
    tool : array, shape (question,)
        Questions about one tool are drawn together, for what becomes of it answers them all.
    """
    _, of = np.unique(tool, return_inverse=True)
    sums, counts = np.bincount(of, weights=values), np.bincount(of).astype(float)
    picks = np.random.default_rng(seed).multinomial(len(sums), np.full(len(sums), 1.0 / len(sums)), size=draws)
    low, high = np.quantile((picks @ sums) / (picks @ counts), [0.05, 0.95])
    return Average(float(values.mean()), float(low), float(high))
