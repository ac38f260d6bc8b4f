"""What tools may have gone through before their records tell: how long it lasted, at what pace, and what may be hidden in it.

A life of unknown age is told by three things: since when its clock may have run (commissioning, or the last retool on record),
how much a tool like it is used, and whether a renewal in that time would be in the file. How old that makes it is for the
model to weigh (`model.past`), for it hangs on how long such tools last.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.exposures.lives import Events
from wearfit.exposures.timeline import Runs

Array = np.ndarray

NEW_TOOL_DAYS: Final = 60  # first run within so many days of commissioning, or of a retool: the clock started at zero
OPENINGS: Final = 5  # ages that are weighed for a tool of unknown past
OPENINGS_OF_UNKNOWN_CLASS: Final = 3  # for each class that it may be of

OWN_PACE, SISTERS_PACE, FLEET_PACE = range(3)  # whose recorded use stands for that of the past
LEAST_RUNS: Final = 3  # of which a pace can be told, judgement
LEAST_DAYS: Final = 180.0  # likewise
PACE_OF_NO_RECORDS: Final = 200.0  # [shots a day] where no tool of the fleet shows its pace: some 70,000 a year, judgement


@dataclass(frozen=True)
class Past:
    """What is known of the time before the records of each tool. Arrays of shape (tool,)."""

    reckoned: Array  # bool: the age at entry is not known, and is weighed
    from_day: Array  # [day] from which runs carry a likelihood; -inf but where the history starts later than the runs
    counted: Array  # shots since the clock's zero that are on record
    days: Array  # [day] since the clock's zero of which nothing is on record
    refurbished: Array  # share of the time since that zero which lies before the latest refurbishment on record, 0..1
    per_day: Array  # [shots a day] usual use
    pace: Array  # whose use that is
    hidden: Array  # bool: the clock may have been set back by renewals that nobody wrote down


def first_runs(runs: Runs, n: int) -> Array:
    """First day of each tool's recorded runs, shape (tool,); +inf where there are none. [day]"""
    first = np.full(n, np.inf)
    np.minimum.at(first, runs.tool, runs.start)
    return first


def reckon_past(
    commissioned: Array,
    history_from: Array,
    opening: Array,
    in_life: Array,
    design: Array,
    home: Array,
    runs: Runs,
    events: Events,
    as_of: float,
) -> Past:
    """Gather what bears on the age of lives that began before their records.

    Parameters
    ----------
    commissioned, history_from : array, shape (tool,)
        [day]; NaN where not stated.
    opening, in_life : array, shape (tool,)
        Shots before the first recorded run, since commissioning and in the life under way then; NaN where unknown.
    design, home : array, shape (tool,)
        Index of design, and of the plant where the tool is before its first run; -1 unknown.
    """
    n = len(commissioned)
    first = first_runs(runs, n)
    begins = np.minimum(first, as_of + 1.0)
    closer = events.closers
    late = _starts_late(history_from, first, events, closer)
    fresh = closer[(events.kind[closer] == "retool") | ((events.kind[closer] == "modify") & (events.renewed_share[closer] >= 1.0))]
    renewed = _latest(events, fresh, begins)
    mended = _latest(events, closer[events.kind[closer] == "refurbish"], begins)
    since = np.where(np.isfinite(renewed), renewed, commissioned)
    days = np.maximum(begins - since, 0.0)
    retooled = np.isfinite(renewed) & (days > NEW_TOOL_DAYS)
    # A retool on record is taken for the last one before the runs; without it, a file that does not reach back may miss one.
    unknown = np.isnan(in_life) & (retooled | np.isnan(renewed))
    placed = np.isfinite(first) | (home >= 0)
    counted = np.where(np.isnan(in_life), np.where(np.isnan(renewed), opening, np.nan), in_life)
    before = np.bincount(runs.tool, weights=runs.shots * _share_before(runs, np.where(late, history_from, -np.inf)), minlength=n)
    per_day, pace = _pace(runs, design, n)
    return Past(
        reckoned=(unknown | late) & placed,
        from_day=np.where(late, history_from, -np.inf),
        counted=np.nan_to_num(counted) + before,
        days=np.where(np.isnan(counted), days, 0.0),
        refurbished=np.nan_to_num(np.clip((mended - since) / np.maximum(days, 1.0), 0.0, 1.0)),
        per_day=per_day,
        pace=pace,
        hidden=late | (np.isnan(renewed) & ~(history_from <= commissioned)),
    )


def _starts_late(history_from: Array, first: Array, events: Events, closer: Array) -> Array:
    """Tools with runs before the day from which renewals are on record, and no renewal on record in between, shape (tool,)."""
    late: Array = history_from > first
    tool = events.tool[closer]
    late[tool[(events.time[closer] < history_from[tool]) & (events.time[closer] >= first[tool])]] = False
    return late


def _latest(events: Events, wanted: Array, before: Array) -> Array:
    """Day of the latest of some events at or before a day of each tool, shape (tool,); NaN where there is none."""
    day = np.full(len(before), np.nan)
    for position in wanted[events.time[wanted] <= before[events.tool[wanted]]]:
        day[events.tool[position]] = events.time[position]
    return day


def _share_before(runs: Runs, day: Array) -> Array:
    """Share of each run's days that lie before a day of its tool, shape (run,)."""
    return np.asarray(np.clip((day[runs.tool] - runs.start) / (runs.end - runs.start + 1.0), 0.0, 1.0))


def _pace(runs: Runs, design: Array, n: int) -> tuple[Array, Array]:
    """Usual use of each tool, and whose it is, shape (tool,) each: its own, its sisters' or the fleet's median. [shots a day]"""
    first, last = first_runs(runs, n), np.full(n, -np.inf)
    np.maximum.at(last, runs.tool, runs.end + 1.0)
    count, shots = np.bincount(runs.tool, minlength=n), np.bincount(runs.tool, weights=runs.shots, minlength=n)
    length = np.where(count > 0, last - first, 0.0)
    told = (count >= LEAST_RUNS) & (length >= LEAST_DAYS) & (shots > 0)
    own = shots / np.maximum(length, 1.0)
    per_day = np.full(n, float(np.median(own[told])) if told.any() else PACE_OF_NO_RECORDS)
    pace = np.full(n, FLEET_PACE)
    for level in np.unique(design[~told & (design >= 0)]):
        sisters = told & (design == level)
        if sisters.any():
            per_day[design == level], pace[design == level] = np.median(own[sisters]), SISTERS_PACE
    return np.where(told, own, per_day), np.where(told, OWN_PACE, pace)
