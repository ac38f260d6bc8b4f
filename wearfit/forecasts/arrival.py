"""When wear-out and sudden stops come, along the use ahead."""

import datetime as dt
from dataclasses import dataclass

import numpy as np

from wearfit.forecasts.use_ahead import UseAhead

Array = np.ndarray


@dataclass(frozen=True)
class Arrival:
    """When each draw of each tool gets there. Arrays of shape (sample, tool)."""

    wear_days: Array  # days after the first day until the wear is used up; inf past the end
    wear_shots: Array  # machine shots until then, also past the end at the pace of the last year
    sudden_days: Array  # days until a sudden stop; inf past the end


def walk(use: UseAhead, first: dt.date, end: dt.date, wear_left: Array, sudden_left: Array) -> Arrival:
    """Walk the months ahead until wear and luck run out.

    Parameters
    ----------
    first, end : date
        From the end of the first day to the end of the last.
    wear_left : array, shape (sample, tool)
        Wear that each draw can still take. [reference shots]
    sudden_left : array, shape (sample, tool)
        Expected sudden stops at which one happens, a standard exponential draw.

    Notes
    -----
    Within a stretch of a month wear comes evenly, so the crossing is placed in proportion.
    """
    worn, made, struck = np.zeros_like(wear_left), np.zeros_like(wear_left), np.zeros_like(wear_left)
    wear_days, sudden_days = np.full_like(wear_left, np.inf), np.full_like(wear_left, np.inf)
    wear_shots = np.full_like(wear_left, np.nan)
    for step in use.steps(first, end):
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (wear_left - worn) / step.wear
            here = (share >= 0) & (share < 1)
            np.copyto(wear_days, step.start + share * step.days, where=here)
            np.copyto(wear_shots, made + share * step.shots, where=here)
            share = (sudden_left - struck) / step.sudden
            np.copyto(sudden_days, step.start + share * step.days, where=(share >= 0) & (share < 1))
        worn += step.wear
        made += step.shots
        struck += step.sudden
    later = np.isnan(wear_shots)
    return Arrival(wear_days, np.where(later, made + (wear_left - worn) / use.mean_wear_per_shot(), wear_shots), sudden_days)
