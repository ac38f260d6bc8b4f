"""One tool under one set of conditions: the risk of a run of so many shots, and the longest run at a risk."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.forecasts.clock import Clocks
from wearfit.forecasts.quantiles import weighted_mean

Array = np.ndarray

LARGEST_RUN: Final = 10**9  # [shots] beyond any tool


@dataclass(frozen=True)
class Run:
    """One tool under one set of conditions.

    Parameters
    ----------
    row : int
        Of the live table.
    clocks : Clocks
        Of that tool alone.
    plant_wear, resin_wear : arrays, shape (sample,)
        Factors on wear per shot, of the plant in the run's month and of the resin on the tool's steel.
    wear : array, shape (sample,)
        Per shot, modifications included. [reference shots]
    per_setup : array, shape (sample,)
        What the set-up costs. [shots]
    stood : array, shape (sample, 1)
        Wear from the clock's day to the run, in store or idle. [reference shots]
    new : tuple of str
        Plant, resin and design of which no record tells.
    """

    row: int
    clocks: Clocks
    plant_wear: Array
    resin_wear: Array
    wear: Array
    per_setup: Array
    stood: Array
    new: tuple[str, ...]

    def p_wear_out(self, shots: float) -> Array:
        """Probability of wear-out within so many shots, or unseen while it stood before them, draw by draw, shape (sample, 1)."""
        after = self.clocks.spent + self.stood + (self.wear * (shots + self.per_setup))[:, None]
        return self.clocks.ends_before(after)

    def largest(self, risk: float) -> int:
        """Largest whole number of shots with a wear-out probability at or under the risk, 0 where one shot exceeds it."""

        def within(shots: int) -> bool:
            return bool(weighted_mean(self.p_wear_out(shots), self.clocks.weights)[0] <= risk)

        if not within(1):
            return 0
        low, high = 1, 2
        while high < LARGEST_RUN and within(high):
            low, high = high, high * 2
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if within(middle) else (low, middle)
        return low
