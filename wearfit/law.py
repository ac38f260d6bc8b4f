"""The wear law: how the hazard of wear-out grows with the wear a life has spent.

A law is one curve, log H as a function of z = log(D / eta): H the cumulative hazard, D the wear spent in
reference shots, eta the characteristic life. Everything else (survival, hazard, density, quantiles, every
censored likelihood) follows from H and its slope. The functions take NumPy arrays or PyTensor variables; `xp` is the
module that holds `exp`, `log` and the like for the arrays given.

S(D) = exp(-(D / eta)^k) throughout: `shape` is k, `log_life` is log eta. Source: Weibull 1951, J. Appl. Mech. 18.
"""

from types import ModuleType
from typing import Any

import numpy as np

Array = Any  # a NumPy array or a PyTensor variable: the law is written once for both

LEAST_SPENT = 1e-6  # [reference shots] stands for zero wear, where log(0) would break a gradient


def log_cumulative_hazard(z: Array, shape: Array) -> Array:
    """log H of the law at z = log(D / eta)."""
    return shape * z


def log_slope(z: Array, shape: Array, xp: ModuleType = np) -> Array:
    """log of d log H / d z, which turns the cumulative hazard into a hazard."""
    return xp.log(shape) + 0.0 * z


def ratio_at(cumulative: Array, shape: Array, xp: ModuleType = np) -> Array:
    """z = log(D / eta) at which the cumulative hazard is `cumulative` (> 0): the inverse of the law."""
    return xp.log(cumulative) / shape


def cumulative_hazard(spent: Array, log_life: Array, shape: Array, xp: ModuleType = np) -> Array:
    """H at `spent` reference shots."""
    z = xp.log(xp.maximum(spent, LEAST_SPENT)) - log_life
    return xp.exp(log_cumulative_hazard(z, shape))


def log_hazard_factor(log_longer: Array, shape: Array) -> Array:
    """What a life longer by a factor exp(`log_longer`) adds to log H and to log h, whatever has been spent.

    One figure for all of a life's course, because log H is linear in z.
    """
    return -shape * log_longer


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


def log1mexp(x: Array, xp: ModuleType = np) -> Array:
    """log(1 - exp(-x)) for x > 0, accurate at both ends (Maechler 2012, the R package Rmpfr)."""
    far = xp.maximum(x, np.log(2.0))  # keeps the branch that is not taken finite
    return xp.where(x > np.log(2.0), xp.log1p(-xp.exp(-far)), xp.log(-xp.expm1(-x)))
