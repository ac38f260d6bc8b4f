"""Published lives put through the product's own per-life likelihood, and fitted by maximum likelihood.

A listing's time, in its own unit, is taken for wear spent: one unit is one reference shot, so densities are per unit of
the listing.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from scipy.optimize import minimize

from wearfit.model.clock import Clock
from wearfit.model.likelihood import row_log_likelihood

Array = np.ndarray

DATA = Path(__file__).parent / "data"


@dataclass(frozen=True)
class Lives:
    """Lives of a listing. Arrays of shape (life,)."""

    clock: Clock
    interval: Array  # 1 where the end lies between `clock.good` and `clock.end`
    wore_out: Array  # 1 where the life failed, 0 where it was right censored
    count: Array  # how many lives are alike, or one number for all

    def log_likelihood(self, log_eta: Any, shape: Any, xp: ModuleType = np) -> Any:
        """Log-likelihood by life; `log_eta` and `shape` broadcast against (life,)."""
        never = np.zeros_like(self.wore_out)  # no cause of failure is in doubt, so the share of wear has no effect
        return self.count * row_log_likelihood(self.clock, log_eta, shape, np.array(0.5), self.interval, self.wore_out, never, xp)


def observed(time: Array, event: Array, entry: Array | float = 0.0, count: Array | float = 1.0) -> Lives:
    """Lives that failed at `time` where `event` is 1 and were still running then where it is 0, watched from `entry`."""
    end, wore_out = np.asarray(time, dtype=float), np.asarray(event, dtype=float)
    start = np.broadcast_to(np.asarray(entry, dtype=float), end.shape)
    none = np.zeros_like(end)
    return Lives(Clock(entry=start, good=end, end=end, log_last=none), none, wore_out, np.asarray(count, dtype=float))


def inspected(lower: Array, upper: Array, count: Array | float = 1.0) -> Lives:
    """Lives that failed between `lower` and `upper`: exactly there where they are equal, later where `upper` is infinite."""
    lower, upper = np.asarray(lower, dtype=float), np.asarray(upper, dtype=float)
    failed = np.isfinite(upper)
    none = np.zeros_like(lower)
    clock = Clock(entry=none, good=lower, end=np.where(failed, upper, lower), log_last=none)
    return Lives(clock, (failed & (upper > lower)).astype(float), failed.astype(float), np.asarray(count, dtype=float))


@dataclass(frozen=True)
class Fit:
    """Where a log-likelihood is largest, and its value there."""

    at: Array
    log_likelihood: float


def maximise(log_likelihood: Callable[[Array], Array], start: Array) -> Fit:
    """Maximum of the sum of `log_likelihood` over its lives. Raises ValueError where the search does not settle."""
    found = minimize(lambda p: -float(np.sum(log_likelihood(p))), start, method="BFGS", jac="3-point", options={"gtol": 1e-4})
    if not np.max(np.abs(found.jac)) < 1e-2:
        raise ValueError(f"no maximum found: {found.message}")
    return Fit(np.asarray(found.x), -float(found.fun))


@dataclass(frozen=True)
class WeibullFit:
    shape: float
    eta: float  # in the listing's unit
    log_likelihood: float


def fit_weibull(lives: Lives) -> WeibullFit:
    """Maximum likelihood of one Weibull law for all lives."""
    start = np.array([np.log(lives.clock.end.mean()), 0.0])
    fit = maximise(lambda p: lives.log_likelihood(p[0], np.exp(p[1])), start)
    return WeibullFit(shape=float(np.exp(fit.at[1])), eta=float(np.exp(fit.at[0])), log_likelihood=fit.log_likelihood)


def nist_lives() -> Lives:
    """10 failures and 10 units censored at 500 h. [h] NIST/SEMATECH e-Handbook of Statistical Methods 8.4.1.2, seen."""
    hours, event, count = np.loadtxt(DATA / "nist_8_4_1_2.csv", delimiter=",", skiprows=1, unpack=True)
    return observed(hours, event, count=count)
