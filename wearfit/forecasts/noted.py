"""Noted defects: wear or settings?

Over a life, defects of the process are noted at an even rate, and those by wear at one that grows with the share x of the life's
capacity that is spent, as (power + 1) x^power, whose mean over the life is one. With p the share of wear among all notes of a kind
over whole lives, the odds that one noted at x is wear are p / (1 - p) (power + 1) E[x^power], the expectation over the draws and what
all readings up to now say of the capacity: a reading that jumped and came back says little, one that grew says that x is high.
"""

import datetime as dt
from typing import Any

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.quantiles import as_numbers, finite, weighted_mean, weighted_quantiles

Array = np.ndarray


def noted_defects(calibration: Calibration, row: int, capacity: Array, weights: Array) -> list[dict[str, Any]]:
    """Defects noted in the life under way of one live tool, the earliest first.

    Parameters
    ----------
    capacity, weights : arrays, shape (sample,)
        Draws of the capacity of the life, and their weights; NaN where the age is unknown.

    Returns
    -------
    list of dict
        `p_wear` is null of a hazard that is no defect of the list, and the chance by the kind alone where the age is unknown.
        `life_used_then` is the share of the life's capacity that was spent on the day.
    """
    noted, power = calibration.noted, calibration.identity.noted_power
    answers = []
    for i in range(*np.searchsorted(noted.live, [row, row + 1])):  # they lie in order of the tools
        then = calibration.draws.wear_spent[:, row].astype(float) * np.exp(calibration.draws.noted_share[:, i].astype(float))
        used = np.minimum(then / capacity, 1.0)[:, None]
        p, rate = float(noted.p_wear[i]), 1.0
        if not np.isnan(used).any():
            rate = (power + 1.0) * float(weighted_mean(used**power, weights[:, None])[0])
        answers.append(
            {
                "date": (dt.date(1970, 1, 1) + dt.timedelta(days=int(noted.day[i]))).isoformat(),
                "defect": str(noted.kind[i]),
                "p_wear": finite(p * rate / (p * rate + 1.0 - p)),
                "p_wear_by_kind": finite(p),
                "life_used_then": as_numbers(weighted_quantiles(used, weights[:, None])[:, 0]),
                "question": str(noted.question[i]) or None,
                "look_before_running": bool(noted.hazard[i]),
                "note": str(noted.note[i]),
            }
        )
    return answers
