"""By when a live tool has to be looked at, so that it does not wear out unnoticed and its order day is not missed."""

import datetime as dt
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.ahead import Ahead
from wearfit.forecasts.quantiles import date_ahead, last_within

Array = np.ndarray

INSPECTION_DAYS: Final = 14.0  # to have a tool measured and the reading entered before its order is decided, judgement
LOOKED_AFTER: Final = ("held", "worn")  # statuses of tools that somebody has looked at: they stand still


def inspections(
    calibration: Calibration, ahead: Ahead, rows: Array, day: dt.date, horizon: float, tolerance: float, unnoticed: float
) -> list[dict[str, Any]]:
    """The last day for an inspection of each tool, and what sets it.

    Parameters
    ----------
    ahead : Ahead
        Of these rows of the live table, from `day` on.
    horizon : float
        Days are named up to it. [day]
    tolerance : float
        Accepted chance of having no usable tool before an ordered replacement arrives.
    unnoticed : float
        Accepted chance that a tool has worn out by then and nobody has looked.

    Returns
    -------
    list of dict
        `inspect_by`: None past the horizon, and where a tool is held or worn, or its dates cannot be told. `inspect_for`: "wear",
        where the chance that it has worn out unnoticed sets the day; "order", where it is the order day less INSPECTION_DAYS;
        None where there is no day.

    Notes
    -----
    A stored tool is taken to be back in use from `day` on, as its forecast takes it.
    """
    weights = ahead.clocks.weights
    by_wear = last_within(ahead.wear_days, weights, unnoticed)
    by_order = last_within(ahead.order_margin, weights, tolerance) - INSPECTION_DAYS
    by_order = np.where(np.isnan(calibration.live.replacement_due[rows]), by_order, np.inf)  # ordered already
    silent = np.isin(calibration.live.status[rows], LOOKED_AFTER) | ahead.unknown
    found: list[dict[str, Any]] = []
    for wear, order, nothing in zip(by_wear, by_order, silent, strict=True):
        # Days are counted whole, rounded to the safe side.
        by = None if nothing else date_ahead(max(np.floor(min(wear, order)), 0.0), day, horizon)
        found.append({"inspect_by": by, "inspect_for": None if by is None else "order" if order < wear else "wear"})
    return found
