"""Runs cut into segments: stretches within one month and between two changes of the tool.

An event on a run's first day comes before the run, on its last day after it, in between it splits the run by days. A
segment that starts at time s of a run therefore comes after every event at or before s, save one dated on the run's
last day. An event placed by a shot count, and the end of the last good day, are instants and split a run wherever they
lie. Times are days since 1970 as floats; a day's shots are spread evenly from its start to its end.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

Array = np.ndarray

LAST_DAY = 1e-3  # [day] how far before the last day a segment that starts on it is placed: small, yet above rounding in TimeKeys
INSTANT = 2 * LAST_DAY  # [day] how far before its instant an event placed by a shot count is ordered, so that what follows it comes after
SAME_SETUP_DAYS = 3  # idle days between two runs of one tool, plant and resin that still share a set-up


@dataclass(frozen=True)
class Runs:
    """Used runs in order of (tool, start, end, plant, resin). All arrays have shape (run,)."""

    tool: Array
    plant: Array
    resin: Array
    start: Array  # [day], the first day of the run
    end: Array  # [day], its last day, inclusive
    shots: Array
    setups: Array
    speed: Array  # log2 of the tool's usual cycle time over this run's, 0 where not recorded
    production: Array  # index of the first row of the production run that this row belongs to


@dataclass(frozen=True)
class Segments:
    """Pieces of runs in order of (tool, time, run). All arrays have shape (segment,)."""

    run: Array
    tool: Array
    start: Array  # [day]
    place_in_time: Array  # [day], `start` as events see it: just before the last day where the segment starts on it
    month: Array  # months since 1970-01
    shots: Array
    setups: Array


class TimeKeys:
    """Sortable keys of (tool, time), so that one binary search serves the whole fleet."""

    def __init__(self, first_day: float, last_day: float) -> None:
        self._origin = first_day - 2.0
        self._span = last_day - first_day + 8.0

    def __call__(self, tool: Array, time: Array) -> Array:
        return np.asarray(tool) * self._span + np.clip(np.asarray(time) - self._origin, 0.0, self._span - 1.0)


def days(column: pd.Series) -> Array:
    """Days since 1970-01-01 as floats, NaN for blank."""
    values = column.to_numpy().astype("datetime64[D]")
    return np.where(np.isnat(values), np.nan, values.astype(np.int64).astype(float))


def positions(names: pd.Series, levels: Sequence[str]) -> Array:
    """Index of each name in the sorted levels, -1 where absent or blank."""
    index = {name: i for i, name in enumerate(levels)}
    codes, distinct = pd.factorize(names.to_numpy(dtype=object), use_na_sentinel=False)
    return np.array([index.get(str(name), -1) for name in distinct], dtype=np.int64)[codes]


def month_of(day: Array) -> Array:
    """Months since 1970-01 of days since 1970-01-01."""
    return np.floor(day).astype("datetime64[D]").astype("datetime64[M]").astype(np.int64)


def month_start(month: Array) -> Array:
    """First day of a month, in days since 1970-01-01."""
    return np.asarray(month).astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)


def count_setups(tool: Array, plant: Array, resin: Array, start: Array, end: Array, recorded: Array) -> tuple[Array, Array]:
    """Set-ups of each run, and which rows are one production run.

    Parameters
    ----------
    tool, plant, resin, start, end : arrays, shape (run,)
        In order of (tool, start).
    recorded : array, shape (run,)
        Set-ups as recorded, NaN where blank.

    Returns
    -------
    setups : array, shape (run,)
        As recorded, else 1, but 0 where the last run of the same tool, plant and resin ended at most SAME_SETUP_DAYS idle days before.
    production : array, shape (run,)
        Index of the row that each row goes on from without a pause or a set-up, its own where there is none.
    """
    order = np.lexsort((end, start, resin, plant, tool))
    kind = np.stack([tool, plant, resin])[:, order]
    first = np.ones(len(order), dtype=bool)
    first[1:] = (kind[:, 1:] != kind[:, :-1]).any(axis=0)
    # The latest end so far of each kind: kinds are lifted apart, so that one running maximum serves them all.
    lift = np.cumsum(first) * (np.ptp(end) + 1.0 if len(end) else 1.0)
    latest = np.maximum.accumulate(end[order] + lift) - lift
    idle_days = np.full(len(order), np.inf)
    idle_days[1:] = np.where(first[1:], np.inf, start[order][1:] - latest[:-1] - 1.0)
    setups = np.where(np.isnan(recorded[order]), np.where(idle_days <= SAME_SETUP_DAYS, 0.0, 1.0), recorded[order])
    goes_on = (idle_days <= 0) & (setups == 0)
    head = np.maximum.accumulate(np.where(goes_on, 0, np.arange(len(order))))
    back = np.argsort(order, kind="stable")
    return setups[back], order[head][back]


def _expand(first: Array, count: Array) -> tuple[Array, Array]:
    """Owner and value of the ranges first[i] .. first[i] + count[i] - 1, laid end to end."""
    owner = np.repeat(np.arange(len(count)), count)
    offset = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return owner, np.repeat(first, count) + offset


def split_runs(runs: Runs, cut_tool: Array, cut_time: Array, instant: Array, keys: TimeKeys) -> Segments:
    """Cut every run at the months' starts and at the given times of its tool.

    Parameters
    ----------
    runs : Runs
    cut_tool, cut_time : arrays, shape (cut,)
        Where something about a tool changes. [day]
    instant : bool array, shape (cut,)
        Whether it changes at that very moment; else on that day, which leaves a run that ends on it whole.
    keys : TimeKeys

    Returns
    -------
    Segments
        Shots are shared by days; a run's set-ups stay with its first segment.
    """
    order = np.argsort(keys(cut_tool, cut_time), kind="stable")
    cut_key, cut_time, instant = keys(cut_tool, cut_time)[order], np.asarray(cut_time, dtype=float)[order], instant[order]
    first_month, last_month = month_of(runs.start), month_of(runs.end)
    by_month, month = _expand(first_month + 1, last_month - first_month)
    low = np.searchsorted(cut_key, keys(runs.tool, runs.start), side="right")
    high = np.searchsorted(cut_key, keys(runs.tool, runs.end + 1.0), side="left")
    by_event, cut = _expand(low, np.maximum(high - low, 0))
    inside = instant[cut] | (cut_time[cut] != runs.end[by_event])
    owner = np.concatenate([np.arange(len(runs.tool)), by_month, by_event[inside]])
    start = np.concatenate([runs.start.astype(float), month_start(month).astype(float), cut_time[cut][inside]])
    pairs = np.unique(np.stack([owner.astype(float), start], axis=1), axis=0)
    run, start = pairs[:, 0].astype(np.int64), pairs[:, 1]
    begins = np.concatenate([[True], run[1:] != run[:-1]]) if len(run) else np.zeros(0, dtype=bool)
    ends = np.concatenate([begins[1:], [True]]) if len(run) else begins
    following = np.concatenate([start[1:], [0.0]]) if len(run) else start
    stop = np.where(ends, runs.end[run] + 1.0, following)
    share = (stop - start) / (runs.end[run] - runs.start[run] + 1.0)
    order = np.lexsort((run, start, runs.tool[run]))
    run, start, share, begins = run[order], start[order], share[order], begins[order]
    return Segments(
        run=run,
        tool=runs.tool[run],
        start=start,
        place_in_time=np.where(start == runs.end[run], start - LAST_DAY, start),
        month=month_of(start),
        shots=runs.shots[run] * share,
        setups=np.where(begins, runs.setups[run], 0.0),
    )
