"""Climate rows, hourly or monthly, drawn together into one array of plant by month."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearfit.exposures.humidity import (
    dew_point_c,
    sweating_share_hourly,
    sweating_share_monthly,
    wet_hours_hourly,
    wet_hours_monthly,
)

Floats = NDArray[np.float64]
Months = NDArray[np.datetime64]

MIN_HOURS_PER_MONTH = 120
"""[h] Fewer hourly rows do not make a month, for they may all be nights. Admits six-hourly weather. Judgement, no source."""

RH_FLOOR_PCT = 0.5
"""[%] Lowest humidity used: dry-end sensors report 0, which has no dew point. Judgement, no source."""


@dataclass(frozen=True, slots=True)
class MonthlyAir:
    """Air of one place (outdoors, or in the hall) at every plant, month by month.

    Attributes
    ----------
    months : datetime64[M] array, shape (month,)
        Consecutive, from the first recorded month to the last; empty without any climate row.
    temp_c, rh_pct, sweating, wet_hours : arrays, shape (plant, month)
        Mean temperature [degC], mean relative humidity [%], share of hours in which the mould sweats, time of wetness at the rate
        of a year [h/a]. NaN where the month is not recorded.
    thin_months : int array, shape (plant,)
        Months left out because too few of their hours are recorded.
    """

    months: Months
    temp_c: Floats
    rh_pct: Floats
    sweating: Floats
    wet_hours: Floats
    thin_months: NDArray[np.int64]


def monthly_air(climate: pd.DataFrame, plant_ids: Sequence[str], coolant_c: Floats) -> tuple[MonthlyAir, MonthlyAir]:
    """Draw the climate rows of each plant together by month.

    Parameters
    ----------
    climate : DataFrame
        Rows with `plant_id`, `month` or `timestamp` (datetime64, NaT where blank), `temp_c`, `rh_pct` and `place`.
    plant_ids : sequence of str, length plant
        Rows of other plants are passed over.
    coolant_c : array, shape (plant,)
        Coolant supply temperature. [degC]

    Returns
    -------
    outdoor, hall : MonthlyAir
        On the same months. A blank `place` is outdoors.

    Notes
    -----
    A month with enough hours is counted from them; otherwise its monthly row stands, where there is one.
    """
    plant = pd.Index(list(plant_ids), dtype=object).get_indexer(pd.Index(climate["plant_id"], dtype=object))
    hour = climate["timestamp"].to_numpy(dtype="datetime64[s]")
    by_hour = ~np.isnat(hour)
    month = np.where(by_hour, hour, climate["month"].to_numpy(dtype="datetime64[s]")).astype("datetime64[M]")
    temp = climate["temp_c"].to_numpy(dtype=np.float64)
    rh = climate["rh_pct"].to_numpy(dtype=np.float64)
    used = (plant >= 0) & ~np.isnat(month) & np.isfinite(temp) & np.isfinite(rh)
    in_hall = (climate["place"] == "hall").to_numpy(dtype=np.bool_)

    months = _consecutive(month[used])
    shape = (2, len(plant_ids), len(months))
    first = months[0] if len(months) else np.datetime64("1970-01", "M")
    step = (month[used] - first).astype(np.int64)
    cell = (in_hall[used] * shape[1] + plant[used]) * shape[2] + step
    temp, rh, by_hour, coolant = temp[used], np.clip(rh[used], RH_FLOOR_PCT, 100.0), by_hour[used], coolant_c[plant[used]]
    dew = dew_point_c(temp, rh)

    size = int(np.prod(shape))
    hours = np.bincount(cell[by_hour], minlength=size)
    enough = hours >= MIN_HOURS_PER_MONTH

    def drawn_together(from_hours: Floats, from_months: Floats) -> Floats:
        hourly = cell_mean(from_hours, cell[by_hour], size)
        monthly = cell_mean(from_months, cell[~by_hour], size)
        return np.where(enough, hourly, monthly).reshape(shape)

    h, m = by_hour, ~by_hour
    mean_temp = drawn_together(temp[h], temp[m])
    mean_rh = drawn_together(rh[h], rh[m])
    sweating = drawn_together(sweating_share_hourly(dew[h], coolant[h]), sweating_share_monthly(dew[m], coolant[m]))
    wet = drawn_together(wet_hours_hourly(temp[h], rh[h]), wet_hours_monthly(temp[m], rh[m]))
    thin = (((hours > 0) & ~enough).reshape(shape) & np.isnan(mean_temp)).sum(axis=2)
    outdoor, hall = (MonthlyAir(months, mean_temp[i], mean_rh[i], sweating[i], wet[i], thin[i]) for i in (0, 1))
    return outdoor, hall


def climatology(values: Floats, months: Months) -> Floats:
    """Mean of each calendar month over the years.

    Parameters
    ----------
    values : array, shape (plant, month)
        NaN where not recorded.
    months : datetime64[M] array, shape (month,)

    Returns
    -------
    array, shape (plant, 12)
        January to December; NaN where that calendar month was never recorded.
    """
    plant, month = np.nonzero(np.isfinite(values))
    cell = plant * 12 + calendar_month(months)[month]
    return cell_mean(values[plant, month], cell, len(values) * 12).reshape(-1, 12)


def fill_calendar(season: Floats) -> Floats:
    """Fill the calendar months that were never recorded from their recorded neighbours, round the year.

    Parameters
    ----------
    season : array, shape (plant, 12)
        NaN where not recorded.

    Returns
    -------
    array, shape (plant, 12)
        Straight lines between recorded months; a plant with none stays NaN.
    """
    filled = season.copy()
    calendar = np.arange(12)
    for row in filled:
        known = np.isfinite(row)
        if known.any() and not known.all():
            row[~known] = np.interp(calendar[~known], calendar[known], row[known], period=12)
    return filled


def calendar_month(months: Months) -> NDArray[np.int64]:
    """Calendar month of each month, 0 = January."""
    return months.astype("datetime64[M]").astype(np.int64) % 12


def cell_mean(values: Floats, cell: NDArray[np.int64], size: int) -> Floats:
    """Mean of the values that fall into each cell, NaN for an empty cell."""
    count = np.bincount(cell, minlength=size)
    total = np.bincount(cell, weights=values, minlength=size)
    mean: Floats = np.divide(total, count, out=np.full(size, np.nan), where=count > 0)
    return mean


def _consecutive(months: Months) -> Months:
    if len(months) == 0:
        return np.empty(0, dtype="datetime64[M]")
    return np.arange(months.min(), months.max() + np.timedelta64(1, "M"), dtype="datetime64[M]")
