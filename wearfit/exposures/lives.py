"""Lives and episodes: how a tool's events divide its past, and how each part of it ended.

A life runs between two of {commissioning, retool, refurbish}. An episode is a life, or the part of one on either side
of a modification that cut part of the wearing surface new; each starts at a virtual age set by what ended the one
before. Episodes carry the likelihood; lives are what people count.
"""

from dataclasses import dataclass

import numpy as np

from wearfit.exposures.timeline import Segments, TimeKeys

Array = np.ndarray

CENSORED, EXACT, INTERVAL = 0, 1, 2  # kinds of ending

SAME_DAY_ORDER = ("release", "take_out", "move", "service", "modify", "worn", "refurbish", "retool", "hold", "store", "order", "retire")
RENEWALS = ("refurbish", "retool")


def closes(kind: Array, renewed_share: Array) -> Array:
    """Whether each event closes an episode and opens the next: surface was cut new, in whole or in part. Shapes (event,)."""
    return np.isin(kind, RENEWALS) | ((kind == "modify") & (renewed_share > 0))


@dataclass(frozen=True)
class Events:
    """Events in order of (tool, time, SAME_DAY_ORDER). All arrays have shape (event,)."""

    tool: Array
    time: Array  # [day] as segments see it; INSTANT before `cut` where a shot count placed the event
    cut: Array  # [day] where it cuts a run
    kind: Array  # text
    cause: Array  # text, "" where not stated
    last_good: Array  # [day], NaN where not recorded
    plant: Array  # index, -1 where not recorded
    renewed_share: Array  # 0..1
    due: Array  # [day], NaN
    preserved: Array  # 0 or 1, NaN where not recorded

    def of(self, *kinds: str) -> Array:
        """Positions of the events of these kinds, in order."""
        return np.flatnonzero(np.isin(self.kind, kinds))

    @property
    def closers(self) -> Array:
        """Positions of the events that close an episode and open the next, in order."""
        return np.flatnonzero(closes(self.kind, self.renewed_share))


@dataclass(frozen=True)
class Episodes:
    """One row an episode, in order of (tool, time). All arrays have shape (episode,)."""

    tool: Array
    life: Array  # index of its life, counted over the fleet
    opens: Array  # [day], -inf for a tool's first
    closes: Array  # [day], +inf where it goes on
    closer: Array  # position of the event that closed it, -1
    chain: Array  # index of the episode at which its clock last stood at zero
    repeat: Array  # how many refurbishments the clock has seen since then
    kept: Array  # share of the wear spent that partial renewals since then have left, 0..1
    ending: Array  # CENSORED, EXACT or INTERVAL
    unstated: Array  # bool: renewed for a cause not stated, so perhaps a wear-out
    sudden: Array  # bool: ended by damage
    worn_at: Array  # [day], from which the clock stands still; +inf
    last_good: Array  # [day], NaN


def divide(n_tools: int, events: Events) -> Episodes:
    """Divide each tool's past at its events.

    Raises
    ------
    ValueError
        Where an event's tool is outside 0..n_tools-1.
    """
    if len(events.tool) and (events.tool.min() < 0 or events.tool.max() >= n_tools):
        raise ValueError("an event names a tool that is not in the table")
    closer = events.closers
    count = np.bincount(events.tool[closer], minlength=n_tools) + 1
    first = np.cumsum(count) - count
    tool = np.repeat(np.arange(n_tools), count)
    n = len(tool)
    is_first = np.zeros(n, dtype=bool)
    is_first[first] = True
    closed_by = np.full(n, -1)
    closed_by[~np.append(is_first[1:], True)] = closer
    opened_by = np.full(n, -1)
    opened_by[~is_first] = closer

    retire = events.of("retire")
    last = first[events.tool[retire]] + count[events.tool[retire]] - 1
    ends_with = closed_by.copy()
    ends_with[last] = retire

    opening_kind = np.where(opened_by >= 0, events.kind[opened_by], "new") if len(events.kind) else np.full(n, "new")
    damaged = (events.cause[opened_by] == "damage") if len(events.kind) else np.zeros(n, dtype=bool)
    share = np.where(opened_by >= 0, events.renewed_share[opened_by], 0.0) if len(events.kind) else np.zeros(n)
    fresh = is_first | (opening_kind == "retool") | ((opening_kind == "modify") & (share >= 1.0))
    goes_on = (opening_kind == "modify") & ~fresh  # still the surface that wore before
    chain = np.maximum.accumulate(np.where(fresh, np.arange(n), 0))
    refurbished = (opening_kind == "refurbish") & ~damaged
    since_start = np.cumsum(refurbished)
    opens_life = (opening_kind != "modify") | is_first

    ending, unstated, sudden, worn_at, last_good = _endings(events, first, closed_by, ends_with, goes_on)
    time = np.append(events.time, np.inf)
    return Episodes(
        tool=tool,
        life=np.cumsum(opens_life) - 1,
        opens=np.where(opened_by >= 0, time[opened_by], -np.inf),
        closes=np.where(ends_with >= 0, time[ends_with], np.inf),
        closer=ends_with,
        chain=chain,
        repeat=since_start - since_start[chain],
        kept=_kept(fresh, goes_on, share),
        ending=ending,
        unstated=unstated,
        sudden=sudden,
        worn_at=worn_at,
        last_good=last_good,
    )


def _kept(fresh: Array, goes_on: Array, share: Array) -> Array:
    """Product of the shares that partial renewals left since the surface was last new, shape (episode,)."""
    # Multiplied out, not summed as logs over the fleet: what one tool keeps must not depend on another, not in the last bit.
    latest = np.maximum.accumulate(np.where(fresh | goes_on, np.arange(len(fresh)), 0))
    product = np.ones(len(fresh))
    for episode in np.flatnonzero(goes_on):
        product[episode] = product[latest[episode - 1]] * (1.0 - share[episode])
    return product[latest]


def _endings(events: Events, first: Array, closed_by: Array, ends_with: Array, goes_on: Array) -> tuple[Array, Array, Array, Array, Array]:
    """What each episode's end says about wear: (ending, unstated, sudden, worn_at, last_good)."""
    n = len(closed_by)
    kind = np.append(events.kind, "none")[ends_with]
    cause = np.append(events.cause, "")[ends_with]
    last_good = np.append(events.last_good, np.nan)[ends_with]
    worn_at = np.full(n, np.inf)
    # A `worn` belongs to the episode open at its position; a second one before the renewal counts nothing.
    is_closer = np.zeros(len(events.kind) + 1, dtype=bool)
    is_closer[closed_by[closed_by >= 0]] = True
    closers_before = np.cumsum(is_closer) - is_closer
    start_of_tool = np.searchsorted(events.tool, np.arange(len(first)), side="left")
    for position in events.of("worn")[::-1]:
        owner = events.tool[position]
        episode = first[owner] + closers_before[position] - closers_before[start_of_tool[owner]]
        worn_at[episode] = events.time[position]
        last_good[episode] = events.last_good[position]
    # A worn surface that a modification cut new in part only stays worn, and has been counted.
    counted = np.zeros(n, dtype=bool)
    for episode in np.flatnonzero(goes_on):
        if np.isfinite(worn_at[episode - 1]):
            counted[episode], worn_at[episode] = True, worn_at[episode - 1]
    worn = np.isfinite(worn_at)
    ends_life = np.isin(kind, (*RENEWALS, "retire"))
    unstated = ~worn & np.isin(kind, RENEWALS) & (cause == "")
    by_wear = np.where(worn, ~counted, (ends_life & (cause == "wear")) | unstated)
    ending = np.where(by_wear, np.where(np.isnan(last_good), EXACT, INTERVAL), CENSORED)
    sudden = ~worn & ends_life & (cause == "damage")
    return ending, unstated, sudden, worn_at, last_good


def episode_of(segments: Segments, events: Events, episodes: Episodes, n_tools: int, keys: TimeKeys) -> Array:
    """Index of the episode in which each segment lies, shape (segment,)."""
    closer = events.closers
    closer_key = keys(events.tool[closer], events.time[closer])
    first = np.searchsorted(episodes.tool, np.arange(n_tools), side="left")
    before = np.searchsorted(closer_key, keys(segments.tool, segments.place_in_time), side="right")
    before_tool = np.searchsorted(closer_key, keys(np.arange(n_tools), np.full(n_tools, -np.inf)), side="left")
    episode: Array = first[segments.tool] + before - before_tool[segments.tool]
    return episode


def modifications_before(segments: Segments, events: Events, keys: TimeKeys) -> Array:
    """Modifications since the last retool, at each segment, shape (segment,)."""
    position = np.searchsorted(keys(events.tool, events.time), keys(segments.tool, segments.place_in_time), side="right")
    modified = np.concatenate([[0], np.cumsum(events.kind == "modify")])
    at_retool = np.maximum.accumulate(np.concatenate([[0], np.where(events.kind == "retool", modified[1:], 0)]))
    start_of_tool = np.searchsorted(events.tool, segments.tool, side="left")
    count: Array = modified[position] - np.maximum(at_retool[position], modified[start_of_tool])
    return count
