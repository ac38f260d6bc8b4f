"""When wear-out and sudden stops come, along the use ahead."""

import datetime as dt
from collections.abc import Iterable
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
    sudden_days: Array  # days until a sudden stop; inf past the last day asked for
    never: Array  # (tool,) whether no draw ever gets there, for want of use


def walk(use: UseAhead, first: dt.date, days: float, wear_left: Array, sudden_left: Array) -> Arrival:
    """Walk the months ahead until wear and luck run out.

    Parameters
    ----------
    first : date
        The walk begins at its end.
    days : float
        How many days ahead are told apart from never.
    wear_left : array, shape (sample, tool)
        Wear that each draw can still take, NaN where unknown. [reference shots]
    sudden_left : array, shape (sample, tool)
        Expected sudden stops at which one happens, a standard exponential draw.

    Notes
    -----
    Within a month wear comes evenly. Beyond the plan the years are alike, so whole years are skipped by division.
    """
    wear_left, sudden_left = wear_left.copy(), sudden_left.copy()
    to_wear, to_sudden, shots = np.zeros_like(wear_left), np.zeros_like(wear_left), np.zeros_like(wear_left)  # months, months, shots
    for month in use.until_plan_ends(first):
        lived = _live_through(wear_left, month.wear)
        to_wear += lived
        shots += lived * month.shots
        to_sudden += _live_through(sudden_left, month.sudden)
    year = use.year_after(first)
    whole = _whole_years(wear_left, _total(month.wear for month in year))
    never = np.isinf(whole)
    to_wear += 12.0 * whole
    shots += np.where(never, 0.0, whole) * _total(month.shots for month in year)
    to_sudden += 12.0 * _whole_years(sudden_left, _total(month.sudden for month in year))
    for month in year:
        lived = _live_through(wear_left, month.wear)
        to_wear += lived
        shots += lived * month.shots
        to_sudden += _live_through(sudden_left, month.sudden)
    if np.any(never):
        shots += np.where(never, wear_left / use.wear_per_shot_at_even_use(), 0.0)
    ends = _month_ends(first, days)
    months = np.arange(len(ends), dtype=float)
    return Arrival(
        wear_days=np.interp(to_wear, months, ends, right=np.inf),
        wear_shots=shots,
        sudden_days=np.interp(to_sudden, months, ends, right=np.inf),
        never=never.all(axis=0),
    )


def _live_through(left: Array, amount: Array) -> Array:
    """Share of a month that passes before `left` is used up; takes the month's amount off `left`."""
    with np.errstate(over="ignore"):
        share = left / np.maximum(amount, LEAST)
    left -= amount
    return np.clip(share, 0.0, 1.0, out=share)


def _whole_years(left: Array, yearly: Array) -> Array:
    """Whole years that pass before `left` is used up, inf where a year takes nothing; takes them off `left`."""
    whole = np.where(left > 0, np.floor(left / np.where(yearly > 0, yearly, np.inf)), 0.0)
    left -= whole * yearly
    return np.where((left > 0) & (yearly <= 0), np.inf, whole)


def _total(amounts: Iterable[Array]) -> Array:
    return np.sum(list(amounts), axis=0)


def _month_ends(first: dt.date, days: float) -> Array:
    """Days from the end of `first` to the ends of the months that follow, a zero before them, shape (month + 1,)."""
    tomorrow = np.datetime64(first + dt.timedelta(days=1), "D")
    months = tomorrow.astype("datetime64[M]").astype(np.int64) + np.arange(1, int(days / 28.0) + 3)
    starts = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    return np.append(0.0, starts - tomorrow.astype(np.int64))
