"""Whether ranks are uniform: the simultaneous band of their empirical distribution function, exact.

With N ranks among L draws each lies in 0 .. L, and the number of those below an edge is binomial. Taken edge by edge from left to
right the numbers are a Markov chain: those that have not come yet fall before the next edge independently. So the probability
that all of them stay inside their own intervals is one pass along the edges. Source: Saeilynoja, Buerkner & Vehtari 2022,
Statistics and Computing 32:32 (recursion for the simultaneous band); ranks: Talts et al. 2018.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.stats import binom

Array = np.ndarray


@dataclass(frozen=True)
class Uniformity:
    """How a quantity's ranks lie."""

    p_value: float  # of the simultaneous band: the least level at which they leave it
    mean: float  # of (rank + 1/2) / (draws + 1), a half where all is well
    spread: float  # its standard deviation over that of a uniform; below one where intervals are too wide


def judge(ranks: Array, draws: int, bins: int = 20) -> Uniformity:
    """Judge ranks, shape (fit,), in 0 .. `draws`; `bins` edges stand as evenly as whole ranks allow."""
    edges = _edges(draws, bins)
    n = len(ranks)
    below = np.array([(ranks < edge).sum() for edge in edges])
    at = edges / (draws + 1.0)
    # How far in its own tails the number at each edge lies; the band of that level touches it.
    level = float(np.minimum(binom.cdf(below, n, at), binom.sf(below - 1, n, at)).min())
    u = (ranks + 0.5) / (draws + 1.0)
    uniform = np.sqrt((1.0 - 1.0 / (draws + 1.0) ** 2) / 12.0)
    return Uniformity(1.0 - _inside(n, draws, bins, level), float(u.mean()), float(np.sqrt(((u - 0.5) ** 2).mean()) / uniform))


def _edges(draws: int, bins: int) -> Array:
    return np.unique(np.round(np.arange(1, bins) * (draws + 1.0) / bins).astype(int))


@cache
def _steps(n: int, draws: int, bins: int) -> tuple[Array, ...]:
    """Chances to go from one number below an edge to another below the next, shapes (n + 1, n + 1)."""
    at = np.concatenate([[0.0], _edges(draws, bins) / (draws + 1.0)])
    count = np.arange(n + 1)
    share = (at[1:] - at[:-1]) / (1.0 - at[:-1])
    return tuple(binom.pmf(count[None, :] - count[:, None], (n - count)[:, None], s) for s in share)


@cache
def _inside(n: int, draws: int, bins: int, level: float) -> float:
    """Probability that uniform ranks lie further in than the band whose ends at each edge have `level` in their tail."""
    at = _edges(draws, bins) / (draws + 1.0)
    count = np.arange(n + 1)
    chance = np.zeros(n + 1)
    chance[0] = 1.0
    for step, share in zip(_steps(n, draws, bins), at, strict=True):
        further = np.minimum(binom.cdf(count, n, share), binom.sf(count - 1, n, share)) > level * (1.0 + 1e-9)
        chance = (chance @ step) * further
    return float(chance.sum())
