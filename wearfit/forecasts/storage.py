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
    preserved, air = live.store_preserved[rows][None, :], live.store_log_corrosivity[rows][None, :]
    log_share = (
        calibration.coefficient("log_storage")[:, None]
        + calibration.coefficient("storage.preserved")[:, None] * preserved
        + calibration.coefficient("storage.corrosivity")[:, None] * air
    )
    stands = live.in_store[rows].astype(bool) & (live.status[rows] != "worn")
    return np.where(stands[None, :], np.exp(log_share + live.log_band[rows][None, :]) / YEAR, 0.0)


def days_to(day: dt.date, later: dt.date) -> int:
    """Days from one day to a later one, none to one that is not."""
    return max(0, (later - day).days)
