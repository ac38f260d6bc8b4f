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
from wearfit.forecasts.clock import columns
from wearfit.forecasts.quantiles import as_numbers, finite, singly, weighted_mean, weighted_quantiles

Array = np.ndarray


def noted_defects(calibration: Calibration, rows: Array, capacity: Array, weights: Array) -> list[list[dict[str, Any]]]:
    """Defects noted in the lives under way of some live tools, of each the earliest first.

    Parameters
    ----------
    rows : array, shape (tool,)
        Of the live table.
    capacity, weights : arrays, shape (sample, tool)
        Draws of the capacities of the lives, and their weights; NaN where the age is unknown.

    Returns
    -------
    list of list of dict
        `p_wear` is null of a hazard that is no defect of the list, and the chance by the kind alone where the age is unknown.
        `life_used_then` is the share of the life's capacity that was spent on the day.
    """
    noted, power = calibration.noted, calibration.identity.noted_power
    told: list[list[dict[str, Any]]] = [[] for _ in rows]
    first, end = (np.searchsorted(noted.live, rows, side) for side in ("left", "right"))  # they lie in order of the tools
    which = np.concatenate([np.arange(*span) for span in zip(first, end, strict=True)])
    tool = np.repeat(np.arange(len(rows)), end - first)
    if not len(which):
        return told
    used = np.asarray(calibration.draws.noted_share.T[which], dtype=calibration.precision, order="C").T
    np.exp(used, out=used)
    used *= calibration.of_live("wear_spent", rows[tool])
    used /= columns(capacity, tool)
    np.minimum(used, 1.0, out=used)
    weights = columns(weights, tool)
    rate = np.nan_to_num((power + 1.0) * weighted_mean(used**power, weights), nan=1.0)
    quantiles = weighted_quantiles(singly(used), weights)
    for i, place in enumerate(which.tolist()):
        p = float(noted.p_wear[place])
        told[tool[i]].append(
            {
                "date": (dt.date(1970, 1, 1) + dt.timedelta(days=int(noted.day[place]))).isoformat(),
                "defect": str(noted.kind[place]),
                "p_wear": finite(p * rate[i] / (p * rate[i] + 1.0 - p)),
                "p_wear_by_kind": finite(p),
                "life_used_then": as_numbers(quantiles[:, i]),
                "question": str(noted.question[place]) or None,
                "look_before_running": bool(noted.hazard[place]),
                "note": str(noted.note[place]),
            }
        )
    return told
