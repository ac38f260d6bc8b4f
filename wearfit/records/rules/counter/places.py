"""Where a tool stood while its counter rose: stretches between two readings cut by days at moves and stays in store."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.frames import Frames
from wearfit.records.rules.counter.readings import whole_days

Array = np.ndarray

LONGEST_DAYS: Final = 366  # a longer stretch is cut at the years' ends
BEFORE_ALL: Final = -400_000  # [day], earlier than any date that is read


@dataclass(frozen=True)
class Stretches:
    """Stretches of days in order of (tool, start). All arrays have shape (stretch,)."""

    tool: Array  # position in the tools table
    start: Array  # [day] first day
    end: Array  # [day] last day, inclusive
    shots: Array


@dataclass(frozen=True)
class Pieces:
    """Stretches cut so that each piece lies at one place. All arrays have shape (piece,)."""

    stretch: Array  # index of the stretch it is a piece of, in order
    start: Array
    end: Array
    shots: Array
    plant: Array  # text, "" where not known
    stored: Array  # bool: in store for the whole of its stretch, though the counter rose


def cut_by_place(frames: Frames, stretches: Stretches) -> Pieces:
    """Cut stretches at moves, stays in store and, where they are longer than a year, at the years' ends.

    Parameters
    ----------
    frames : Frames
    stretches : Stretches

    Returns
    -------
    Pieces
        Shots are shared by days, days in store left out. As with runs, a move or store on a stretch's last day comes after
        it; a tool taken out on the last day made its shots on that day.
    """
    tools, events = frames["tools"], frames["events"]
    at = pd.Series(np.arange(len(tools)), index=tools["tool_id"])
    events = events[events["event"].isin(["move", "store", "take_out"]) & events["tool_id"].isin(tools["tool_id"])]
    # Taken out and stored again on one day: in store that night.
    events = events.assign(tool=at.reindex(events["tool_id"]).to_numpy(), day=whole_days(events["date"].to_numpy()))
    events = events.sort_values(["tool", "day", "event"], key=lambda column: column == "store" if column.name == "event" else column)
    key = _Keys(stretches.end, events["day"].to_numpy())
    owner, start = _cuts(stretches, events, key)
    last = np.append(owner[1:] != owner[:-1], True)[: len(owner)]
    end = np.where(last, stretches.end[owner], np.append(start[1:] - 1, 0)[: len(owner)])
    tool = stretches.tool[owner]

    moves, stays = events[events["event"] == "move"], events[events["event"] != "move"]
    plant = _latest(key, moves, moves["plant_id"].to_numpy(), tool, start, tools["plant_id"].to_numpy()[tool])
    away = _latest(key, stays, (stays["event"] == "store").to_numpy(dtype=object), tool, start, np.zeros(len(tool), dtype=object))
    away = away.astype(bool)

    days = end - start + 1
    at_work = np.bincount(owner, weights=days * ~away, minlength=len(stretches.tool))[owner]
    stored = at_work == 0
    weight = np.where(stored, days, days * ~away)
    total = np.bincount(owner, weights=weight, minlength=len(stretches.tool))[owner]
    shots = stretches.shots[owner] * weight / total
    kept = weight > 0
    return Pieces(owner[kept], start[kept], end[kept], shots[kept], plant[kept], stored[kept])


class _Keys:
    """Sortable keys of (tool, day), so that one binary search serves the whole fleet."""

    def __init__(self, *days: Array) -> None:
        latest = max((int(some.max()) for some in days if len(some)), default=0)
        self._span = latest - BEFORE_ALL + 2

    def __call__(self, tool: Array, day: Array) -> Array:
        return np.asarray(tool, dtype=np.int64) * self._span + (np.asarray(day) - BEFORE_ALL)


def _cuts(stretches: Stretches, events: pd.DataFrame, key: _Keys) -> tuple[Array, Array]:
    """Stretch and first day of every piece, in order."""
    cut_tool, cut_day = events["tool"].to_numpy(), events["day"].to_numpy()
    taken_out = (events["event"] == "take_out").to_numpy()
    cut_key = key(cut_tool, cut_day)
    low = np.searchsorted(cut_key, key(stretches.tool, stretches.start), side="right")
    high = np.searchsorted(cut_key, key(stretches.tool, stretches.end), side="right")
    by_event, cut = _expand(low, high - low)
    inside = (cut_day[cut] < stretches.end[by_event]) | taken_out[cut]
    first_year = _year(stretches.start)
    years = np.where(stretches.end - stretches.start >= LONGEST_DAYS, _year(stretches.end) - first_year, 0)
    by_year, year = _expand(first_year + 1, years)
    everyone = np.arange(len(stretches.tool))
    owner = np.concatenate([everyone, by_event[inside], by_year])
    start = np.concatenate([stretches.start, cut_day[cut][inside], year.astype("datetime64[Y]").astype("datetime64[D]").astype(np.int64)])
    if len(owner) == len(everyone):
        return owner, start
    pairs = np.unique(np.stack([owner, start], axis=1), axis=0)
    return pairs[:, 0], pairs[:, 1]


def _year(day: Array) -> Array:
    """Years since 1970 of days."""
    years: Array = day.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64)
    return years


def _expand(first: Array, count: Array) -> tuple[Array, Array]:
    """Owner and value of the ranges first[i] .. first[i] + count[i] - 1, laid end to end."""
    owner = np.repeat(np.arange(len(count)), count)
    return owner, np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)


def _latest(key: _Keys, events: pd.DataFrame, said: Array, tool: Array, day: Array, otherwise: Array) -> Array:
    """What the latest event of each tool up to a day says, shape (day,); `otherwise` where there was none yet."""
    if not len(events):
        return otherwise
    events_tool = events["tool"].to_numpy()
    found = np.searchsorted(key(events_tool, events["day"].to_numpy()), key(tool, day), side="right") - 1
    mine = (found >= 0) & (events_tool[np.maximum(found, 0)] == tool)
    latest: Array = np.where(mine, said[np.maximum(found, 0)], otherwise)
    return latest
