"""The clocks of the live tools at the day of the question."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit import law
from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.conditions import generator
from wearfit.forecasts.use_ahead import UseAhead
from wearfit.remaining import LEAST, Remaining, unpacked

Array = np.ndarray

FURTHEST_YEARS: Final = 100  # how far ahead questions are answered


@dataclass(frozen=True)
class Clocks:
    """Where some live tools stand. Arrays of shape (sample, tool)."""

    spent: Array  # [reference shots]; NaN where the age is unknown
    log_life: Array
    shape: Array  # (sample, 1)
    weights: Array  # of the draws: survival since the calibration, where the clock was moved on
    shots_since: Array  # shots made since the calibration's day, as expected
    came: Array  # rise of the cumulative hazard since then
    left: Mapping[int, Remaining]  # what readings said, at the calibration, of what is left of some of the tools, by column

    def hazard(self, spent: Array) -> Array:
        """Cumulative hazard at a wear spent."""
        return np.asarray(law.cumulative_hazard(spent, self.log_life, self.shape))

    def ends_before(self, spent: Array) -> Array:
        """Probability that each draw's life ends before this wear, given that it has come so far, shape (sample, tool)."""
        rise = self.hazard(spent) - self.hazard(self.spent)
        ends = -np.expm1(-rise)
        for i, left in self.left.items():
            gone = left.share_within(self.came[:, i])
            ends[:, i] = (left.share_within(self.came[:, i] + rise[:, i]) - gone) / np.maximum(1.0 - gone, LEAST)
        return np.clip(ends, 0.0, 1.0)

    def capacity(self, extra: Array) -> Array:
        """Capacity of each draw's life, by a standard exponential draw for the luck that is left of it, shape (sample, tool)."""
        rise = extra
        if self.left:
            rise = extra.copy()
            for i, left in self.left.items():
                gone = left.share_within(self.came[:, i])
                rise[:, i] = np.maximum(left.rise_at(1.0 - (1.0 - gone) * np.exp(-extra[:, i])) - self.came[:, i], LEAST)
        return np.asarray(law.wear_at(self.hazard(self.spent) + rise, self.log_life, self.shape))


def question_day(calibration: Calibration, as_of: dt.date | None) -> dt.date:
    """The day asked for, the calibration's own by default.

    Raises
    ------
    Refusal
        Where the day lies before the calibration's, whose draws know what happened since; or out of sight.
    """
    own = dt.date.fromisoformat(calibration.identity.as_of)
    if as_of is not None and as_of < own:
        raise Refusal(
            f"The calibration in use is as of {own} and would know the future of {as_of}.",
            f"Ask for {own} or later, or recalibrate with --as-of {as_of}.",
        )
    if as_of is not None and as_of.year > own.year + FURTHEST_YEARS:
        raise Refusal(f"The day {as_of} lies more than {FURTHEST_YEARS} years after the calibration's.", "Ask for an earlier day.", 2)
    return as_of or own


def read_clocks(calibration: Calibration, rows: Array, use: UseAhead, day: dt.date) -> Clocks:
    """Clocks of some live tools, moved on by expected use to a later day.

    Nothing is known of what happened in between: tools are taken to run on, so each draw is weighed by the probability
    that the tool came through (a wear-out in between would have been recorded). A worn tool stands still; a stored or
    held one is used only as planned, for nobody said that it is back.
    """
    spent = np.asarray(calibration.draws.wear_spent[:, rows], dtype=float)
    log_life = np.log(np.asarray(calibration.draws.characteristic_life[:, rows], dtype=float))
    shape = np.exp(calibration.coefficient("log_shape"))[:, None]
    moved, shots = spent, np.zeros_like(spent)
    status = calibration.live.status[rows]
    worn, away = status == "worn", np.isin(status, ("stored", "held"))
    for month, planned in use.between(dt.date.fromisoformat(calibration.identity.as_of), day):
        still = worn | (away & ~planned)
        moved = moved + np.where(still, 0.0, month.wear)
        shots = shots + np.where(still, 0.0, month.shots)
    left = left_by_readings(calibration, rows, law.cumulative_hazard(spent, log_life, shape), shape[:, 0])
    if moved is spent:
        return Clocks(spent, log_life, shape, np.ones_like(spent), shots, np.zeros_like(spent), left)
    rise = np.nan_to_num(law.cumulative_hazard(moved, log_life, shape) - law.cumulative_hazard(spent, log_life, shape))
    # A constant factor per tool changes no weighted mean and keeps the weights from vanishing.
    weights = np.exp(rise.min(axis=0) - rise)
    for i, of_tool in left.items():
        came_through = 1.0 - of_tool.share_within(rise[:, i])
        weights[:, i] = came_through / came_through.max() if came_through.max() > 0.0 else 1.0
    return Clocks(moved, log_life, shape, weights, shots, rise, left)


def left_by_readings(calibration: Calibration, rows: Array, hazard: Array, shape: Array) -> dict[int, Remaining]:
    """What readings say of what is left of some live tools, by their place in `rows`.

    `hazard` (sample, tool) and `shape` (sample,) are those at the calibration's day.
    """
    reads = calibration.reads
    left = {}
    for i, row in enumerate(rows):
        for read in np.flatnonzero(reads.live == row):
            told = unpacked(calibration.draws.read_told[:, read])
            left[i] = Remaining(hazard[:, i], shape, float(reads.q_low[read]), float(reads.q_high[read]), told)
    return left


def exponential_draws(calibration: Calibration, rows: Array, purpose: str) -> Array:
    """Standard exponential draws for each tool, stratified over the samples, shape (sample, tool)."""
    n = calibration.samples
    out = np.empty((n, len(rows)))
    for i, row in enumerate(rows):
        rng = generator(calibration, purpose, str(calibration.levels.tool[calibration.live.tool[row]]))
        out[:, i] = -np.log((rng.permutation(n) + rng.random(n)) / n)
    return out
