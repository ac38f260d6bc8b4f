"""The wear law: how the hazard of wear-out grows with the wear a life has spent.

A law is one curve, log H as a function of z = log(D / eta): H the cumulative hazard, D the wear spent in
reference shots, eta the characteristic life. Everything else (survival, hazard, density, quantiles, every
censored likelihood) follows from H and its slope. The functions take NumPy arrays or PyTensor variables; `xp` is the
module that holds `exp`, `log` and the like for the arrays given.

H is a function of the index (D / eta)^k alone, whatever the law: `shape` is k, `log_life` is log eta, and the log of the index, k z, is
called the level. The laws share the median (index log 2) and the standard deviation of log life of the Weibull law of that k, so
that k and eta mean the same, and have the same priors, in all of them; they differ in their tails:

    Weibull        H = index                                             Weibull 1951, J. Appl. Mech. 18
    log-logistic   H = log(1 + (index / log 2)^sqrt 2)                   sd of log life pi / (sqrt 3 k'), k' = sqrt(2) k
    lognormal      H = -log Phi(-(sqrt 6 / pi) log(index / log 2))       sd of log life pi / (sqrt 6 k)

A `Shape` says which law it is the shape of; a k alone is a Weibull law's, as it is in books, and with PyTensor always.
"""

from collections.abc import Callable
from dataclasses import dataclass
from types import ModuleType
from typing import Any, Final

import numpy as np

Array = Any  # a NumPy array or a PyTensor variable: the law is written once for both

LEAST_SPENT = 1e-6  # [reference shots] stands for zero wear, where log(0) would break a gradient
LEVEL_OF_MEDIAN: Final = float(np.log(np.log(2.0)))
LOGISTIC: Final = float(np.sqrt(2.0))  # slope of the log-odds by the level
NORMAL: Final = float(np.sqrt(6.0) / np.pi)  # slope of the normal score by the level
LOG_PEAK: Final = -0.5 * float(np.log(2.0 * np.pi))
FAR_LEFT: Final = -6.0  # of a normal score: beyond it H is the distribution function, all but 1e-9 of it


@dataclass(frozen=True)
class Form:
    """A law as a curve over the level."""

    name: str
    log_total: Callable[[Array], Array]  # log H
    log_rise: Callable[[Array], Array]  # log of dH by the level
    level_at: Callable[[Array], Array]  # level at which the cumulative hazard is H > 0


def _odds(level: Array) -> Array:
    return LOGISTIC * (level - LEVEL_OF_MEDIAN)


def _log_softplus(odds: Array) -> Array:
    """log log(1 + e^odds)."""
    return np.where(odds < -36.0, odds, np.log(np.logaddexp(0.0, np.maximum(odds, -36.0))))


def _score(level: Array) -> Array:
    return NORMAL * (level - LEVEL_OF_MEDIAN)


def _log_ndtr(score: Array) -> Array:
    from scipy.special import log_ndtr  # takes as long to load as an answer may; most laws are Weibull's

    return log_ndtr(score)


def _log_total_normal(level: Array) -> Array:
    score = _score(level)
    return np.where(score < FAR_LEFT, _log_ndtr(np.minimum(score, 0.0)), np.log(-_log_ndtr(-np.maximum(score, FAR_LEFT))))


def _level_at_normal(total: Array) -> Array:
    from scipy.special import ndtri_exp

    return LEVEL_OF_MEDIAN - ndtri_exp(-np.asarray(total)) / NORMAL


FORMS: Final = (
    Form("weibull", lambda level: level, lambda level: level, np.log),
    Form(
        "log-logistic",
        lambda level: _log_softplus(_odds(level)),
        lambda level: np.log(LOGISTIC) - np.logaddexp(0.0, -_odds(level)),
        lambda total: LEVEL_OF_MEDIAN + (total + np.log(-np.expm1(-total))) / LOGISTIC,
    ),
    Form(
        "lognormal",
        _log_total_normal,
        lambda level: np.log(NORMAL) + LOG_PEAK - 0.5 * _score(level) ** 2 - _log_ndtr(-_score(level)),
        _level_at_normal,
    ),
)
LAWS: Final = tuple(form.name for form in FORMS)
WEIBULL, LOG_LOGISTIC, LOGNORMAL = range(len(FORMS))


@dataclass(frozen=True)
class Shape:
    """k, and which law it is the shape of.

    Parameters
    ----------
    k : array
    law : int or array, shape (draw,)
        Place in LAWS; of draws of several laws, that of each draw, the leading axis of `k`.
    """

    k: Array
    law: Any = WEIBULL

    def __getitem__(self, index: Any) -> "Shape":
        """As of an array: `shape[keep]` are some of the draws, `shape[:, None]` has an axis more."""
        first = index[0] if isinstance(index, tuple) else index
        return Shape(self.k[index], self.law if isinstance(self.law, int) else self.law[first])


def shape_of_draws(k: Array, law: Array) -> Shape:
    """k and law of each draw, shapes (draw,); one law for all where they are alike."""
    return Shape(k, int(law[0]) if (law == law[0]).all() else np.asarray(law, dtype=np.int64))


def k_of(shape: Array) -> Array:
    """k alone."""
    return shape.k if isinstance(shape, Shape) else shape


def is_weibull(shape: Array) -> bool:
    """Whether all draws are of the Weibull law."""
    return not isinstance(shape, Shape) or (isinstance(shape.law, int) and shape.law == WEIBULL)


def _by_law(part: str, values: Array, shape: Array) -> Array:
    """One curve of a law at values whose leading axis is that of the shape's draws."""
    if is_weibull(shape):
        return getattr(FORMS[WEIBULL], part)(values)
    if isinstance(shape.law, int):
        return getattr(FORMS[shape.law], part)(values)
    out = np.empty(values.shape)
    for law in np.unique(shape.law):
        mine = shape.law == law
        out[mine] = getattr(FORMS[law], part)(values[mine])
    return out


def log_cumulative_hazard(z: Array, shape: Array) -> Array:
    """log H of the law at z = log(D / eta)."""
    return _by_law("log_total", k_of(shape) * z, shape)


def log_slope(z: Array, shape: Array, xp: ModuleType = np) -> Array:
    """log of d log H / d z, which turns the cumulative hazard into a hazard."""
    if is_weibull(shape):
        return xp.log(k_of(shape)) + 0.0 * z
    level = shape.k * z
    return np.log(shape.k) + _by_law("log_rise", level, shape) - _by_law("log_total", level, shape)


def ratio_at(cumulative: Array, shape: Array, xp: ModuleType = np) -> Array:
    """z = log(D / eta) at which the cumulative hazard is `cumulative` (> 0): the inverse of the law."""
    if is_weibull(shape):
        return xp.log(cumulative) / k_of(shape)
    return _by_law("level_at", np.broadcast_arrays(cumulative, shape.k)[0], shape) / shape.k


def cumulative_hazard(spent: Array, log_life: Array, shape: Array, xp: ModuleType = np) -> Array:
    """H at `spent` reference shots."""
    z = xp.log(xp.maximum(spent, LEAST_SPENT)) - log_life
    return xp.exp(log_cumulative_hazard(z, shape))


def cumulative_hazard_worked_out_in(share: Array, shape: Array) -> Array:
    """H at a wear over the characteristic life, for NumPy arrays: `share`, above zero, is used up where it can be."""
    np.log(share, out=share)
    if not is_weibull(shape):
        return np.exp(log_cumulative_hazard(share, shape))
    share *= k_of(shape)
    return np.exp(share, out=share)


def level(spent: Array, log_life: Array, shape: Array, xp: ModuleType = np) -> Array:
    """Log of the index at `spent` reference shots, of which H is a function whatever the law."""
    return k_of(shape) * (xp.log(xp.maximum(spent, LEAST_SPENT)) - log_life)


def log_hazard_factor(log_longer: Array, shape: Array) -> Array:
    """What a life longer by a factor exp(`log_longer`) adds to the level, whatever has been spent; by a Weibull law to log H and log h.

    One figure for all of a life's course, because the level is linear in z.
    """
    return -k_of(shape) * log_longer


def log_hazard(spent: Array, log_life: Array, shape: Array, xp: ModuleType = np) -> Array:
    """log h, per reference shot: h = dH/dD = H * (d log H / d z) / D."""
    log_spent = xp.log(xp.maximum(spent, LEAST_SPENT))
    z = log_spent - log_life
    return log_cumulative_hazard(z, shape) + log_slope(z, shape, xp) - log_spent


def survival(spent: Array, log_life: Array, shape: Array, xp: ModuleType = np) -> Array:
    """S = exp(-H)."""
    return xp.exp(-cumulative_hazard(spent, log_life, shape, xp))


def wear_at(cumulative: Array, log_life: Array, shape: Array, xp: ModuleType = np) -> Array:
    """Wear, in reference shots, at which the cumulative hazard reaches `cumulative`.

    With `cumulative` = H(D) + E and E ~ Exp(1) this is the capacity of a life that has already spent D.
    """
    return xp.exp(log_life + ratio_at(cumulative, shape, xp))


def rise_beyond(hazard: Array, at: Array, log_longer: Array, shape: Array) -> Array:
    """Rise of H from D to D exp(`log_longer`), H at D being `hazard`, the level there `at`."""
    if is_weibull(shape):
        return hazard * np.expm1(k_of(shape) * log_longer)
    return np.maximum(np.exp(_by_law("log_total", at + shape.k * log_longer, shape)) - hazard, 0.0)


def log_longer_at(hazard: Array, at: Array, rise: Array, shape: Array) -> Array:
    """log of the wear over D at which H has risen by `rise` >= 0 since D: the inverse of `rise_beyond`; `hazard` > 0."""
    if is_weibull(shape):
        return np.log1p(rise / hazard) / k_of(shape)
    return np.maximum(_by_law("level_at", hazard + rise, shape) - at, 0.0) / shape.k


def log_rise_beyond(at: Array, log_longer: Array, shape: Array) -> Array:
    """log of dH by log D, at D exp(`log_longer`), the level at D being `at`."""
    return np.log(k_of(shape)) + _by_law("log_rise", at + k_of(shape) * log_longer, shape)


def log1mexp(x: Array, xp: ModuleType = np) -> Array:
    """log(1 - exp(-x)) for x > 0, accurate at both ends (Maechler 2012, the R package Rmpfr)."""
    far = xp.maximum(x, np.log(2.0))  # keeps the branch that is not taken finite
    return xp.where(x > np.log(2.0), xp.log1p(-xp.exp(-far)), xp.log(-xp.expm1(-x)))
