"""What standing in store takes from a tool's life, after the calibration's day and before it."""

import datetime as dt
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.covariates import IDLE_DAYS, PLANT_COVARIATES
from wearfit.forecasts.conditions import by_draw_and_tool, in_precision_of

Array = np.ndarray

YEAR: Final = 365.25  # [day]
EPOCH: Final = dt.date(1970, 1, 1)
AIR: Final = [c.name for c in PLANT_COVARIATES].index("log_corrosivity")


def store_wear_per_day(calibration: Calibration, rows: Array) -> Array:
    """Wear that a day in store costs some live tools, shape (sample, tool); zero for those in no store or worn. [reference shots]"""
    live = calibration.live
    out = np.zeros((len(rows), calibration.samples), calibration.precision)
    stands = live.in_store[rows].astype(bool) & (live.status[rows] != "worn")
    if not stands.any():
        return out.T
    of = rows[stands]
    out[stands] = standing_wear_per_day(calibration, of, live.store_preserved[of], live.store_log_corrosivity[of]).T
    return out.T


def standing_wear_per_day(calibration: Calibration, rows: Array, preserved: Array, log_corrosivity: Array) -> Array:
    """Wear that a day of standing costs some live tools, shape (sample, tool). [reference shots]

    Parameters
    ----------
    preserved, log_corrosivity : arrays, shape (tool,)
        How surely each is preserved, 0 to 1, and the natural log of the air's corrosivity over that of a conditioned hall.
    """
    log_wear = by_draw_and_tool(calibration.coefficient("storage.preserved"), preserved)
    log_wear += by_draw_and_tool(calibration.coefficient("storage.corrosivity"), log_corrosivity)
    log_wear += calibration.coefficient("log_storage")[:, None]
    log_wear += in_precision_of(log_wear, calibration.live.log_band[rows])
    wear = np.exp(log_wear, out=log_wear)
    wear /= YEAR
    return wear


def stood_wear(calibration: Calibration, rows: Array) -> Array:
    """Wear by the calibration's day that some live tools stood since their last shot, shape (sample, tool); 0 for the worn ones.

    It is part of the wear spent, and nobody has looked whether they came through it. [reference shots]
    """
    live = calibration.live
    out = np.zeros((len(rows), calibration.samples), calibration.precision)
    for how in range(live.stood_years.shape[1]):
        stood = (live.status[rows] != "worn") & (live.stood_years[rows, how] > 0.0)
        if not stood.any():
            continue
        of = rows[stood]
        wear = standing_wear_per_day(calibration, of, live.stood_preserved[of, how], live.stood_log_corrosivity[of, how])
        out[stood] += (wear * in_precision_of(wear, live.stood_years[of, how] * YEAR)).T
    return out.T


def idle_wear_per_day(calibration: Calibration, rows: Array) -> Array:
    """Wear that a day of idle time at their plants costs some live tools, shape (sample, tool). [reference shots]"""
    return standing_wear_per_day(calibration, rows, np.zeros(len(rows)), air_of_plants(calibration, rows))


def air_of_plants(calibration: Calibration, rows: Array) -> Array:
    """Log corrosivity of the air where some live tools are in use, over that of a conditioned hall, shape (tool,)."""
    plants, at = calibration.plants, calibration.live.plant[rows]
    return np.where(at >= 0, plants.level[at, AIR], plants.unknown_level[AIR])


def idle_days(calibration: Calibration, rows: Array, day: dt.date, until: dt.date) -> Array:
    """Days of idle time that counts, from one day to a later one, if the tools stay unused in between, shape (tool,).

    Where the day is not the calibration's own they are taken to have been in use until then.
    """
    own_day = dt.date.fromisoformat(calibration.identity.as_of)
    first, last = ((d - EPOCH).days for d in (day, until))
    begins = calibration.live.idle_from[rows] if day == own_day else np.full(len(rows), first + IDLE_DAYS)
    status = calibration.live.status[rows]
    counts = ~np.isin(status, ("worn", "no_runs")) & ~calibration.live.in_store[rows].astype(bool) & ~np.isnan(begins)
    return np.where(counts, np.clip(last - np.maximum(np.nan_to_num(begins), first), 0.0, None), 0.0)


def days_to(day: dt.date, later: dt.date) -> int:
    """Days from one day to a later one, none to one that is not."""
    return max(0, (later - day).days)
