"""Counter readings as arrays over the fleet, and how fast a tool can count."""

from dataclasses import dataclass

import numpy as np

from wearfit.records.frames import Frames
from wearfit.records.rules.marking import of_tool

Array = np.ndarray

SECONDS_PER_DAY = 86_400
DEFAULT_CYCLE_S = 5.0  # for a tool whose cycle time is not recorded: faster than nearly all moulding; judgement, generous on purpose
FASTER = 1.25  # a tool may be run faster than its usual cycle by this much before its counter is disbelieved; judgement


@dataclass(frozen=True)
class Readings:
    """Readings in the order of the counter table, which is that of (tool, date). All arrays have shape (reading,)."""

    tool: Array  # counts the tools that have readings, in order
    day: Array  # days since 1970-01-01, whole
    shots: Array  # as the counter showed them
    able: Array  # most shots that the tool can make in a day


def readings_of(frames: Frames) -> Readings:
    """The counter table as arrays; its rows must stand in order of tool and date."""
    counter = frames["counter"]
    cycle_s = of_tool(frames, counter, "cycle_time_s").to_numpy(dtype=float)
    able = np.where(np.isnan(cycle_s), SECONDS_PER_DAY / DEFAULT_CYCLE_S, SECONDS_PER_DAY / cycle_s * FASTER)
    names = counter["tool_id"].to_numpy()
    tool = np.zeros(len(names), dtype=np.int64)
    tool[1:] = np.cumsum(names[1:] != names[:-1])
    return Readings(tool, whole_days(counter["date"].to_numpy()), counter["counter_shots"].to_numpy(dtype=float), able)


def whole_days(dates: Array) -> Array:
    """Days since 1970-01-01 of dates, shape (date,), whole numbers."""
    return dates.astype("datetime64[D]").astype(np.int64)


def day_texts(days: Array) -> list[str]:
    """Dates of days since 1970-01-01 as a person writes them, such as 2024-03-31."""
    return [str(text) for text in np.datetime_as_string(np.asarray(days).astype("datetime64[D]"))]


def possible(readings: Readings) -> Array:
    """Most shots between each reading and the next of the same tool, shape (reading - 1,); both days count, for a reading has no hour."""
    most: Array = readings.able[1:] * (np.diff(readings.day) + 1)
    return most
