"""When wear-out and sudden stops come, along the use ahead."""

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from wearfit.forecasts.use_ahead import UseAhead, one_row
from wearfit.forecasts.year_round import looked_up

Array = np.ndarray

LEAST: Final = 1e-30  # stands for no wear and no risk in a month without use


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
        days = np.fmin(months, last)
        month = days.astype(np.int64)
        days -= month
        lengths, ends = (a.astype(days.dtype) for a in (np.append(np.diff(self.ends), 0.0), self.ends))
        days *= looked_up(lengths, month)
        days += looked_up(ends, month)
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
    wear, sudden = Countdown(wear_left), None if sudden_left is None else Countdown(sudden_left)
    made = np.zeros((1, wear_left.shape[1]), wear_left.dtype)  # shots by the end of the months walked, in one row while draws are alike
    walked = 0
    for month in use.until_plan_ends(first):
        shots = one_row(month.shots)
        wear.take(month.wear, walked, made, shots)
        if sudden is not None:
            sudden.take(month.sudden, walked, made, shots)
        made, walked = made + shots, walked + 1
    year, level = use.year_after(first), use.usual.level
    left = np.maximum(wear.left, 0.0, out=wear.left)
    amount, never = _in_time(left, level * use.usual.job)
    worn = year.wear.reach(amount, use.usual.plant)
    shots = year.shots_by(worn)
    shots *= level
    shots += made
    to_wear = worn.months
    to_wear += walked
    if never.any():
        to_wear[never] = np.inf
        shots += np.where(never, left / use.wear_per_shot_at_even_use(), 0.0)
    wear.put_ends(to_wear, shots)
    calendar = Calendar(_month_ends(first, days))
    if sudden is None:
        return Arrival(to_wear, shots, np.full_like(to_wear, np.nan), never.all(axis=0), calendar)
    left = np.maximum(sudden.left, 0.0, out=sudden.left)
    amount, no_stop = _in_time(left, level * use.usual.sudden)
    to_sudden = year.use.reach(amount, np.zeros_like(use.usual.plant)).months
    to_sudden += walked
    if no_stop.any():
        to_sudden[no_stop] = np.inf
    sudden.put_ends(to_sudden)
    return Arrival(to_wear, shots, to_sudden, never.all(axis=0), calendar)


class Countdown:
    """What is left of something from month to month, and where it ended. Most draws last until the plan ends, so ends are few.

    Parameters
    ----------
    left : array, shape (sample, tool)
        NaN where unknown, which never ends.
    """

    def __init__(self, left: Array) -> None:
        self.left = left.copy(order="K")  # below zero where it has ended
        self._ended = np.zeros_like(left, dtype=bool)
        self._ends: list[tuple[Array, Array, Array, Array]] = []  # tool, sample, months and shots until then

    def take(self, amount: Array, walked: int, made: Array, shots: Array) -> None:
        """Take off what a month uses.

        Parameters
        ----------
        amount, shots : arrays, shape (sample, tool)
            Of the month; `shots` in one row where all draws are alike.
        walked, made : int, array
            Months before it, and shots made in them.
        """
        self.left -= amount
        ends = self.left <= 0.0
        np.greater(ends, self._ended, out=ends)
        self._ended |= ends
        tool, sample = np.divmod(np.flatnonzero(ends.T.ravel()), len(ends))

        def there(values: Array) -> Array:
            return np.broadcast_to(values, ends.shape)[sample, tool]

        used = there(amount)
        with np.errstate(over="ignore"):
            share = np.clip((self.left[sample, tool] + used) / np.maximum(used, LEAST), 0.0, 1.0)
        self._ends.append((tool, sample, walked + share, there(made) + share * there(shots)))

    def put_ends(self, months: Array, shots: Array | None = None) -> None:
        """Write where it ended into arrays (sample, tool) that tell it of the draws that lasted."""
        for tool, sample, months_then, shots_then in self._ends:
            months[sample, tool] = months_then
            if shots is not None:
                shots[sample, tool] = shots_then


def _in_time(left: Array, rate: Array) -> tuple[Array, Array]:
    """What is left over what a time takes, and where something is left that no time takes; there the first is 0. Changes `rate`."""
    none = rate <= 0
    if none.any():
        rate[none] = np.inf  # so that nothing of a year is needed for what never comes
    never = none & (left > 0) if none.any() else none
    return left / rate, never


def _month_ends(first: dt.date, days: float) -> Array:
    """Days from the end of `first` to the ends of the months that follow, a zero before them, shape (month + 1,)."""
    tomorrow = np.datetime64(first + dt.timedelta(days=1), "D")
    months = tomorrow.astype("datetime64[M]").astype(np.int64) + np.arange(1, int(days / 28.0) + 3)
    starts = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    return np.append(0.0, starts - tomorrow.astype(np.int64))
