"""Lives against shots: the product-limit curve of what wore out, and what was expected of these very lives.

The curve expected has the lives' own entries, ends and conditions: at each count of shots it falls by what was expected of the
lives that were there, as the curve observed falls by what wore out of them. Its band is of histories drawn from what was expected.
Source of the estimator: Kaplan & Meier 1958, with late entry as in Klein & Moeschberger 2003, sec. 4.6 (from memory).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.evidence.believed_draws import Believed
from wearfit.evidence.courses import Courses
from wearfit.evidence.expected import Expected
from wearfit.evidence.looked_at import Parting, life_shots

Array = np.ndarray

POINTS: Final = 60  # of a curve
LEAST_LIVES: Final = 5  # of which a curve is drawn
LEAST_AT_RISK: Final = 2.0  # lives at a count of shots, up to which it is drawn
SPREAD: Final = (0.05, 0.95)


@dataclass(frozen=True)
class Curve:
    """Share of lives good after so many shots, of one part. Arrays of shape (point,)."""

    by: str
    name: str
    lives: int
    worn: float
    shots: Array
    observed: Array
    expected: Array
    low: Array
    high: Array
    at_risk: Array


def product_limit(entry: Array, leave: Array, weight: Array, at: Array, worn: Array) -> tuple[Array, Array]:
    """The product-limit estimate of survival.

    Parameters
    ----------
    entry, leave : arrays, shape (stretch,)
        Between which something was watched: after the one, up to the other.
    weight : array, shape (stretch,)
        How much of a life it counts.
    at, worn : arrays, shape (event,)
        When something ended, and how much of an ending it counts; it is among those watched.

    Returns
    -------
    times, survival : arrays, shape (time,)
        Survival just after each of the times at which something ended.
    """
    times, where = np.unique(at, return_inverse=True)
    ended = np.bincount(where.ravel(), weights=worn, minlength=len(times))
    starts, stops = np.argsort(entry, kind="stable"), np.argsort(leave, kind="stable")
    come = np.concatenate([[0.0], np.cumsum(weight[starts])])[np.searchsorted(entry[starts], times, side="left")]
    gone = np.concatenate([[0.0], np.cumsum(weight[stops])])[np.searchsorted(leave[stops], times, side="left")]
    return times, np.cumprod(1.0 - ended / np.maximum(come - gone, ended))


def curves(b: Believed, courses: Courses, x: Expected, parting: Parting, seed: int) -> tuple[Curve, ...]:
    """A curve for each part with lives enough, of those whose shots before the records are known."""
    ends = life_shots(b, courses)
    rng = np.random.default_rng([seed, 47])
    life = b.exposures.episodes.life[courses.episode]
    found = []
    for part, name in enumerate(parting.names):
        mine = np.flatnonzero((parting.index == part) & ~np.isnan(ends))
        lives = len(np.unique(life[mine]))
        if lives >= LEAST_LIVES:
            curve = _curve(courses, x, mine, ends[mine], rng)
            if curve is not None:
                found.append(Curve(parting.by, name, lives, float(x.worn[:, mine].sum(axis=1).mean()), *curve))
    return tuple(found)


def _curve(courses: Courses, x: Expected, mine: Array, leave: Array, rng: np.random.Generator) -> tuple[Array, ...] | None:
    entry = leave - courses.shots[mine]
    worn = x.worn[:, mine].mean(axis=0)
    episode = courses.episode[mine]
    # Where a life wore out is not always known: it counts as watched by the chance that it had not by then.
    come = np.cumsum(worn)
    first = np.searchsorted(episode, episode, side="left")
    watched = np.clip(1.0 - (come - worn - np.concatenate([[0.0], come])[first]), 0.0, 1.0)
    of_life = np.unique(episode, return_inverse=True)[1].ravel()
    chance = np.bincount(of_life, weights=worn)
    at = np.bincount(of_life, weights=worn * leave) / np.maximum(chance, 1e-12)
    edges = np.linspace(0.0, float(leave.max()), POINTS + 1)
    overlap = np.clip(np.minimum(leave[:, None], edges[1:]) - np.maximum(entry[:, None], edges[:-1]), 0.0, None)
    width = edges[1] - edges[0]
    at_risk = (watched[:, None] * overlap).sum(axis=0) / width
    drawn = np.flatnonzero(at_risk >= LEAST_AT_RISK)
    if not len(drawn):
        return None
    long = leave - entry
    share = np.where(long[:, None] > 0.0, overlap / np.maximum(long, 1e-9)[:, None], 0.0)
    still = np.flatnonzero(long <= 0.0)  # times of standing, at one count of shots
    share[still, np.clip(np.searchsorted(edges, leave[still], side="left") - 1, 0, POINTS - 1)] = 1.0
    upto = slice(0, int(drawn[-1]) + 1)
    expected, among = x.expected[:, mine].astype(float) @ share[:, upto], np.maximum(at_risk[upto], 1.0)
    middle = np.exp(-np.cumsum(expected.mean(axis=0) / among))
    low, high = np.quantile(np.cumprod(np.clip(1.0 - rng.poisson(expected) / among, 0.0, 1.0), axis=1), SPREAD, axis=0)
    told = np.flatnonzero(chance > 0.0)
    times, survival = product_limit(entry, leave, watched, at[told], chance[told])
    shots = edges[1:][upto]
    observed = np.concatenate([[1.0], survival])[np.searchsorted(times, shots, side="right")]
    begin = (np.zeros(1), np.ones(1), np.ones(1), np.ones(1), np.ones(1), at_risk[:1])
    return tuple(np.concatenate([a, c]) for a, c in zip(begin, (shots, observed, middle, low, high, at_risk[upto]), strict=True))
