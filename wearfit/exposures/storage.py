"""Times in which tools stood unused: stays in store, and long idle times at their plant.

A stay goes from a `store` to the next `take_out` or run of the tool, or to the as-of day. Idle time goes from the end of a
run, a stay or a renewal to the next run or stay, or to the as-of day; its first IDLE_DAYS count nothing. Days are points
here: a stay from one day to another has as many days as the dates differ by, and an event divides it at its own day.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from wearfit.exposures.covariates import IDLE_DAYS
from wearfit.exposures.lives import Episodes, Events
from wearfit.exposures.timeline import Runs

Array = np.ndarray

PERHAPS_PRESERVED: Final = 0.5  # nobody wrote down whether a tool in store was oiled or wrapped, judgement


@dataclass(frozen=True)
class Standing:
    """Stretches in which a tool stood, cut where something about it changes, in order of (tool, time).

    Arrays of shape (stretch,), those in the second group of shape (tool,).
    """

    tool: Array
    episode: Array
    start: Array  # [day]
    end: Array  # [day]
    plant: Array  # index of the store or of the plant where the tool idled, -1 where nobody knows
    preserved: Array  # 0..1
    stored: Array  # bool; else it idled at its plant

    in_store: Array  # bool: on the as-of day
    store: Array  # index of the place of a tool in store, -1 unknown
    store_preserved: Array
    idle_from: Array  # [day] on which idle time that counts began, or will begin if it stays unused; NaN in store and before use

    def since(self, day: Array) -> "Standing":
        """Without the stretches that start before a day of their tool, shape (tool,)."""
        kept = self.start >= day[self.tool]
        stretches = ("tool", "episode", "start", "end", "plant", "preserved", "stored")
        return replace(self, **{name: getattr(self, name)[kept] for name in stretches})


@dataclass(frozen=True)
class _Marks:
    """All that changes how a tool stands, in order of (tool, time), its as-of day last. Arrays of shape (mark,)."""

    tool: Array
    time: Array
    run: Array  # whose start or end it is, -1
    starts: Array  # bool
    ends: Array  # bool
    event: Array  # position, -1

    def latest(self, which: Array) -> Array:
        """Position of the last of these marks up to each mark of its tool, -1."""
        at = np.maximum.accumulate(np.where(which, np.arange(len(which)), -1))
        return np.where(at >= np.searchsorted(self.tool, self.tool, side="left"), at, -1)


def _marks(runs: Runs, events: Events, episodes: Episodes, n_tools: int, as_of: float) -> _Marks:
    limited = np.flatnonzero(np.isfinite(episodes.last_good))
    r, e, g = len(runs.tool), len(events.tool), len(limited)
    tool = np.concatenate([runs.tool, runs.tool, events.tool, episodes.tool[limited], np.arange(n_tools)])
    time = np.concatenate([runs.start, runs.end, events.time, episodes.last_good[limited], np.full(n_tools, as_of)])
    # An event on a run's first day comes before the run, on its last day after it.
    rank = np.concatenate([np.where(runs.start == runs.end, 0, 3), np.full(r, 1), np.full(e + g, 2), np.full(n_tools, 4)])
    kind = np.repeat(np.arange(5), [r, r, e, g, n_tools])
    own = np.concatenate([np.arange(r), np.arange(r), np.arange(e), limited, np.arange(n_tools)])
    time = np.minimum(time, as_of)
    order = np.lexsort((rank, time, tool))  # stable: events keep their order
    kind, own = kind[order], own[order]
    return _Marks(tool[order], time[order], np.where(kind < 2, own, -1), kind == 0, kind == 1, np.where(kind == 2, own, -1))


def stand(runs: Runs, events: Events, episodes: Episodes, home: Array, as_of: float) -> Standing:
    """Where and how tools stood, up to the as-of day.

    Parameters
    ----------
    home : array, shape (tool,)
        Plant where a tool is before its first run, -1 unknown.
    as_of : float
        [day]

    Notes
    -----
    A worn tool stands still, and so does a retired one. Idle time before a tool's first run counts nothing. Where a tool
    is moved while in store, it stays in store at its new place.
    """
    marks = _marks(runs, events, episodes, len(home), as_of)
    n = len(marks.tool)
    kind = np.append(events.kind, "")[marks.event]
    event_plant = np.append(events.plant, -1)[marks.event]
    closing = np.isin(marks.event, events.closers)

    begun = marks.latest(kind == "store")
    stored = begun > marks.latest((kind == "take_out") | marks.starts | marks.ends)
    arrived = marks.latest(marks.ends | ((kind == "move") & (event_plant >= 0)))
    plant = np.where(arrived >= 0, np.where(marks.ends, np.append(runs.plant, -1)[marks.run], event_plant)[arrived], home[marks.tool])
    named = (event_plant[begun] >= 0) & (begun > arrived)
    place = np.where(stored & named, event_plant[begun], plant)
    oiled = np.append(events.preserved, np.nan)[marks.event[begun]]
    preserved = np.where(stored, np.where(np.isnan(oiled), PERHAPS_PRESERVED, oiled), 0.0)

    used = marks.latest(marks.ends) >= 0
    running = np.cumsum(marks.starts.astype(int) - marks.ends) > 0
    since = marks.time[marks.latest(marks.ends | (kind == "take_out") | closing)]
    start = np.where(stored, marks.time, np.maximum(marks.time, since + IDLE_DAYS))
    end = np.append(marks.time[1:], 0.0)
    closed = np.cumsum(closing)
    first = np.searchsorted(marks.tool, np.arange(len(home)), side="left")
    before = np.append(closed, 0)[first - 1] if n else closed
    before = np.where(first == 0, 0, before)
    episode = np.searchsorted(episodes.tool, marks.tool, side="left") + closed - before[marks.tool]
    retired = marks.latest(kind == "retire") >= 0
    stands = (stored | used) & ~running & ~retired & (marks.time < episodes.worn_at[episode]) & (start < end)
    stands &= np.append(marks.tool[1:] == marks.tool[:-1], False)
    kept = np.flatnonzero(stands)
    now = np.append(first[1:], n) - 1
    return Standing(
        tool=marks.tool[kept],
        episode=episode[kept],
        start=start[kept],
        end=end[kept],
        plant=place[kept],
        preserved=preserved[kept],
        stored=stored[kept],
        in_store=stored[now] & ~retired[now],
        store=np.where(stored, place, -1)[now],
        store_preserved=preserved[now],
        idle_from=np.where(used & ~stored & ~retired, since + IDLE_DAYS, np.nan)[now],
    )


def found_in_store(events: Events, runs: Runs) -> Events:
    """A tool found worn in store, or on the day it was taken out, wore out between then and the day it was stored.

    Whoever puts a tool into store takes it to be good; a last good day that is written down is believed.
    """
    last_good = events.last_good.copy()
    stores = events.of("store")
    for worn in events.of("worn"):
        mine = stores[(stores < worn) & (events.tool[stores] == events.tool[worn])]
        if not np.isnan(last_good[worn]) or not len(mine):
            continue
        day, stored = events.time[worn], events.time[mine[-1]]
        between = slice(mine[-1], worn)
        # Taken out on that very day it comes out of the crate worn.
        out = (events.kind[between] == "take_out") & (events.time[between] < np.floor(day))
        low, high = np.searchsorted(runs.tool, [events.tool[worn], events.tool[worn] + 1], side="left")
        made = (runs.end[low:high] > stored) & (runs.start[low:high] < day)
        if not out.any() and not made.any():
            last_good[worn] = np.floor(stored)
    return replace(events, last_good=last_good)
