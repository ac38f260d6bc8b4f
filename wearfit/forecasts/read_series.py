"""Readings of one live tool: those that the calibration saw, and new ones set against them and placed on its clock."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.news import EPOCH, NewReading
from wearfit.forecasts.outlook import Outlook
from wearfit.forecasts.rolling import roll
from wearfit.forecasts.use_ahead import UseAhead

Array = np.ndarray

SAME: Final = 1e-9


@dataclass(frozen=True)
class Series:
    """Readings of one live tool. Arrays of shape (..., reading)."""

    day: Array  # [day]
    feature: Array  # text
    log_way: Array
    below: Array
    rounding: Array
    from_new: Array  # bool
    new: Array  # bool
    wear: Array  # (sample, reading) spent at each [reference shots]

    def take(self, chosen: Array) -> "Series":
        return Series(*(getattr(self, f.name)[..., chosen] for f in fields(self)))

    def followed_by(self, other: "Series") -> "Series":
        return Series(*(np.concatenate([getattr(self, f.name), getattr(other, f.name)], axis=-1) for f in fields(self)))


def calibrated(calibration: Calibration, row: int) -> Series:
    """Readings that the calibration saw of a tool."""
    readings = calibration.readings
    mine = np.flatnonzero(np.isin(readings.read, np.flatnonzero(calibration.reads.live == row)))
    spent = np.asarray(calibration.draws.wear_spent[:, [row]], dtype=float)
    return Series(
        day=readings.day[mine],
        feature=calibration.levels.feature[readings.feature[mine].astype(np.int64)],
        log_way=readings.log_way[mine],
        below=readings.below[mine] > 0,
        rounding=readings.rounding[mine],
        from_new=np.ones(len(mine), dtype=bool),
        new=np.zeros(len(mine), dtype=bool),
        wear=spent * np.exp(np.asarray(calibration.draws.reading_share[:, mine], dtype=float)),
    )


def set_against(seen: Series, readings: Sequence[NewReading]) -> tuple[Array, list[NewReading], int]:
    """Which of those seen still stand, shape (kept,), which are new, and how many readings that makes new, changed or gone."""
    keys: dict[tuple[int, str], list[NewReading]] = {}
    for reading in readings:
        keys.setdefault((_days(reading.day), reading.feature), []).append(reading)
    gone: list[int] = []
    added: list[NewReading] = []
    count = 0
    for (day, feature), said in keys.items():
        left = [int(i) for i in np.flatnonzero((seen.day == day) & (seen.feature == feature))]
        fresh = []
        for reading in said:
            same = next((i for i in left if _is(seen, i, reading)), None)
            if same is None:
                fresh.append(reading)
            else:
                left.remove(same)
        gone, added, count = gone + left, added + fresh, count + max(len(fresh), len(left))
    return np.setdiff1d(np.arange(len(seen.day)), gone), sorted(added, key=lambda r: (r.day, r.feature)), count


def _is(seen: Series, i: int, reading: NewReading) -> bool:
    close = abs(seen.log_way[i] - reading.log_way) <= SAME and abs(seen.rounding[i] - reading.rounding) <= SAME
    return bool(close and seen.below[i] == reading.below)


def placed(calibration: Calibration, outlook: Outlook, row: int, added: Sequence[NewReading], seen: Series) -> Series:
    """New readings with the wear at each; those before which no wear has come say nothing, and are left out."""
    own_day = dt.date.fromisoformat(calibration.identity.as_of)
    rows, wear = np.array([row]), np.zeros((calibration.samples, len(added)))
    spent = np.asarray(calibration.draws.wear_spent[:, row], dtype=float)
    for i, reading in enumerate(added):
        same_day = np.flatnonzero(seen.day == _days(reading.day))
        if len(same_day):
            wear[:, i] = seen.wear[:, same_day[0]]
        elif reading.day > own_day:
            wear[:, i] = roll(calibration, rows, UseAhead(calibration, outlook, rows), reading.day).spent[:, 0]
        else:
            wear[:, i] = spent * _share_by(calibration, row, reading.day)
    series = Series(
        day=np.array([_days(r.day) for r in added], dtype=float),
        feature=np.array([r.feature for r in added], dtype=object),
        log_way=np.array([r.log_way for r in added], dtype=float),
        below=np.array([r.below for r in added], dtype=bool),
        rounding=np.array([r.rounding for r in added], dtype=float),
        from_new=np.array([r.from_new for r in added], dtype=bool),
        new=np.ones(len(added), dtype=bool),
        wear=wear,
    )
    return series.take(np.flatnonzero((wear > 0).any(axis=0)))


def _share_by(calibration: Calibration, row: int, day: dt.date) -> Array:
    """Share of the wear spent that had come by the end of a day up to the calibration's, shape (sample,)."""
    trail = calibration.trail
    mine = trail.live == row
    recorded = calibration.draws.recorded_share[:, row] / 255.0
    come = np.interp(_days(day) + 1.0, trail.time[mine], trail.share[mine], left=0.0, right=1.0) if mine.any() else 0.0
    return np.asarray(1.0 - recorded * (1.0 - come))


def _days(day: dt.date) -> int:
    return (day - EPOCH).days
