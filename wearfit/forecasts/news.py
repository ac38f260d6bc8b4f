"""What the records say that a calibration has not seen, and what becomes of it tool by tool."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from wearfit.remaining import Remaining, Track

Array = np.ndarray

EPOCH: Final = dt.date(1970, 1, 1)


@dataclass(frozen=True)
class NewReading:
    """A reading as it stands now, whether or not the calibration has seen it."""

    tool_id: str
    day: dt.date
    feature: str
    log_way: float  # as `exposures.ways.Ways`
    below: bool
    rounding: float
    from_new: bool  # its value when new is stated, so that the side from which it comes to its limit is known


@dataclass(frozen=True)
class News:
    """What the records say now.

    Parameters
    ----------
    readings : tuple of NewReading
        Those of one tool, day and feature take the place of what the calibration saw there.
    renewed : mapping of str to date
        Tools with a renewal, a wear-out or an end that the calibration does not know.
    """

    readings: tuple[NewReading, ...] = ()
    renewed: Mapping[str, dt.date] = field(default_factory=dict)


@dataclass(frozen=True)
class Since:
    """What became of one tool's readings since the calibration."""

    readings: int = 0  # that are counted
    note: str | None = None
    worn: bool = False
    left: Remaining | None = None  # of its life from the calibration's day on, by all its readings
    weights: Array | None = None  # (sample,) of the draws, the greatest one
    tracks: Mapping[str, Track] | None = None  # the readings that `left` rests on, by feature

    def as_json(self) -> dict[str, Any]:
        return {"readings_since": self.readings, "readings_note": self.note}


NO_NEWS: Final = News()
NOTHING: Final = Since()
BySince = Mapping[int, Since]  # by row of the live table
NONE_SINCE: Final[BySince] = MappingProxyType({})
