"""What standing in store takes from a tool's life, after the calibration's day and before it."""

import datetime as dt
from typing import Final

import numpy as np

from wearfit.calibration import Calibration

Array = np.ndarray

YEAR: Final = 365.25  # [day]


def store_wear_per_day(calibration: Calibration, rows: Array) -> Array:
    """Wear that a day in store costs some live tools, shape (sample, tool); zero for those in no store or worn. [reference shots]"""
    live = calibration.live
    wear = standing_wear_per_day(calibration, rows, live.store_preserved[rows], live.store_log_corrosivity[rows])
    stands = live.in_store[rows].astype(bool) & (live.status[rows] != "worn")
    return np.where(stands[None, :], wear, 0.0)


def standing_wear_per_day(calibration: Calibration, rows: Array, preserved: Array, log_corrosivity: Array) -> Array:
    """Wear that a day of standing costs some live tools, shape (sample, tool). [reference shots]

    Parameters
    ----------
    preserved, log_corrosivity : arrays, shape (tool,)
        How surely each is preserved, 0 to 1, and the natural log of the air's corrosivity over that of a conditioned hall.
    """
    log_share = (
        calibration.coefficient("log_storage")[:, None]
        + calibration.coefficient("storage.preserved")[:, None] * preserved[None, :]
        + calibration.coefficient("storage.corrosivity")[:, None] * log_corrosivity[None, :]
    )
    return np.asarray(np.exp(log_share + calibration.live.log_band[rows][None, :]) / YEAR)


def days_to(day: dt.date, later: dt.date) -> int:
    """Days from one day to a later one, none to one that is not."""
    return max(0, (later - day).days)
