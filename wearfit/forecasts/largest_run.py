"""The risk of runs by their shots, and the largest run at a risk: where a chance that grows with the shots reaches it."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from wearfit import law
from wearfit.forecasts.clock import Ending, columns
from wearfit.forecasts.quantiles import weighted_mean

Array = np.ndarray

LARGEST_RUN: Final = 10**9  # [shots] beyond any tool
BEYOND: Final = 1 << 30  # [shots] taken to be too many of any
SCOUTS: Final = 8  # every so manieth draw tells where to look
QUICK: Final = 8  # steps along the line through the last two points, after which the bracket is halved now and then


@dataclass(frozen=True)
class Risk:
    """The risk of some runs, each of its own tool under its own conditions. Arrays of shape (sample, run)."""

    ending: Ending
    weights: Array
    before: Array  # wear spent when the run begins [reference shots]
    wear: Array  # per shot [reference shots]
    per_setup: Array  # what the set-up costs [shots]

    def by_draw(self, shots: Array | float) -> Array:
        """Probability of wear-out within so many shots, draw by draw."""
        spent = shots + self.per_setup
        spent *= self.wear
        spent += self.before
        return self.ending.before(spent)

    def take(self, runs: Array, draws: slice = slice(None)) -> "Risk":
        """Of some of the runs, by some of the draws."""
        weights, before, wear, per_setup = (columns(a, runs, draws) for a in (self.weights, self.before, self.wear, self.per_setup))
        return Risk(self.ending.take(runs, draws), weights, before, wear, per_setup)

    def largest(self, risk: float) -> Array:
        """Largest whole number of shots of each run with a chance at or under the risk, shape (run,).

        0 where one shot exceeds it, and below BEYOND.
        """
        begin, slope = largest_within(self._scouts._chance, risk, self._scouts._about(risk))
        return largest_within(self._chance, risk, begin, slope)[0]

    @cached_property
    def _scouts(self) -> "Risk":
        return self.take(np.arange(self.wear.shape[1]), slice(None, None, SCOUTS))

    def _about(self, risk: float) -> Array:
        """Shots at which the middle draw is at the risk, whatever readings say, shape (run,)."""
        ending = self.ending
        spent = law.wear_at(np.maximum(ending.start, law.LEAST_SPENT) - np.log1p(-risk), ending.log_life, ending.shape)
        return np.asarray(np.median((spent - self.before) / self.wear - self.per_setup, axis=0))

    def _chance(self, runs: Array, shots: Array) -> Array:
        some = self if len(runs) == self.wear.shape[1] else self.take(runs)
        return weighted_mean(some.by_draw(shots), some.weights)


def largest_within(chance: Callable[[Array, Array], Array], risk: float, begin: Array, slope: Array | float = 1.0) -> tuple[Array, Array]:
    """Largest whole numbers of shots with a chance at or under a risk, and how the chance grows there.

    Parameters
    ----------
    chance : callable
        Takes which runs, shape (asked,), and their shots, (asked,); gives the chances, (asked,), that grow with the shots.
    risk : float
        In (0, 1).
    begin : array, shape (run,)
        Where to begin. [shots]
    slope : array, shape (run,)
        Of the log of the chance by the log of the shots, as far as it is known.

    Returns
    -------
    largest : array, shape (run,)
        0 where one shot exceeds the risk, and below BEYOND.
    slope : array, shape (run,)
        As the parameter, at the end of the search.
    """
    runs = len(begin)
    low, high = np.zeros(runs, dtype=np.int64), np.full(runs, BEYOND, dtype=np.int64)
    slope = np.broadcast_to(np.asarray(slope, dtype=float), (runs,)).copy()
    at = np.clip(np.nan_to_num(begin), 1, BEYOND - 1).astype(np.int64)
    before = np.full((2, runs), np.nan)  # logs of the shots, and of the chance over the risk, at the point before
    step = 0
    while len(sought := np.flatnonzero(high - low > 1)):
        step += 1
        now = at[sought]
        p = chance(sought, now)
        within = p <= risk
        low[sought], high[sought] = np.where(within, now, low[sought]), np.where(within, high[sought], now)
        here = np.stack([np.log(now), np.log(np.maximum(p, 1e-300) / risk)])
        along, rise = here - before[:, sought]
        before[:, sought] = here
        told = along * rise > 0
        slope[sought] = np.where(told, rise / np.where(told, along, 1.0), slope[sought])
        line = np.exp(np.minimum(here[0] - here[1] / slope[sought], 30.0))
        halved = np.sqrt(np.maximum(low[sought], 1) * high[sought].astype(float))
        aimed = np.floor(np.where((step > QUICK) & (step % 2 == 0), halved, line)).astype(np.int64)
        at[sought] = np.clip(aimed, low[sought] + 1, high[sought] - 1)
    return low, slope
