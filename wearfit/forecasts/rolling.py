"""Wear ahead of the calibration's day: clocks moved on by expected use and by what standing in store takes."""

import datetime as dt
from dataclasses import dataclass

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.conditions import in_precision_of
from wearfit.forecasts.storage import days_to, stood_wear, store_wear_per_day
from wearfit.forecasts.use_ahead import UseAhead

Array = np.ndarray


@dataclass(frozen=True)
class Rolled:
    """Clocks of some live tools at a later day. Arrays of shape (sample, tool)."""

    moved: bool  # whether any were moved by use
    before: Array  # wear spent when what was still to be stood in store had been stood [reference shots]
    spent: Array
    shots: Array  # made since the calibration's day, as expected
    stored: Array  # wear in store since that day, part of `before`
    unseen: Array  # what it has stood since its last shot, part of `before`: nobody has looked whether it is good


def roll(calibration: Calibration, rows: Array, use: UseAhead, day: dt.date) -> Rolled:
    """Clocks of some live tools, moved on from the calibration's day to another that is not earlier.

    A worn tool stands still; a stored or held one is used only as planned, for nobody said that it is back. Until then a stored
    one wears as it does in store. A tool on the shop floor is taken to be in use: no long idle times come.
    """
    spent = calibration.of_live("wear_spent", rows)
    own_day = dt.date.fromisoformat(calibration.identity.as_of)
    in_store = use.days_before_use(own_day, day)
    stored = store_wear_per_day(calibration, rows)
    stored *= in_precision_of(stored, in_store)
    # A tool that is in no store is taken to be in use after the calibration's day, and so to be looked at.
    unmoved = np.where(calibration.live.in_store[rows], in_store >= days_to(own_day, day), day == own_day)
    unseen = stood_wear(calibration, rows)
    unseen += stored
    unseen[:, ~unmoved] = 0.0
    before = spent + stored
    moved, shots = before, np.zeros_like(spent)
    status = calibration.live.status[rows]
    worn, away = status == "worn", np.isin(status, ("stored", "held"))
    for month, planned in use.between(own_day, day):
        still = worn | (away & ~planned)
        moved = moved + np.where(still, 0.0, month.wear)
        shots = shots + np.where(still, 0.0, month.shots)
    return Rolled(moved is not before, before, moved, shots, stored, unseen)
