"""What an uncertain chance hangs on most: how much of its spread each of its causes would take away, were it known."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

Array = np.ndarray

MOST_BINS: Final = 20
DRAWS_PER_BIN: Final = 20  # at least, for the mean of a bin to say something
END: Final = 0.2  # share of the draws at either end of a cause that stand for a good and a bad case


@dataclass(frozen=True)
class Dependence:
    """What hangs on one cause.

    Parameters
    ----------
    name : str
    share : float
        Of the variance of the chance that knowing the cause would take away, on average; 0 to 1.
    good, bad : float
        Mean chance in the fifth of the draws at that end of the cause where it is lower, and in the fifth at the other end.
    """

    name: str
    share: float
    good: float
    bad: float


def hangs_on(chance: Array, weights: Array, causes: Mapping[str, Array]) -> tuple[Dependence, ...]:
    """How much of the spread of a chance each cause explains, the largest share first.

    Parameters
    ----------
    chance : array, shape (sample,)
    weights : array, shape (sample,)
        Not negative and not all zero.
    causes : mapping of str to array, shape (sample,)
        What the chance depends on, draw by draw. Causes may go together; their shares then overlap.

    Notes
    -----
    The share is Var(E[p | cause]) / Var(p), the correlation ratio (Pearson 1905), from the means of bins of equal weight,
    less what as many bins of noise would seem to explain. Nothing is taken to be straight or normal. A bend within a
    bin is lost, with twenty bins at most a few per cent of the variance.
    """
    weights = weights / weights.sum()
    mean = float(weights @ chance)
    variance = float(weights @ (chance - mean) ** 2)
    effective = 1.0 / float(weights @ weights)
    bins = int(np.clip(effective // DRAWS_PER_BIN, 2, MOST_BINS))
    found = [_dependence(name, chance, weights, cause, mean, variance, effective, bins) for name, cause in causes.items()]
    return tuple(sorted(found, key=lambda one: -one.share))


def _dependence(
    name: str, chance: Array, weights: Array, cause: Array, mean: float, variance: float, effective: float, bins: int
) -> Dependence:
    if variance <= 0.0 or effective <= bins or np.all(cause == cause[0]):
        return Dependence(name, 0.0, mean, mean)
    order = np.argsort(cause, kind="stable")
    p, w = chance[order], weights[order]
    middle = np.cumsum(w) - 0.5 * w
    where = np.minimum((middle * bins).astype(int), bins - 1)
    weight = np.bincount(where, w, bins)
    total = np.bincount(where, w * p, bins)
    means = total / np.maximum(weight, np.finfo(float).tiny)
    explained = float(weight @ (means - mean) ** 2) / variance
    share = 1.0 - (1.0 - explained) * (effective - 1.0) / (effective - bins)
    ends = sorted(float(w[at] @ p[at] / w[at].sum()) if w[at].sum() > 0.0 else mean for at in (middle < END, middle > 1.0 - END))
    return Dependence(name, float(np.clip(share, 0.0, 1.0)), *ends)
