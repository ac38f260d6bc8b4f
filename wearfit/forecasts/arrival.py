"""When wear-out and sudden stops come, along the use ahead."""

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from wearfit.forecasts.use_ahead import UseAhead
from wearfit.forecasts.year_round import looked_up

Array = np.ndarray

LEAST: Final = 1e-300  # stands for no wear and no risk in a month without use


@dataclass(frozen=True)
class Calendar:
    """Days of the months ahead.

    Parameters
    ----------
    ends : array, shape (month + 1,)
        Days from the first day's end to the ends of the months that follow, a zero before them.
    """

    ends: Array

    def days(self, months: Array) -> Array:
        """Days until so many months have passed, inf beyond the last that ends, NaN where unknown."""
        last = len(self.ends) - 1
        days = np.fmin(months, last, dtype=float)
        month = days.astype(np.int64)
        days -= month
        days *= looked_up(np.append(np.diff(self.ends), 0.0), month)
        days += looked_up(self.ends, month)
        np.copyto(days, np.inf, where=months > last)
        np.copyto(days, np.nan, where=np.isnan(months))
        return days

    def months(self, days: float) -> float:
        """Months that pass in so many days, no more than there are."""
        return float(np.interp(days, self.ends, np.arange(len(self.ends))))


@dataclass(frozen=True)
class Arrival:
    """When each draw of each tool gets there. Arrays of shape (sample, tool)."""

    wear_months: Array  # months after the end of the first day until the wear is used up, what is left of its month the first
    wear_shots: Array  # machine shots until then, however far ahead; at even use where none is expected
    sudden_months: Array  # months until a sudden stop, NaN where nobody asked for sudden stops
    never: Array  # (tool,) whether no draw ever gets there, for want of use
    calendar: Calendar  # up to the last day asked for

    @cached_property
    def wear_days(self) -> Array:
        """Days after the end of the first day until the wear is used up; inf past the last one asked for."""
        return self.calendar.days(self.wear_months)

    @cached_property
    def sudden_days(self) -> Array:
        """Days until a sudden stop; inf past the last one asked for."""
        return self.calendar.days(self.sudden_months)


def walk(use: UseAhead, first: dt.date, days: float, wear_left: Array, sudden_left: Array | None = None) -> Arrival:
    """Walk the months ahead until wear and luck run out.

    Parameters
    ----------
    first : date
        The walk begins at its end.
    days : float
        How many days ahead are told apart from never.
    wear_left : array, shape (sample, tool)
        Wear that each draw can still take, NaN where unknown. [reference shots]
    sudden_left : array, shape (sample, tool), optional
        Expected sudden stops at which one happens, a standard exponential draw; left out where nobody asks for them.

    Notes
    -----
    Within a month wear comes evenly. Beyond the plan the years are alike, so whole years are skipped by division.
    """
    wear_left, asked = wear_left.copy(order="K"), None if sudden_left is None else sudden_left.copy(order="K")
    to_wear, to_sudden, shots = (np.zeros_like(wear_left) for _ in range(3))  # months, months, shots
    for month in use.until_plan_ends(first):
        lived = _live_through(wear_left, month.wear)
        to_wear += lived
        lived *= month.shots
        shots += lived
        if asked is not None:
            to_sudden += _live_through(asked, month.sudden)
    year, level = use.year_after(first), use.usual.level
    np.maximum(wear_left, 0.0, out=wear_left)
    amount, never = _in_time(wear_left, level * use.usual.job)
    worn = year.wear.reach(amount, use.usual.plant)
    to_wear += worn.months
    made = year.shots_by(worn)
    made *= level
    shots += made
    if never.any():
        to_wear[never] = np.inf
        shots += np.where(never, wear_left / use.wear_per_shot_at_even_use(), 0.0)
    calendar = Calendar(_month_ends(first, days))
    if asked is None:
        return Arrival(to_wear, shots, np.full_like(to_wear, np.nan), never.all(axis=0), calendar)
    np.maximum(asked, 0.0, out=asked)
    amount, no_stop = _in_time(asked, level * use.usual.sudden)
    to_sudden += year.use.reach(amount, np.zeros_like(use.usual.plant)).months
    if no_stop.any():
        to_sudden[no_stop] = np.inf
    return Arrival(to_wear, shots, to_sudden, never.all(axis=0), calendar)


def _in_time(left: Array, rate: Array) -> tuple[Array, Array]:
    """What is left over what a time takes, and where something is left that no time takes; there the first is 0. Changes `rate`."""
    none = rate <= 0
    if none.any():
        rate[none] = np.inf  # so that nothing of a year is needed for what never comes
    never = none & (left > 0) if none.any() else none
    return left / rate, never


def _live_through(left: Array, amount: Array) -> Array:
    """Share of a month that passes before `left` is used up; takes the month's amount off `left`."""
    with np.errstate(over="ignore"):
        share = left / np.maximum(amount, LEAST)
    left -= amount
    return np.clip(share, 0.0, 1.0, out=share)


def _month_ends(first: dt.date, days: float) -> Array:
    """Days from the end of `first` to the ends of the months that follow, a zero before them, shape (month + 1,)."""
    tomorrow = np.datetime64(first + dt.timedelta(days=1), "D")
    months = tomorrow.astype("datetime64[M]").astype(np.int64) + np.arange(1, int(days / 28.0) + 3)
    starts = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    return np.append(0.0, starts - tomorrow.astype(np.int64))
