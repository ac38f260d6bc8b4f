"""The clocks of the live tools at the day of the question."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from wearfit import law
from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.even_nodes import Densities
from wearfit.forecasts.conditions import in_precision_of
from wearfit.forecasts.news import NONE_SINCE, BySince
from wearfit.forecasts.rolling import Rolled, roll
from wearfit.forecasts.use_ahead import UseAhead
from wearfit.remaining import LEAST, Remaining, share_by, unpacked

Array = np.ndarray

FURTHEST_YEARS: Final = 100  # how far ahead questions are answered
NEXT_TO_NONE: Final = 1e-30  # share of lives
BARELY: Final = -80.0  # level at which a hazard is 2e-35, and its reciprocal a number in single precision
TOGETHER: Final = 500  # draws of a life, up to which it costs less to lay lives side by side than to ask them one after another


@dataclass(frozen=True)
class Clocks:
    """Where some live tools stand. Arrays of shape (sample, tool)."""

    spent: Array  # [reference shots]; NaN where the age is unknown
    life: Array  # characteristic [reference shots]
    shape: law.Shape  # (sample, 1)
    weights: Array  # of the draws: survival since the calibration, where the clock was moved on
    shots_since: Array  # shots made since the calibration's day, as expected
    left: Mapping[int, Remaining]  # what readings say of what is left of some of the tools from the calibration's day on, by column
    stored_since: Array  # wear in store since that day, part of `spent`
    unseen: Array  # what a tool has stood since its last shot, part of `spent`: nobody has looked whether it is good

    @cached_property
    def log_life(self) -> Array:
        return np.log(self.life)

    def hazard(self, spent: Array) -> Array:
        """Cumulative hazard at a wear spent."""
        return _hazard(spent, self.life, self.shape)

    @cached_property
    def _come(self) -> tuple[Array, Array]:
        """Wear that lives have come through, to their last shots where they have stood since, and how much less that is than `spent`.

        Of a new life as much as next to none fails to come through: what is beyond is told in multiples of it.
        """
        through = self.spent - self.unseen
        least = np.maximum(np.exp(BARELY / law.k_of(self.shape)) * self.life, law.LEAST_SPENT)
        come = np.maximum(through, least)
        return come, self.unseen - (come - through)  # exact where nothing was stood, in single precision too

    @cached_property
    def ending(self) -> "Ending":
        """Where the lives end, given that they have come so far, or to their last shots, where they have stood since."""
        come, _ = self._come
        share = come / self.life
        level = law.k_of(self.shape) * np.log(share)
        told = {i: _Told.of(left, share[:, i]) for i, left in self.left.items()}
        return Ending(self.shape, law.cumulative_hazard_worked_out_in(share, self.shape), level, told)

    def beyond(self, more: Array) -> Array:
        """Wear on top of that spent, counted from where the lives have come, over that, as `ending` takes it; shape (sample, tool)."""
        come, less = self._come
        return np.asarray((more + less) / come)

    def over_come(self, wear: Array) -> Array:
        """A wear over that through which the lives have come, shape (sample, tool)."""
        return np.asarray(wear / self._come[0])

    def ends_before(self, spent: Array) -> Array:
        """Probability that each draw's life ends before this wear, shape (sample, tool); given what `ending` is given."""
        return np.clip(self.ending.before(self.beyond(spent - self.spent)), 0.0, 1.0)

    def capacity(self, extra: Array) -> Array:
        """Capacity of each draw's life, by a standard exponential draw for the luck that is left of it, shape (sample, tool)."""
        reached = self.hazard(self.spent)
        reached += extra
        capacity = np.exp(law.ratio_at(reached, self.shape))
        for i, left in self.left.items():
            told = _Told.of(left, self.spent[:, i] / self.life[:, i])
            capacity[:, i] = told.then * (1.0 + told.more_at(-np.expm1(-extra[:, i])))
        capacity *= self.life
        return np.asarray(capacity)


@dataclass(frozen=True)
class _Told:
    """What readings say of lives that have come so far. Arrays of shape (sample,), or of lives side by side.

    Wear is counted from the day of the readings on, over that then.
    """

    of_q: Densities  # see `Remaining`
    then: Array  # wear on that day, over the characteristic life
    come: Array  # what they have come through since
    gone: Array  # share of lives that would have ended by then

    @staticmethod
    def of(left: Remaining, share: Array) -> "_Told":
        """Of a life whose wear come through is so large a share of its characteristic life, shape (sample,)."""
        then = np.exp(left.log_share)
        come = (share.astype(float) / then - 1.0).astype(left.of_q.below.dtype)
        return _Told(left.of_q, then, come, share_by(left.of_q, come))

    @staticmethod
    def side_by_side(lives: Sequence["_Told"]) -> "_Told":
        """Several lives as one."""
        then, come, gone = (np.concatenate([getattr(of, name) for of in lives]) for name in ("then", "come", "gone"))
        return _Told(Densities.side_by_side([of.of_q for of in lives]), then, come, gone)

    def thinned(self, draws: slice) -> "_Told":
        """With some of the draws."""
        if draws == slice(None):
            return self
        return _Told(self.of_q.thinned(draws), self.then[draws], self.come[draws], self.gone[draws])

    def before(self, more: Array) -> Array:
        """Probability that the life ends before so much more wear, over that through which it has come."""
        by_then = share_by(self.of_q, self.come + (1.0 + self.come) * more)
        return np.asarray(np.clip((by_then - self.gone) / np.maximum(1.0 - self.gone, NEXT_TO_NONE), 0.0, 1.0))

    def more_at(self, probability: Array) -> Array:
        """Wear before which it ends with this probability."""
        return np.asarray(np.exp(self.of_q.number_at(self.gone + (1.0 - self.gone) * probability)))

    def at(self, probability: Array) -> Array:
        """The same over that through which it has come."""
        return (self.more_at(probability) - self.come) / (1.0 + self.come)


@dataclass(frozen=True)
class Ending:
    """Where some lives end that have come so far. Arrays of shape (sample, tool).

    Further wear is told over that through which they have come, and hazards by their rise: so small chances are as exact as large ones.
    """

    shape: law.Shape  # (sample, 1)
    start: Array  # cumulative hazard that they have come through
    level: Array  # of the law, there
    told: Mapping[int, _Told]  # of those with readings, by column

    @cached_property
    def _told_by_columns(self) -> list[tuple[Array, _Told]]:
        """Columns of those with readings, shape (column,), and what they say: of few draws all side by side, else one after another."""
        if len(self.start) > TOGETHER:
            return [(np.array([i]), told) for i, told in self.told.items()]
        return [(np.array(list(self.told)), _Told.side_by_side(list(self.told.values())))] if self.told else []

    def before(self, more: Array) -> Array:
        """Probability that each draw's life ends before so much more wear, an array that is used up; shape (sample, tool)."""
        of_told = [(at, told.before(more.T[at].ravel())) for at, told in self._told_by_columns]
        ends = law.rise_beyond(self.start, self.level, np.log1p(more, out=more), self.shape)
        np.negative(ends, out=ends)
        np.expm1(ends, out=ends)
        np.negative(ends, out=ends)
        for at, before in of_told:
            ends.T[at] = before.reshape(len(at), -1)
        return np.asarray(ends)

    def at(self, probability: Array) -> Array:
        """Further wear before which each draw's life ends with a probability (tool,); shape (sample, tool)."""
        rise = in_precision_of(self.start, -np.log1p(-probability))
        more = np.expm1(law.log_longer_at(self.start, self.level, rise, self.shape))
        for at, told in self._told_by_columns:
            wanted = np.repeat(probability[at], len(more))
            more.T[at] = told.at(wanted).reshape(len(at), -1)
        return np.asarray(more)

    def take(self, tools: Array, draws: slice = slice(None)) -> "Ending":
        """Of some of the tools, by some of the draws."""
        told = {tool: of.thinned(draws) for tool, of in self.told.items()}
        start, level = (columns(a, tools, draws) for a in (self.start, self.level))
        return Ending(self.shape[draws], start, level, {i: told[tool] for i, tool in enumerate(tools.tolist()) if tool in told})


def columns(values: Array, tools: Array, draws: slice = slice(None)) -> Array:
    """Some draws of some tools, each tool's side by side in memory."""
    if values.strides == (0, 0):  # one value for all
        return np.broadcast_to(values[0, 0], (len(range(*draws.indices(len(values)))), len(tools)))
    return np.ascontiguousarray(values.T[tools][:, draws]).T


def question_day(calibration: Calibration, as_of: dt.date | None) -> dt.date:
    """The day asked for, the calibration's own by default.

    Raises
    ------
    Refusal
        Where the day lies before the calibration's, whose draws know what happened since; or out of sight.
    """
    own = dt.date.fromisoformat(calibration.identity.as_of)
    if as_of is not None and as_of < own:
        raise Refusal(
            f"The calibration in use is as of {own} and would know the future of {as_of}.",
            f"Ask for {own} or later, or recalibrate with --as-of {as_of}.",
        )
    if as_of is not None and as_of.year > own.year + FURTHEST_YEARS:
        raise Refusal(f"The day {as_of} lies more than {FURTHEST_YEARS} years after the calibration's.", "Ask for an earlier day.", 2)
    return as_of or own


def read_clocks(calibration: Calibration, rows: Array, use: UseAhead, day: dt.date, since: BySince = NONE_SINCE) -> Clocks:
    """Clocks of some live tools, moved on by expected use to a later day, as `roll` does.

    Nothing is known of what happened in between but readings, which `since` weighs by row of the live table: tools are taken to
    run on, so each draw is weighed by the probability that the tool came through (a wear-out in between would have been
    recorded). What a tool in store wears nobody sees, and it weighs no draw.
    """
    rolled = roll(calibration, rows, use, day)
    spent = calibration.of_live("wear_spent", rows)
    life = calibration.of_live("characteristic_life", rows)
    shape = calibration.shape[:, None]
    left = left_by_readings(calibration, rows, spent, life)
    told = {i: since[int(row)] for i, row in enumerate(rows) if int(row) in since}
    left |= {i: of_tool.left for i, of_tool in told.items() if of_tool.left is not None}
    weights = _came_through(rolled, life, shape, left) if rolled.moved else np.broadcast_to(spent.dtype.type(1.0), spent.shape)
    for i, of_tool in told.items():
        if of_tool.weights is not None:
            weights = weights if weights.flags.writeable else np.array(weights, order="F")
            both = weights[:, i] * of_tool.weights
            weights[:, i] = both / both.max() if both.max() > 0.0 else of_tool.weights
    unseen = rolled.unseen.copy(order="K")
    for i in left:  # what readings say is left counts from the calibration's day on
        unseen[:, i] = np.minimum(unseen[:, i], rolled.stored[:, i])
    return Clocks(rolled.spent, life, shape, weights, rolled.shots, left, rolled.stored, unseen)


def _hazard(spent: Array, life: Array, shape: law.Shape) -> Array:
    """Cumulative hazard at a wear spent, all (sample, tool); of lives and not their logarithms, which single precision keeps less well."""
    return np.asarray(law.cumulative_hazard_worked_out_in(np.maximum(spent, law.LEAST_SPENT) / life, shape))


def _came_through(rolled: Rolled, life: Array, shape: law.Shape, left: Mapping[int, Remaining]) -> Array:
    """Weights of draws by the probability that the tool came through what moved its clock, shape (sample, tool)."""
    from_hazard, to_hazard = (_hazard(at, life, shape) for at in (rolled.before, rolled.spent))
    rise = np.nan_to_num(to_hazard - from_hazard)
    # A constant factor per tool changes no weighted mean and keeps the weights from vanishing.
    weights = np.exp(rise.min(axis=0) - rise)
    for i, of_life in left.items():
        came = 1.0 - of_life.share_within(to_hazard[:, i] - of_life.hazard)
        came /= np.maximum(1.0 - of_life.share_within(from_hazard[:, i] - of_life.hazard), LEAST)
        weights[:, i] = came / came.max() if came.max() > 0.0 else 1.0
    return weights


def left_by_readings(calibration: Calibration, rows: Array, spent: Array, life: Array) -> dict[int, Remaining]:
    """What readings say of what is left of some live tools, by their place in `rows`; in double precision.

    `spent` and `life` (sample, tool) are those at the calibration's day.
    """
    reads, shape = calibration.reads, calibration.shape
    shape = law.Shape(shape.k.astype(float), shape.law)
    left = {}
    for i in np.flatnonzero(np.isin(rows, reads.live)).tolist():
        of_tool = spent[:, i].astype(float), life[:, i].astype(float)
        hazard, level = (np.asarray(of(of_tool[0], np.log(of_tool[1]), shape)) for of in (law.cumulative_hazard, law.level))
        for read in np.flatnonzero(reads.live == rows[i]):
            told = unpacked(calibration.draws.read_told[:, read])
            left[i] = Remaining(hazard, shape, float(reads.q_low[read]), float(reads.q_high[read]), told, level)
    return left
