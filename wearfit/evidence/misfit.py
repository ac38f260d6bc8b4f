"""Wear-outs against what was expected, part by part, with what luck alone would leave, all that is looked at taken together.

By a draw, wear-outs of a part come like those of a unit Poisson process on the scale of what was expected there (`expected`). So a
Poisson law of that mean says how odd their number is: this holds whether all lives ran until worn (it is then the gamma law of a
sum of exponentials) or looking stopped on a day. The chance is the mean over draws: the posterior predictive one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.stats import poisson

from wearfit.evidence.expected import Expected
from wearfit.evidence.looked_at import Parting

Array = np.ndarray

LEVEL: Final = 0.05  # of honest fleets, how many are told of a misfit that is none
REPLICATES: Final = 2000
SPREAD: Final = (0.05, 0.95)
ALL: Final = "all"


@dataclass(frozen=True)
class Check:
    """One part looked at.

    Parameters
    ----------
    by, name : str
        The parting and the part; `ALL` and "" for all lives together.
    observed, expected : float
        Wear-outs; a renewal whose cause nobody stated counts as part of one.
    low, high : float
        In nine of ten histories luck alone would leave so many.
    p : float
        Chance that luck alone leaves a number as far off as this, to either side.
    told : bool
        Whether it is so far off that of honest fleets LEVEL are told of anything, whatever it is.
    """

    by: str
    name: str
    observed: float
    expected: float
    low: float
    high: float
    p: float
    told: bool


@dataclass(frozen=True)
class Checks:
    """All that was looked at, and how small a chance is told."""

    checks: tuple[Check, ...]
    limit: float


def two_sided(observed: Array, expected: Array) -> Array:
    """Chance of a number of wear-outs as far off what was expected, to either side: twice the smaller tail, one at most."""
    fewer, more = poisson.cdf(observed, expected), poisson.sf(np.asarray(observed) - 1.0, expected)
    return np.asarray(np.minimum(1.0, 2.0 * np.minimum(fewer, more)))


def check(x: Expected, partings: Sequence[Parting], seed: int) -> Checks:
    """Look at all lives together and at every part.

    Notes
    -----
    Parts overlap, so that one correction for their number would be too strict: histories are drawn from what was expected, the oddest
    part of each is found, and what is odder than the oddest of all but LEVEL of them is told (Westfall & Young 1993, from memory).
    """
    rng = np.random.default_rng([seed, 43])
    n, pieces = x.expected.shape
    index = [np.zeros(pieces, dtype=np.int64), *(p.index for p in partings)]
    names = [(ALL, ""), *((p.by, name) for p in partings for name in p.names)]
    size = [1, *(len(p.names) for p in partings)]

    def summed(table: Array) -> Array:
        return np.concatenate([_by_part(table, i, k) for i, k in zip(index, size, strict=True)], axis=1)

    observed, expected = summed(x.worn), summed(x.expected)
    fewer = np.mean(poisson.cdf(observed, expected), axis=0)
    more = np.mean(poisson.sf(observed - 1.0, expected), axis=0)
    p = np.minimum(1.0, 2.0 * np.minimum(fewer, more))
    draw = np.arange(REPLICATES) % n
    drawn = np.stack([_replicate(x.expected[d], index, size, rng) for d in draw])
    limit = float(np.quantile(two_sided(drawn, expected[draw]).min(axis=1), LEVEL))
    low, high = np.quantile(drawn, SPREAD, axis=0)
    worn, awaited = observed.mean(axis=0), expected.mean(axis=0)
    told = [
        Check(by, name, float(worn[i]), float(awaited[i]), float(low[i]), float(high[i]), float(p[i]), bool(p[i] <= limit))
        for i, (by, name) in enumerate(names)
    ]
    return Checks(tuple(told), limit)


def _by_part(table: Array, index: Array, parts: int) -> Array:
    """Sums over the pieces of each part, shape (draw, part)."""
    out = np.zeros((len(table), parts))
    order = np.argsort(index, kind="stable")
    start = np.searchsorted(index[order], np.arange(parts), side="left")
    stop = np.searchsorted(index[order], np.arange(parts), side="right")
    for part in range(parts):
        out[:, part] = table[:, order[start[part] : stop[part]]].sum(axis=1, dtype=float)
    return out


def _replicate(expected: Array, index: Sequence[Array], size: Sequence[int], rng: np.random.Generator) -> Array:
    """Wear-outs of each part in one history drawn from what was expected of each piece, shape (part,)."""
    come = np.cumsum(expected, dtype=float)
    events = rng.poisson(come[-1]) if len(come) else 0
    piece = np.searchsorted(come, rng.random(events) * (come[-1] if len(come) else 0.0), side="right")
    counted = [np.bincount(i[piece][i[piece] >= 0], minlength=k) for i, k in zip(index, size, strict=True)]
    return np.concatenate(counted)
