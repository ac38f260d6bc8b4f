"""When wear-out and sudden stops come, along the use ahead."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.forecasts.use_ahead import UseAhead

Array = np.ndarray

LEAST: Final = 1e-300  # stands for no wear and no risk in a month without use


@dataclass(frozen=True)
class Arrival:
    """When each draw of each tool gets there. Arrays of shape (sample, tool)."""

    wear_days: Array  # days after the end of the first day until the wear is used up; inf past the last one asked for
    wear_shots: Array  # machine shots until then, however far ahead; at even use where none is expected
    sudden_days: Array  # days until a sudden stop; inf past the last day asked for, NaN where nobody asked for sudden stops
    never: Array  # (tool,) whether no draw ever gets there, for want of use


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
        shots += np.multiply(lived, month.shots, out=lived)
        if asked is not None:
            to_sudden += _live_through(asked, month.sudden)
    year, level, ends = use.year_after(first), use.level, _month_ends(first, days)
    rate = _or_never(level * use.usual_job)
    worn = year.wear.reach(np.maximum(wear_left, 0.0) / rate, use.plant)
    never = np.isinf(rate) & (wear_left > 0)
    to_wear += worn.months
    shots += level * year.shots_by(worn)
    if np.any(never):
        to_wear[never] = np.inf
        shots += np.where(never, wear_left / use.wear_per_shot_at_even_use(), 0.0)
    if asked is None:
        return Arrival(_days(to_wear, ends), shots, np.full_like(to_wear, np.nan), never.all(axis=0))
    rate = _or_never(level * use.sudden_per_shot_at_usual_use())
    to_sudden += year.use.reach(np.maximum(asked, 0.0) / rate, np.zeros_like(use.plant)).months
    to_sudden[np.isinf(rate) & (asked > 0)] = np.inf
    return Arrival(_days(to_wear, ends), shots, _days(to_sudden, ends), never.all(axis=0))


def _or_never(rate: Array) -> Array:
    """The rate, infinite where there is none, so that nothing of a year is needed for what never comes."""
    return np.where(rate > 0, rate, np.inf) if np.any(rate <= 0) else rate


def _live_through(left: Array, amount: Array) -> Array:
    """Share of a month that passes before `left` is used up; takes the month's amount off `left`."""
    with np.errstate(over="ignore"):
        share = left / np.maximum(amount, LEAST)
    left -= amount
    return np.clip(share, 0.0, 1.0, out=share)


def _days(months: Array, ends: Array) -> Array:
    """Days until so many months have passed, inf beyond the last that ends, NaN where unknown."""
    last = len(ends) - 1
    within = np.fmin(months, last)
    month = within.astype(np.int64)
    within -= month
    lengths = np.append(np.diff(ends), 0.0)
    days = ends.take(month) + within * lengths.take(month)
    beyond = ~(months <= last)
    days[beyond] = np.where(np.isnan(months[beyond]), np.nan, np.inf)
    return days


def _month_ends(first: dt.date, days: float) -> Array:
    """Days from the end of `first` to the ends of the months that follow, a zero before them, shape (month + 1,)."""
    tomorrow = np.datetime64(first + dt.timedelta(days=1), "D")
    months = tomorrow.astype("datetime64[M]").astype(np.int64) + np.arange(1, int(days / 28.0) + 3)
    starts = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    return np.append(0.0, starts - tomorrow.astype(np.int64))
