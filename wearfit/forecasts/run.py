"""Some tools, each under a set of conditions: the risk of runs of so many shots, and the longest runs at a risk."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wearfit.forecasts.clock import Clocks
from wearfit.forecasts.largest_run import Risk

Array = np.ndarray


@dataclass(frozen=True)
class Run:
    """Some runs, each of a tool under a set of conditions, asked alone. Arrays of shape (sample, run) unless said otherwise.

    Parameters
    ----------
    rows : array, shape (run,)
        Of the live table.
    clocks : Clocks
        Of their tools.
    plant_wear, resin_wear : arrays
        Factors on wear per shot, of the plant in the run's month and of the resin on the tool's steel.
    wear : array
        Per shot, modifications included. [reference shots]
    per_setup : array
        What the set-up costs. [shots]
    stood : array
        Wear from the clock's day to the run, in store or idle. [reference shots]
    new : sequence of tuple of str
        Plant, resin and design of which no record tells, run by run.
    """

    rows: Array
    clocks: Clocks
    plant_wear: Array
    resin_wear: Array
    wear: Array
    per_setup: Array
    stood: Array
    new: Sequence[tuple[str, ...]]

    def p_wear_out(self, shots: Array | float) -> Array:
        """Probability of wear-out within so many shots, or unseen while it stood before them, draw by draw, shape (sample, run)."""
        return self._risk.by_draw(shots)

    def largest(self, risks: Sequence[float]) -> Array:
        """Largest whole number of shots of each run with a wear-out probability at or under each risk, shape (risk, run).

        0 where one shot exceeds it.
        """
        return self._risk.largest(risks)

    @cached_property
    def _risk(self) -> Risk:
        clocks = self.clocks
        before = self.per_setup * self.wear
        before += self.stood
        return Risk(clocks.ending, clocks.weights, clocks.beyond(before), clocks.over_come(self.wear))
