"""The risk of runs by their shots, and the largest run at a risk: where a chance that grows with the shots reaches it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.forecasts.clock import Ending, columns
from wearfit.forecasts.conditions import in_precision_of
from wearfit.forecasts.quantiles import weighted_mean

Array = np.ndarray

LARGEST_RUN: Final = 10**9  # [shots] beyond any tool
BEYOND: Final = 1 << 30  # [shots] taken to be too many of any
SCOUTS: Final = 16  # every so manieth draw tells where to look
ROUGH: Final = 3  # steps of theirs
USUAL: Final = 2.0  # slope of the log of the hazard by the log of the shots
QUICK: Final = 8  # steps along the line through the last two points, after which the bracket is halved now and then
NEAR: Final = 0.01  # of the shots: over so short a way the slope of a smooth chance changes by no larger a share of itself than the way is
SLACK: Final = 0.01  # [shots] by which a line through two such points may be off where it is believed

Chance = Callable[[Array, Array], Array]  # of which searches, shape (asked,), at so many shots, (asked,); grows with the shots


@dataclass(frozen=True)
class Risk:
    """The risk of some runs, each of its own tool under its own conditions. Arrays of shape (sample, run)."""

    ending: Ending
    weights: Array
    before: Array  # wear until the first shot is made, over that through which the life has come, as `Ending` takes it
    per_shot: Array  # wear, over the same

    def by_draw(self, shots: Array | float) -> Array:
        """Probability of wear-out within so many shots, draw by draw."""
        ends = self.ending.before(self._spent(shots))
        return np.clip(ends, 0.0, 1.0, out=ends)

    def chance(self, shots: Array) -> Array:
        """Probability of wear-out within so many shots, shape (run,)."""
        return weighted_mean(self.ending.before(self._spent(shots)), self.weights)

    def _spent(self, shots: Array | float) -> Array:
        spent = in_precision_of(self.per_shot, shots) * self.per_shot
        spent += self.before
        return np.asarray(spent)

    def take(self, runs: Array, draws: slice = slice(None)) -> "Risk":
        """Of some of the runs, by some of the draws."""
        weights, before, per_shot = (columns(a, runs, draws) for a in (self.weights, self.before, self.per_shot))
        return Risk(self.ending.take(runs, draws), weights, before, per_shot)

    def largest(self, risks: Sequence[float]) -> Array:
        """Largest whole number of shots of each run with a chance at or under each risk, shape (risk, run).

        0 where one shot exceeds it, and below BEYOND.
        """
        runs = np.arange(self.before.shape[1])
        scouts = self.take(np.tile(runs, len(risks)), slice(None, None, SCOUTS))
        of_search = np.repeat(np.asarray(risks, dtype=float), len(runs))
        begin, slope = roughly_within(scouts._of_some, of_search, scouts._middle(of_search))
        return largest_within(self._of_searches, of_search, begin, slope, smooth=True).reshape(len(risks), len(runs))

    def _middle(self, risk: Array) -> Array:
        """Shots at which the middle draw is at the risk, shape (run,)."""
        return np.asarray(np.median((self.ending.at(risk) - self.before) / self.per_shot, axis=0))

    def _of_some(self, runs: Array, shots: Array) -> Array:
        """Chances of some of the runs, shape (asked,)."""
        every = self.before.shape[1]
        if 2 * len(runs) < every:
            return self.take(runs).chance(shots)
        asked = np.ones(every)  # of all: to part the draws of these from the others takes as long
        asked[runs] = shots
        return self.chance(asked)[runs]

    def _of_searches(self, searches: Array, shots: Array) -> Array:
        """Chances of some searches, those of each risk side by side, shape (asked,)."""
        runs, told = self.before.shape[1], []
        if 2 * len(searches) < runs:
            return self.take(searches % runs).chance(shots)
        parts = np.searchsorted(searches, np.arange(runs, searches[-1] + 1, runs))
        for some, at in zip(np.split(searches % runs, parts), np.split(shots, parts), strict=True):
            told.append(self._of_some(some, at) if len(some) else at)
        return np.concatenate(told)


class _Line:
    """Lines through the last two points of searches for a risk, in the logs of the shots and of the hazard."""

    def __init__(self, risk: Array, slope: Array | float) -> None:
        self._wanted = _log_hazard(risk)
        self.slope = np.broadcast_to(np.asarray(slope, dtype=float), risk.shape).copy()
        self._before = np.full((2, len(risk)), np.nan)  # logs of the shots, and of the hazard over that of the risk

    def aimed(self, searches: Array, shots: Array, chance: Array) -> tuple[Array, Array]:
        """Shots at which the lines of some searches reach the risk by a further point, and by how many they may be off, inf if unknown."""
        here = np.stack([np.log(shots), _log_hazard(chance) - self._wanted[searches]])
        along, rise = here - self._before[:, searches]
        self._before[:, searches] = here
        told = along * rise > 0
        slope = np.where(told, rise / np.where(told, along, 1.0), self.slope[searches])
        self.slope[searches] = slope
        reached = np.exp(np.minimum(here[0] - here[1] / slope, 30.0))
        return reached, np.where(told & (np.abs(along) < NEAR), np.abs(along) * np.abs(reached - shots), np.inf)


def _log_hazard(chance: Array) -> Array:
    """Log of the cumulative hazard that brings a chance, by that of the shots more nearly a straight line than the log of the chance."""
    return np.asarray(np.log(-np.log1p(-np.clip(chance, 1e-300, 1.0 - 1e-15))))


def roughly_within(chance: Chance, risk: Array, begin: Array) -> tuple[Array, Array]:
    """Shots with about the chance that is the risk, and the slope of the line there, shapes (search,).

    Parameters as those of `largest_within`.
    """
    every, line, at = np.arange(len(risk)), _Line(risk, USUAL), np.clip(np.nan_to_num(begin), 1.0, BEYOND)
    for _ in range(ROUGH):
        at = np.clip(line.aimed(every, at, chance(every, at))[0], 1.0, BEYOND)
    return at, line.slope


def largest_within(chance: Chance, risk: Array, begin: Array, slope: Array | float = USUAL, smooth: bool = False) -> Array:
    """Largest whole numbers of shots with a chance at or under a risk.

    Parameters
    ----------
    chance : callable
        See `Chance`.
    risk : array, shape (search,)
        In (0, 1).
    begin : array, shape (search,)
        Where to begin. [shots]
    slope : array, shape (search,)
        Of the log of the hazard by the log of the shots, as far as it is known.
    smooth : bool
        Whether a line through two points that are near each other tells of the next shot, which then need not be asked about.

    Returns
    -------
    array, shape (search,)
        0 where one shot exceeds the risk, and below BEYOND.
    """
    searches, line = len(risk), _Line(risk, slope)
    low, high = np.zeros(searches, dtype=np.int64), np.full(searches, BEYOND, dtype=np.int64)
    at = np.clip(np.nan_to_num(begin), 1, BEYOND - 1).astype(np.int64)
    step = 0
    while len(sought := np.flatnonzero(high - low > 1)):
        step += 1
        now = at[sought]
        p = chance(sought, now)
        within = p <= risk[sought]
        low[sought], high[sought] = np.where(within, now, low[sought]), np.where(within, high[sought], now)
        reached, off = line.aimed(sought, now, p)
        aimed = np.floor(reached)
        if smooth:
            near = (off < SLACK) & (np.floor(reached - SLACK) == aimed) & (np.floor(reached + SLACK) == aimed)
            low[sought[near]], high[sought[near]] = aimed[near], aimed[near] + 1
        if step > QUICK and step % 2 == 0:
            aimed = np.floor(np.sqrt(np.maximum(low[sought], 1) * high[sought].astype(float)))
        at[sought] = np.clip(aimed.astype(np.int64), low[sought] + 1, high[sought] - 1)
    return low
