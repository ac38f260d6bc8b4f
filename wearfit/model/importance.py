"""Draws weighed anew: what a posterior would be under another prior or other records, without sampling it.

Weights are smoothed by a generalised Pareto law in their tail, whose shape k tells whether they can be relied on (Vehtari, Simpson,
Gelman, Yao & Gabry 2024, JMLR 25). Power-scaling raises one part of the posterior to a power near one and looks how far a quantity
moves (Kallioinen, Paananen, Buerkner & Vehtari 2024, Statistics and Computing 34).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from arviz_stats.base import array_stats

Array = np.ndarray

MOST_K: Final = 0.7
ALPHAS: Final = (0.99, 1.01)
MOVES: Final = 0.05  # sensitivity from which a quantity is said to hang on what was scaled: Kallioinen et al. 2024


@dataclass(frozen=True)
class Weights:
    """Smoothed weights, shape (sample,), that add up to one, and the shape of their tail."""

    weights: Array
    khat: float

    @property
    def reliable(self) -> bool:
        """Whether means under them can be relied on, for so many draws."""
        return bool(self.khat < min(1.0 - 1.0 / np.log10(len(self.weights)), MOST_K))

    def mean(self, values: Array) -> Array:
        """Means of some quantities under the weights, shape (...); `values` (sample, ...)."""
        return np.asarray(np.tensordot(self.weights, values, axes=1))

    def error(self, values: Array) -> Array:
        """Monte Carlo error of those means, shape (...).

        By the weights times how far each draw lies off, for the draws that weigh most lie at an end of what they moved: an effective
        number of draws for all quantities alike would be too large for just those (Owen 2013, Monte Carlo theory, sec. 9.2).
        """
        return np.asarray(np.sqrt(np.tensordot(self.weights**2, (values - self.mean(values)) ** 2, axes=1)))


def smoothed(log_weights: Array) -> Weights:
    """Smooth importance weights, shape (sample,), known up to a factor."""
    if np.ptp(log_weights) < 1e-12:
        return Weights(np.full(len(log_weights), 1.0 / len(log_weights)), float("-inf"))
    log_smooth, khat = array_stats.psislw(-np.asarray(log_weights, dtype=float))  # it takes the log of what is divided by
    weights = np.exp(log_smooth - log_smooth.max())
    return Weights(weights / weights.sum(), float(khat))


def sensitivity(values: Array, log_density: Array) -> float:
    """How far a quantity moves when a part of the posterior is raised to a power, per doubling of it.

    Parameters
    ----------
    values : array, shape (sample,)
        Draws of the quantity.
    log_density : array, shape (sample,)
        Log of the part at each draw, up to a constant.

    Returns
    -------
    float
        Zero where the part or the quantity never varies.
    """
    if np.ptp(log_density) < 1e-12 or np.ptp(values) < 1e-12:
        return 0.0
    low, high = (smoothed((alpha - 1.0) * log_density).weights[None] for alpha in ALPHAS)
    return float(array_stats.power_scale_sense(np.asarray(values, dtype=float)[None], low, high, *ALPHAS))
