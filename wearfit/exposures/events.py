"""Events placed in time: by their date, or by a shot count that the runs can bear out."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from wearfit.exposures.lives import SAME_DAY_ORDER, Events
from wearfit.exposures.timeline import INSTANT, Runs, days, positions

Array = np.ndarray

AGREES = 0.5  # [shots] a count no further than this from that of the date leaves the event at its date
ROUNDING = 1e-6  # [shots]


def build_events(frame: pd.DataFrame, tool_ids: Sequence[str], plant_ids: Sequence[str], runs: Runs, opening_shots: Array) -> Events:
    """Events as arrays in order of (tool, time, SAME_DAY_ORDER).

    Parameters
    ----------
    frame : DataFrame, one row an event
    runs : Runs
        To place an event by its `shots_at`.
    opening_shots : array, shape (tool,)
        Shots before the first recorded run, since commissioning; NaN where unknown.

    Notes
    -----
    A count is valid where the runs reach it, no earlier than the day of the tool's event before and no later than that of
    the one after; else the date holds. Events keep the order of their dates, and of SAME_DAY_ORDER within a day.
    """
    tools = {t: i for i, t in enumerate(tool_ids)}
    tool = np.array([tools[str(t)] for t in frame["tool_id"]], dtype=np.int64)
    date = days(frame["date"])
    kind = frame["event"].to_numpy(dtype=str) if len(frame) else np.zeros(0, dtype="<U9")
    cause = frame["cause"].to_numpy(dtype=str) if len(frame) else np.zeros(0, dtype="<U9")
    rank = np.array([SAME_DAY_ORDER.index(k) for k in kind], dtype=np.int64)
    order = np.lexsort((frame["row"].to_numpy(dtype=np.int64), cause, rank, date, tool))
    tool, date = tool[order], date[order]
    count = frame["shots_at"].to_numpy(dtype=float)[order] - opening_shots[tool]
    time, cut = _by_count(tool, date, count, runs)
    return Events(
        tool=tool,
        time=time,
        cut=cut,
        kind=kind[order],
        cause=cause[order],
        last_good=days(frame["last_good_on"])[order],
        plant=positions(frame["plant_id"], plant_ids)[order],
        renewed_share=np.nan_to_num(frame["renewed_share"].to_numpy(dtype=float))[order],
        due=days(frame["due_on"])[order],
        preserved=frame["preserved"].to_numpy(dtype=float)[order],
    )


def _by_count(tool: Array, date: Array, count: Array, runs: Runs) -> tuple[Array, Array]:
    """Time by which each event is ordered and where it cuts a run, shape (event,) each; NaN counts leave the date."""
    n = len(date)
    same_tool = tool[1:] == tool[:-1]
    earliest, latest = np.full(n, -np.inf), np.full(n, np.inf)
    earliest[1:][same_tool] = date[:-1][same_tool]
    latest[:-1][same_tool] = date[1:][same_tool] + 1.0
    time, cut = date.copy(), date.copy()
    for i in np.flatnonzero(~np.isnan(count)):
        low, high = np.searchsorted(runs.tool, [tool[i], tool[i] + 1], side="left")
        mine = slice(int(low), int(high))
        instant = _instant_of(count[i], date[i], runs.start[mine], runs.end[mine], runs.shots[mine])
        if earliest[i] <= instant <= latest[i]:
            time[i], cut[i] = instant - INSTANT, instant
    # What follows an event by date or rank follows it where its count has put it.
    held = time < pd.Series(time).groupby(tool).cummax().to_numpy()
    place = np.maximum.accumulate(np.where(held, 0, np.arange(n)))
    return time[place], cut[place]


def _instant_of(shots: float, date: float, start: Array, end: Array, made: Array) -> float:
    """Instant nearest to a date at which a tool's runs reach `shots`; NaN where they never do, or where the date says the same."""
    length = end + 1.0 - start
    by_date = made @ np.where(date >= end, 1.0, np.clip((date - start) / length, 0.0, 1.0))
    total = made.sum()
    if not -AGREES <= shots <= total + AGREES or abs(by_date - shots) <= AGREES:
        return float("nan")
    shots = min(max(shots, 0.0), total)
    edge = np.unique(np.concatenate([start, end + 1.0]))
    reached = np.clip((edge[:, None] - start) / length, 0.0, 1.0) @ made
    first, last = np.searchsorted(reached, shots - ROUNDING, side="left"), np.searchsorted(reached, shots + ROUNDING, side="right") - 1
    if first <= last:  # between two runs one instant is as good as another
        return float(np.clip(date, edge[first], edge[last]))
    return float(np.interp(shots, reached[last : first + 1], edge[last : first + 1]))
