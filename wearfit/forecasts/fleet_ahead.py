"""Draws of what lies ahead of a whole fleet at once: the tools of each design, their lives, their use, month by month.

Plants, resins and the season are the same in one draw for all tools; a tool's own effect and its luck are its own. So sums over tools
within a draw are sums of one possible future.
"""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.ahead import lead_days
from wearfit.forecasts.clock import read_clocks
from wearfit.forecasts.conditions import generator, modification_wear, position
from wearfit.forecasts.news import NONE_SINCE, BySince
from wearfit.forecasts.outlook import Outlook, read_outlook
from wearfit.forecasts.own_luck import exponential_draws
from wearfit.forecasts.use_ahead import MonthAhead, UseAhead
from wearfit.law import Shape

Array = np.ndarray

BLOCK: Final = 32  # tools looked at together, all copies of a design among them: arrays that stay near the processor
YEAR: Final = 12  # months that are walked at least, so that a season is seen whole
EPOCH: Final = dt.date(1970, 1, 1)
DAYS_PER_MONTH: Final = 365.25 / 12.0


@dataclass(frozen=True)
class RenewalLuck:
    """Luck of one renewal of one tool. Arrays of shape (sample,)."""

    wear: Array  # standard exponential
    sudden: Array  # standard exponential
    lead: Array  # standard normal
    own: Array  # standard normal, how far a new tool lies from its kind


@dataclass(frozen=True)
class FleetBlock:
    """Some tools of a fleet, with all copies of their designs. Arrays of shape (sample, tool) unless said otherwise."""

    place: Array  # (tool,) in the fleet's own order
    group: Array  # (tool,) design within the block, from 0 on
    status: Array  # (tool,)
    capacity: Array  # wear at which the life under way ends [reference shots]
    spent: Array
    log_life: Array
    fresh_log_life: Array  # of a new cavity set, which carries no modifications
    kind_log_life: Array  # of tools of its kind
    tool_sd: Array  # (sample, 1)
    shape: Shape  # (sample, 1)
    sudden_left: Array  # expected sudden stops at which one happens
    regained: Array  # (sample, 1) share of the age that a first refurbishment takes away
    repeat: Array  # (sample, 1) how much of that each further one keeps
    lead_days: Array  # of a replacement
    months: tuple[MonthAhead, ...]
    _calibration: Calibration
    _names: tuple[str, ...]

    @property
    def shared(self) -> bool:
        """Whether a design has more than one copy."""
        return bool(len(self.group) > self.group[-1] + 1)

    @property
    def members(self) -> Array:
        """Which tool is of which design, shape (tool, design)."""
        return np.asarray(self.group[:, None] == np.arange(self.group[-1] + 1), dtype=float)

    def luck(self, tool: int, turn: int) -> RenewalLuck:
        """Luck of the n-th renewal of a tool, the same whatever brought it about and whoever stands beside it."""
        samples = self._calibration.samples
        rng = generator(self._calibration, "renewal", self._names[tool], str(turn))
        return RenewalLuck(*rng.standard_exponential((2, samples)), *rng.standard_normal((2, samples)))


@dataclass(frozen=True)
class FleetAhead:
    """The live tools whose age is known, those of one design side by side. Arrays of shape (tool,)."""

    as_of: dt.date
    months: int  # months that are asked about; those after them tell of orders alone
    beyond: int
    tool_id: tuple[str, ...]
    design_id: tuple[str, ...]  # of each tool; a tool without one stands for its own
    status: Array
    due_months: Array  # until a replacement on order is there, NaN where none is
    lead_weeks: Array  # median, of a replacement
    lead_log_sd: float
    replacement_cost: Array  # NaN where not on record
    refurbish_cost: Array  # NaN
    cycle_time_s: Array  # NaN
    most_made: Array  # most shots in one of the last months
    unknown: tuple[str, ...]  # tools that are left out, for nothing tells their age
    _calibration: Calibration
    _outlook: Outlook
    _rows: Array
    _since: BySince

    @property
    def samples(self) -> int:
        return self._calibration.samples

    @property
    def month_starts(self) -> tuple[dt.date, ...]:
        """First days of the months that are walked, the as-of day's morrow first."""
        first = self.as_of + dt.timedelta(days=1)
        ahead = [first.month - 1 + i for i in range(1, self.months + self.beyond)]
        return (first, *(dt.date(first.year + m // 12, m % 12 + 1, 1) for m in ahead))

    @property
    def ends(self) -> dt.date:
        """The day after the last month that is walked."""
        return (self.month_starts[-1].replace(day=1) + dt.timedelta(days=32)).replace(day=1)

    def blocks(self) -> Iterator[FleetBlock]:
        """The fleet in pieces that bound the memory, the same pieces each time."""
        for place in _pieces(self.design_id):
            yield self._block(place)

    def _block(self, place: Array) -> FleetBlock:
        calibration, rows = self._calibration, self._rows[place]
        live = calibration.live
        use = UseAhead(calibration, self._outlook, rows)
        clocks = read_clocks(calibration, rows, use, self.as_of, self._since)
        drawn = drawn_by_weight(clocks.weights)
        names = [self.design_id[p] for p in place]
        modified = np.log(modification_wear(calibration, live.modifications[rows]))
        own = np.asarray(calibration.draws.tool[:, live.tool[rows]], dtype=float)
        share = {
            name: calibration.draws.share[:, [position(calibration.levels.share, name)]].astype(float) for name in ("refurbish", "repeat")
        }

        def of_drawn(values: Array) -> Array:
            return values if drawn is None else np.take_along_axis(values, drawn, axis=0)

        return FleetBlock(
            place=place,
            group=np.cumsum([i > 0 and names[i] != names[i - 1] for i in range(len(names))]),
            status=self.status[place],
            capacity=of_drawn(clocks.capacity(exponential_draws(calibration, rows, "wear"))),
            spent=of_drawn(clocks.spent),
            log_life=of_drawn(clocks.log_life),
            fresh_log_life=of_drawn(clocks.log_life + modified),
            kind_log_life=of_drawn(clocks.log_life + modified - own),
            tool_sd=calibration.draws.scale[:, [position(calibration.levels.group, "tool")]].astype(float),
            shape=clocks.shape,
            sudden_left=exponential_draws(calibration, rows, "sudden"),
            regained=share["refurbish"],
            repeat=share["repeat"],
            lead_days=lead_days(calibration, rows),
            months=tuple(use.each_month(self.as_of, self.months + self.beyond)),
            _calibration=calibration,
            _names=tuple(self.tool_id[p] for p in place),
        )


def fleet_ahead(
    calibration: Calibration,
    months: int,
    cycle_time_s: Mapping[str, float] | None = None,
    since: BySince = NONE_SINCE,
) -> FleetAhead:
    """What lies ahead of a calibration's live tools.

    Parameters
    ----------
    months : int
        How many are asked about, what is left of the one under way as the first. Some more are walked, as far as the longest
        median lead time.
    cycle_time_s : mapping of str to float, optional
        On record, by tool. [s]
    since : mapping of int to Since
        What readings since the calibration say, as `tool_ahead` takes it.
    """
    live, levels = calibration.live, calibration.levels
    as_of = dt.date.fromisoformat(calibration.identity.as_of)
    names = [str(name) for name in levels.tool[live.tool]]
    design = [str(levels.design[d]) if d >= 0 else name for d, name in zip(live.design, names, strict=True)]
    dark = calibration.unknown_age & (live.status != "worn")
    rows = np.array(sorted(np.flatnonzero(~dark).tolist(), key=lambda row: (design[row], names[row])), dtype=np.int64)
    lead = np.where(np.isnan(live.lead_time_weeks), calibration.identity.lead_time_weeks, live.lead_time_weeks)[rows]
    longest = float(lead.max()) * 7.0 / DAYS_PER_MONTH if len(rows) else 0.0
    cycle = cycle_time_s or {}
    return FleetAhead(
        as_of=as_of,
        months=months,
        beyond=int(np.ceil(longest)) + max(0, YEAR - months),
        tool_id=tuple(names[row] for row in rows),
        design_id=tuple(design[row] for row in rows),
        status=live.status[rows],
        due_months=np.maximum(live.replacement_due[rows] - (as_of - EPOCH).days, 0.0) / DAYS_PER_MONTH,
        lead_weeks=lead,
        lead_log_sd=calibration.identity.lead_time_log_sd,
        replacement_cost=live.replacement_cost[rows],
        refurbish_cost=live.refurbish_cost[rows],
        cycle_time_s=np.array([cycle.get(names[row], np.nan) for row in rows]),
        most_made=np.nan_to_num(live.recent_shots[rows]).max(axis=1, initial=0.0),
        unknown=tuple(names[row] for row in np.flatnonzero(dark)),
        _calibration=calibration,
        _outlook=read_outlook(calibration),
        _rows=rows,
        _since=since,
    )


def drawn_by_weight(weights: Array) -> Array | None:
    """Draws that each tool takes the place of each draw with, so that weights need not be kept, shape (sample, tool).

    A draw stays in its place as often as its weight allows, so that what a tool shares with others in a draw stays shared. None
    where all weights are alike. (Systematic resampling: Douc, Cappe & Moulines 2005, ISPA.)
    """
    if (weights == weights[0]).all():
        return None
    n = len(weights)
    drawn = np.repeat(np.arange(n)[:, None], weights.shape[1], axis=1)
    for tool, weight in enumerate(weights.T):
        ends = np.concatenate([[0.0], np.cumsum(weight)]) * (n / weight.sum())
        count = np.diff(np.floor(ends + 0.5))
        drawn[count == 0, tool] = np.repeat(np.arange(n), np.maximum(count - 1, 0).astype(np.int64))
    return drawn


def _pieces(design_id: tuple[str, ...]) -> Iterator[Array]:
    """Places of the tools block by block, whole designs each; single copies apart from those that share."""
    groups: dict[str, list[int]] = {}
    for place, name in enumerate(design_id):
        groups.setdefault(name, []).append(place)
    for wanted in (False, True):
        piece: list[int] = []
        for group in (g for g in groups.values() if (len(g) > 1) == wanted):
            if piece and len(piece) + len(group) > BLOCK:
                yield np.array(piece)
                piece = []
            piece += group
        if piece:
            yield np.array(piece)
