"""From a measured value to its share of the way from new to the limit. NumPy only, for answers read values too."""

from dataclasses import dataclass
from typing import Final

import numpy as np

Array = np.ndarray

UNSTATED_RESOLUTION: Final = 0.02  # of the way from new to the limit, judgement
IN_A_ROW: Final = 2  # inspections over the limit with which the readings of a feature end, and the tool is taken to be worn
ROUNDING: Final = 1e-9  # of the way from new to the limit: a reading at its limit is not over it


@dataclass(frozen=True)
class Ways:
    """Readings against new and limit. Arrays of shape (reading,)."""

    log_way: Array  # log of the share of the way from new to the limit; of the least that the gauge tells where it is below that
    below: Array  # bool
    rounding: Array  # standard deviation that rounding brings to log_way
    used: Array  # bool: it says how far the tool has come


def ways_of(value: Array, flagged: Array, limit: Array, new: Array, resolution: Array) -> Ways:
    """Shares of the way of some readings.

    Parameters
    ----------
    value, limit, new, resolution : arrays, shape (reading,)
        As measured; resolution NaN where not stated.
    flagged : bool array, shape (reading,)
        Whether the reading was only found to lie below its value.

    Notes
    -----
    What lies on the far side of new, or closer to it than the gauge tells, is known to be below the gauge's least. A reading
    known to lie beyond a value towards its limit ("<7.9" of a pin that gets thinner) is not used, nor is one whose limit is
    its new value.
    """
    reach = np.where(limit == new, np.nan, limit - new)
    way = (value - new) / reach
    step = np.where(np.nan_to_num(resolution) > 0, resolution / np.abs(reach), UNSTATED_RESOLUTION)
    below = flagged | (way < 0.5 * step)
    least = np.where(flagged & (way > 0), way, step)
    rounding = np.where(below | (np.nan_to_num(resolution) == 0), 0.0, step / (np.sqrt(12.0) * np.maximum(way, 1e-12)))
    return Ways(
        log_way=np.log(np.where(below, least, np.maximum(way, 1e-12))),
        below=below,
        rounding=rounding,
        used=~np.isnan(way) & ~(flagged & (reach < 0)),
    )
