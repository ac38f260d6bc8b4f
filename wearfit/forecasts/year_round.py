"""When an amount is used up in years that are all alike: after so many whole ones, in which month, and how far into it."""

from dataclasses import dataclass
from typing import Final

import numpy as np

Array = np.ndarray

LEAST: Final = 1e-30  # stands for nothing used in a month; its reciprocal times any amount is a number in single precision too


def looked_up(table: Array, place: Array) -> Array:
    """Values of a flat table at places (sample, tool), each tool's side by side in memory as the places are."""
    return table.take(place.T).T


@dataclass(frozen=True)
class Reached:
    """Where amounts are used up. Arrays of shape (sample, tool)."""

    years: Array  # whole ones that pass before
    place: Array  # month * samples + sample, a place in tables of (month, sample)
    month: Array  # of the year under way
    part: Array  # of that month, 0..1

    @property
    def months(self) -> Array:
        """Months that pass before."""
        months = 12.0 * self.years
        months += self.month
        months += self.part
        return months


@dataclass(frozen=True)
class YearRound:
    """What is used in each of twelve months, and again in each year that follows, at each plant.

    Parameters
    ----------
    begun : array, shape (plant, month, sample)
        Used up in the year when a month begins.
    per_month : array, shape (plant, month, sample)
        One over what the month uses.
    year : array, shape (plant, sample)
        Used in a year.
    """

    begun: Array
    per_month: Array
    year: Array

    @staticmethod
    def of(used: Array) -> "YearRound":
        """From what each month uses, shape (month, plant, sample)."""
        ends = np.cumsum(used, axis=0)
        begun = np.concatenate([np.zeros_like(used[:1]), ends[:-1]])
        by_plant, per_month = (np.ascontiguousarray(np.swapaxes(a, 0, 1)) for a in (begun, 1.0 / np.maximum(used, LEAST)))
        return YearRound(by_plant, per_month, ends[-1])

    def reach(self, amount: Array, plant: Array) -> Reached:
        """Where amounts, zero or more, are used up.

        Parameters
        ----------
        amount : array, shape (sample, tool)
            NaN where unknown.
        plant : array, shape (tool,)
            -1 for the last.
        """
        plants, months, samples = self.begun.shape
        one = bool((plant == plant[:1]).all())
        at = plant[:1] if one else plant  # one for all needs no copies
        year = self.year[at].T
        years = amount / year
        np.floor(years, out=years)
        rest = years * year
        np.subtract(amount, rest, out=rest)
        passed, more = np.zeros_like(rest, dtype=np.int8), np.empty_like(rest, dtype=bool)
        for month in range(1, months):
            np.greater(rest, self.begun[at, month].T, out=more)
            passed += more.view(np.int8)
        place = passed.astype(np.int64)
        place *= samples
        place += np.arange(samples)[:, None]
        if one:
            begun, per_month, own = self.begun[at[0]], self.per_month[at[0]], place
        else:
            begun, per_month, own = self.begun, self.per_month, place + (at % plants) * (months * samples)
        rest -= looked_up(begun, own)
        rest *= looked_up(per_month, own)
        return Reached(years, place, passed, np.clip(rest, 0.0, 1.0, out=rest))
