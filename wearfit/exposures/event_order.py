"""Where something seen on a day stands among the events of its tool."""

from typing import Final

import numpy as np

from wearfit.exposures.lives import SAME_DAY_ORDER, Episodes, Events
from wearfit.exposures.timeline import LAST_DAY

Array = np.ndarray

_AFTER_WORN: Final = {kind: place > SAME_DAY_ORDER.index("worn") for place, kind in enumerate(SAME_DAY_ORDER)}


class EventOrder:
    """Where a `worn` of some tool and day stands among the events."""

    def __init__(self, events: Events) -> None:
        self._first = events.time.min() if len(events.time) else 0.0
        self._span = events.time.max() - self._first + 8.0 if len(events.time) else 8.0
        after = np.array([_AFTER_WORN[kind] for kind in events.kind], dtype=float)
        # Events that a count has put behind others may stand out of their day's order: what is before them is before all of these.
        self._keys = np.maximum.accumulate(self._key(events.tool, events.time) + after * LAST_DAY / 4)

    def _key(self, tool: Array, time: Array) -> Array:
        return tool * self._span + np.clip(time - self._first + 2.0, 0.0, self._span - 2.0)

    def place_of_worn(self, tool: Array, day: Array) -> Array:
        """Number of events before it, shape (worn,)."""
        return np.searchsorted(self._keys, self._key(tool, day) + LAST_DAY / 8)


def episode_seen(tool: Array, day: Array, events: Events, episodes: Episodes) -> Array:
    """Index of the episode in which a tool is seen on a day: of a renewal on that day, the one before it. Shapes (look,)."""
    is_closer = np.zeros(len(events.kind), dtype=bool)
    is_closer[events.closers] = True
    closed = np.concatenate([[0], np.cumsum(is_closer)])
    before_tool = closed[np.searchsorted(events.tool, tool, side="left")]
    first = np.searchsorted(episodes.tool, tool, side="left")
    return np.asarray(first + closed[EventOrder(events).place_of_worn(tool, day)] - before_tool)
