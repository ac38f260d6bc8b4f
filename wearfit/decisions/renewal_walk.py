"""Some tools walked month by month: what is asked of each design, who makes it, what ends, and when it is back.

A tool makes its own share of its design as far as it is there and its capacity reaches; what it leaves goes to the copies that have room.
Where a life ends in the middle of a month, what is left of that month's share goes to the copies too. What nobody makes is short, and
is not made up for later. A month's volume may be made on any of its days, so that a tool that comes back catches up as its capacity
allows; but it makes nothing more in the month in which its life ended.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit import law
from wearfit.decisions.costs import FOREVER
from wearfit.forecasts.fleet_ahead import FleetBlock

Array = np.ndarray
Places = tuple[Array, ...]  # samples and tools, (end,) each

LEAST: Final = 1e-200  # stands for no wear and no risk in a month without use
RETOOLED, REFURBISHED, REPLACED = range(3)


@dataclass(frozen=True)
class Terms:
    """What a renewal costs and how long it takes, and what a tool can make. Arrays of shape (tool,)."""

    shots_per_month: Array  # most machine shots in a month
    retool_cost: Array
    refurbish_cost: Array
    most_refurbished: Array  # refurbishments of one cavity set in a row before it is cut anew
    due_months: Array  # until a replacement on order is there, NaN
    retool_months: float  # median
    refurbish_months: float
    lead_log_sd: float


@dataclass(frozen=True)
class Walked:
    """What came of some tools."""

    first_end: Array  # (sample, tool) months until the life under way ends; past the last month walked at the last year's use
    month: Array  # (event,) of each renewal
    sample: Array  # (event,)
    tool: Array  # (event,)
    kind: Array  # (event,)
    cost: Array  # (event,) paid when the life ends; nothing for a replacement that is on order
    asked: Array  # (month, design) shots, mean over draws
    made: Array  # (month, design)
    short: Array  # (month, sample, design) share of what is asked that nobody makes


class _Tools:
    """Where the tools of a block stand, changed as the months go by. Arrays of shape (sample, tool)."""

    def __init__(self, block: FleetBlock, terms: Terms) -> None:
        self.block, self.terms = block, terms
        self.left = np.maximum(block.capacity - block.spent, LEAST)
        worn_at = np.where(np.isnan(block.spent), np.exp(block.log_life), block.spent)
        self.capacity = np.where(block.status == "worn", worn_at, block.capacity)
        self.log_life = block.log_life.copy()
        self.sudden = block.sudden_left.copy()
        self.back = np.zeros_like(self.left)
        self.turn = np.zeros(self.left.shape, dtype=np.int64)
        self.refurbished = np.zeros(self.left.shape, dtype=np.int64)
        self.waits = np.broadcast_to(~np.isnan(terms.due_months), self.left.shape).copy()  # for a replacement on order
        self.first_end = np.full_like(self.left, np.inf)
        self.events: list[tuple[Array, ...]] = []
        self.year_before = self.left, self.sudden
        self._luck: list[Array] = []  # by turn, (tool, 4, sample), drawn where a life has come so far
        self._drawn: list[set[int]] = []

    def use(self, shots: Array, wear: Array, sudden: Array) -> tuple[Array, Places, Array, Array]:
        """Make shots as far as the lives reach.

        Returns
        -------
        made : array, shape (sample, tool)
        at : two arrays, shape (end,)
            Where a life ended: samples, tools.
        share : array, shape (end,)
            Of the shots that were made before.
        wears : array, shape (end,)
            Whether it wore out; else it stopped by a sudden stop.
        """
        worn, risked = shots * wear, shots * sudden
        ends = (worn >= self.left) | (risked >= self.sudden)
        at = np.nonzero(ends)
        to_wear = self.left[at] / np.maximum(worn[at], LEAST)
        to_sudden = self.sudden[at] / np.maximum(risked[at], LEAST)
        share = np.minimum(to_wear, to_sudden)
        self.left -= worn
        self.sudden -= risked
        self.left[at] = self.sudden[at] = np.inf  # until it is renewed, so that it ends once alone
        made = shots
        if len(share):
            made = shots.copy()
            made[at] *= share
        return made, at, share, to_wear <= to_sudden

    def renew(self, month: int, at: Places, when: Array, wears: Array) -> None:
        """Begin the next life of each tool that ended, and put down what it costs and when the tool is back."""
        s, t = at
        if not len(s):
            return
        wear, sudden, lead, own = self._luck_of(s, t)
        block, terms = self.block, self.terms
        shape = block.shape[s, 0]
        replaced = self.waits[s, t]
        mended = wears & ~replaced & (self.refurbished[s, t] < terms.most_refurbished[t])
        kind = np.where(replaced, REPLACED, np.where(mended, REFURBISHED, RETOOLED))
        log_life = np.where(mended, self.log_life[s, t], block.fresh_log_life[s, t])
        log_life = np.where(replaced, block.kind_log_life[s, t] + block.tool_sd[s, 0] * own, log_life)
        age = np.where(mended, self.capacity[s, t] * kept_age(block, s, self.refurbished[s, t]), 0.0)
        capacity = law.wear_at(law.cumulative_hazard(age, log_life, shape) + wear, log_life, shape)
        self.capacity[s, t], self.left[s, t] = capacity, np.maximum(capacity - age, LEAST)
        self.log_life[s, t], self.sudden[s, t] = log_life, sudden
        self.refurbished[s, t] = np.where(mended, self.refurbished[s, t] + 1, 0)
        self.turn[s, t] += 1
        self.waits[s, t] = False
        lasts = np.where(mended, terms.refurbish_months, terms.retool_months * np.exp(terms.lead_log_sd * lead))
        self.back[s, t] = np.where(replaced, np.maximum(when, np.nan_to_num(terms.due_months[t])), when + lasts)
        self.first_end[s, t] = np.minimum(self.first_end[s, t], when)
        cost = np.where(replaced, 0.0, np.where(mended, terms.refurbish_cost[t], terms.retool_cost[t]))
        self.events.append((np.full(len(s), month), s, t, kind, cost))

    def look(self) -> None:
        """Put down where the lives under way stand a year before the last month."""
        self.year_before = self.left.copy(), self.sudden.copy()

    def look_beyond(self, walked: float, since: float) -> None:
        """Say when a life that outlasted the months walked will end, used on as it was `since` months."""
        rest = np.full_like(self.left, np.inf)
        for before, now in zip(self.year_before, (self.left, self.sudden), strict=True):
            rest = np.minimum(rest, now / np.maximum((before - now) / since, LEAST))
        self.first_end = np.where(np.isinf(self.first_end) & (rest < FOREVER), walked + rest, self.first_end)

    def _luck_of(self, sample: Array, tool: Array) -> Array:
        """Luck of the renewals that are due, shape (4, end)."""
        tools, turn = self.left.shape[1], self.turn[sample, tool]
        while len(self._luck) <= turn.max():
            self._luck.append(np.empty((tools, 4, len(self.left))))
            self._drawn.append(set())
        out = np.empty((len(sample), 4))
        for n in np.flatnonzero(np.bincount(turn)).tolist():
            here = turn == n
            for t in set(np.flatnonzero(np.bincount(tool[here])).tolist()) - self._drawn[n]:
                drawn = self.block.luck(t, n)
                self._luck[n][t] = drawn.wear, drawn.sudden, drawn.lead, drawn.own
                self._drawn[n].add(t)
            out[here] = self._luck[n][tool[here], :, sample[here]]
        return out.T


def kept_age(block: FleetBlock, sample: Array, before: Array | int) -> Array:
    """Share of the age that a refurbishment leaves, where there have been some before."""
    return np.asarray(1.0 - block.regained[sample, 0] * block.repeat[sample, 0] ** before)


def walk(block: FleetBlock, terms: Terms) -> Walked:
    """Walk the months of a block."""
    tools, members, held = _Tools(block, terms), block.members, block.status == "held"
    stored, worn = block.status == "stored", block.status == "worn"
    samples = len(block.capacity)
    asked, made_by, short = [], [], []
    if worn.any():
        s, t = (axis.ravel() for axis in np.meshgrid(np.arange(samples), np.flatnonzero(worn), indexing="ij"))
        tools.renew(0, (s, t), np.zeros(len(s)), np.ones(len(s), dtype=bool))
    begin = 0.0
    for number, month in enumerate(block.months):
        if number == max(0, len(block.months) - 12):
            tools.look()
        away = held | (stored & ~month.planned)
        wanted = np.where(stored & ~month.planned, 0.0, month.shots * month.length)
        there = np.clip((begin + month.length - tools.back) / month.length, 0.0, 1.0)
        there[:, away] = 0.0
        room = there * (terms.shots_per_month * month.length)
        shots = np.minimum(wanted, room)
        made, at, share, wears = tools.use(shots, month.wear, month.sudden)
        for_design = wanted @ members
        if block.shared:
            room -= made
            room[at] = 0.0
            others, more, share_more, wears_more = tools.use(
                _spread(for_design - made @ members, room, members, block.group), month.wear, month.sudden
            )
            made = made + others
            at = tuple(np.concatenate(both) for both in zip(at, more, strict=True))
            share, wears = np.concatenate([share, share_more]), np.concatenate([wears, wears_more])
        when = begin + month.length * (1.0 - there[at] + there[at] * share)
        tools.renew(number, at, when, wears)
        by_design = made @ members
        asked.append(for_design.mean(axis=0))
        made_by.append(by_design.mean(axis=0))
        short.append(np.maximum(1.0 - by_design / np.maximum(for_design, LEAST), 0.0) * (for_design > 0))
        begin += month.length
    tools.look_beyond(begin, sum(month.length for month in block.months[-12:]))
    month_of, sample, tool, kind, cost = (
        [np.concatenate(column) for column in zip(*tools.events, strict=True)] if tools.events else [np.zeros(0, dtype=np.int64)] * 5
    )
    return Walked(
        tools.first_end, month_of, sample, tool, kind, cost.astype(float), np.array(asked), np.array(made_by), np.array(short)
    )  # fmt: skip


def _spread(missing: Array, room: Array, members: Array, group: Array) -> Array:
    """What is missing of each design, taken up by the tools that have room, in proportion to it, shape (sample, tool)."""
    of_design = room @ members
    return np.asarray(room * np.minimum(np.maximum(missing, 0.0) / np.maximum(of_design, LEAST), 1.0)[:, group])
