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
from wearfit.forecasts.news import NONE_SINCE, BySince
from wearfit.forecasts.rolling import Rolled, roll
from wearfit.forecasts.use_ahead import UseAhead
from wearfit.remaining import LEAST, Remaining, share_by, unpacked

Array = np.ndarray

FURTHEST_YEARS: Final = 100  # how far ahead questions are answered
TOGETHER: Final = 500  # draws of a life, up to which it costs less to lay lives side by side than to ask them one after another


@dataclass(frozen=True)
class Clocks:
    """Where some live tools stand. Arrays of shape (sample, tool)."""

    spent: Array  # [reference shots]; NaN where the age is unknown
    log_life: Array
    shape: law.Shape  # (sample, 1)
    weights: Array  # of the draws: survival since the calibration, where the clock was moved on
    shots_since: Array  # shots made since the calibration's day, as expected
    left: Mapping[int, Remaining]  # what readings say of what is left of some of the tools from the calibration's day on, by column
    stored_since: Array  # wear in store since that day, part of `spent`
    unseen: Array  # what a tool has stood since its last shot, part of `spent`: nobody has looked whether it is good

    def hazard(self, spent: Array) -> Array:
        """Cumulative hazard at a wear spent."""
        return np.asarray(law.cumulative_hazard(spent, self.log_life, self.shape))

    @cached_property
    def ending(self) -> "Ending":
        """Where the lives end, given that they have come so far, or to their last shots, where they have stood since."""
        come, told = self.of_life(self.spent - self.unseen), {}
        for i, left in self.left.items():
            then = np.exp(left.log_share)
            told[i] = _Told(left.of_q, then, share_by(left.of_q, come[:, i] / then - 1.0))
        return Ending(self.shape, law.cumulative_hazard_worked_out_in(come, self.shape), told)

    def of_life(self, spent: Array) -> Array:
        """A wear spent over the characteristic life, above zero, shape (sample, tool)."""
        share = np.exp(-self.log_life)
        share *= np.maximum(spent, law.LEAST_SPENT)
        return np.asarray(share)

    def ends_before(self, spent: Array) -> Array:
        """Probability that each draw's life ends before this wear, shape (sample, tool); given what `ending` is given."""
        return np.clip(self.ending.before(self.of_life(spent)), 0.0, 1.0)

    def capacity(self, extra: Array) -> Array:
        """Capacity of each draw's life, by a standard exponential draw for the luck that is left of it, shape (sample, tool)."""
        start, rise = self.hazard(self.spent), extra
        if self.left:
            rise = extra.copy(order="K")
            for i, left in self.left.items():
                since = start[:, i] - left.hazard
                gone = left.share_within(since)
                rise[:, i] = np.maximum(left.rise_at(1.0 - (1.0 - gone) * np.exp(-extra[:, i])) - since, LEAST)
        return np.asarray(law.wear_at(start + rise, self.log_life, self.shape))


@dataclass(frozen=True)
class _Told:
    """What readings say of lives that have come so far. Arrays of shape (sample,), or of lives side by side (life * sample,)."""

    of_q: Densities  # see `Remaining`
    then: Array  # wear on the day that they count from, over the characteristic life
    gone: Array  # share of lives that would have ended by what it has come through since

    @staticmethod
    def side_by_side(lives: Sequence["_Told"]) -> "_Told":
        """Several lives as one."""
        then, gone = (np.concatenate([getattr(of, name) for of in lives]) for name in ("then", "gone"))
        return _Told(Densities.side_by_side([of.of_q for of in lives]), then, gone)

    def thinned(self, draws: slice) -> "_Told":
        """With some of the draws."""
        return self if draws == slice(None) else _Told(self.of_q.thinned(draws), self.then[draws], self.gone[draws])

    def before(self, spent: Array) -> Array:
        """Probability that the life ends before this wear, over the characteristic life."""
        ends = (share_by(self.of_q, spent / self.then - 1.0) - self.gone) / np.maximum(1.0 - self.gone, LEAST)
        return np.asarray(np.clip(ends, 0.0, 1.0))

    def at(self, probability: Array) -> Array:
        """Wear over the characteristic life before which it ends with this probability."""
        return self.then * (1.0 + np.exp(self.of_q.number_at(self.gone + (1.0 - self.gone) * probability)))


@dataclass(frozen=True)
class Ending:
    """Where some lives end that have come so far. Arrays of shape (sample, tool)."""

    shape: law.Shape  # (sample, 1)
    start: Array  # cumulative hazard that they have come through
    told: Mapping[int, _Told]  # of those with readings, by column

    @cached_property
    def _told_by_columns(self) -> list[tuple[Array, _Told]]:
        """Columns of those with readings, shape (column,), and what they say: of few draws all side by side, else one after another."""
        if len(self.start) > TOGETHER:
            return [(np.array([i]), told) for i, told in self.told.items()]
        return [(np.array(list(self.told)), _Told.side_by_side(list(self.told.values())))] if self.told else []

    def before(self, spent: Array) -> Array:
        """Probability, but for its rounding, that each draw's life ends before this wear over the characteristic life, which is used up.

        Shape (sample, tool).
        """
        of_told = [(at, told.before(spent.T[at].ravel())) for at, told in self._told_by_columns]
        ends = law.cumulative_hazard_worked_out_in(spent, self.shape)
        np.subtract(self.start, ends, out=ends)
        np.exp(ends, out=ends)  # and not `expm1`, which takes eight times as long: what is lost is rounding of the hazards
        np.subtract(1.0, ends, out=ends)
        for at, before in of_told:
            ends.T[at] = before.reshape(len(at), -1)
        return ends

    def at(self, probability: Array) -> Array:
        """Wear over the characteristic life before which each draw's life ends with a probability (tool,); shape (sample, tool)."""
        spent = np.exp(law.ratio_at(np.maximum(self.start, law.LEAST_SPENT) - np.log1p(-probability), self.shape))
        for at, told in self._told_by_columns:
            wanted = np.repeat(probability[at], len(spent))
            spent.T[at] = told.at(wanted).reshape(len(at), -1)
        return np.asarray(spent)

    def take(self, tools: Array, draws: slice = slice(None)) -> "Ending":
        """Of some of the tools, by some of the draws."""
        told = {tool: of.thinned(draws) for tool, of in self.told.items()}
        return Ending(
            self.shape[draws], columns(self.start, tools, draws), {i: told[tool] for i, tool in enumerate(tools.tolist()) if tool in told}
        )


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
    log_life = np.log(calibration.of_live("characteristic_life", rows))
    shape = calibration.shape[:, None]
    left = left_by_readings(calibration, rows, spent, log_life)
    told = {i: since[int(row)] for i, row in enumerate(rows) if int(row) in since}
    left |= {i: of_tool.left for i, of_tool in told.items() if of_tool.left is not None}
    weights = _came_through(rolled, log_life, shape, left) if rolled.moved else np.broadcast_to(1.0, spent.shape)
    for i, of_tool in told.items():
        if of_tool.weights is not None:
            weights = weights if weights.flags.writeable else np.array(weights, order="F")
            both = weights[:, i] * of_tool.weights
            weights[:, i] = both / both.max() if both.max() > 0.0 else of_tool.weights
    unseen = rolled.unseen.copy(order="K")
    for i in left:  # what readings say is left counts from the calibration's day on
        unseen[:, i] = np.minimum(unseen[:, i], rolled.stored[:, i])
    return Clocks(rolled.spent, log_life, shape, weights, rolled.shots, left, rolled.stored, unseen)


def _came_through(rolled: Rolled, log_life: Array, shape: law.Shape, left: Mapping[int, Remaining]) -> Array:
    """Weights of draws by the probability that the tool came through what moved its clock, shape (sample, tool)."""
    from_hazard, to_hazard = (law.cumulative_hazard(at, log_life, shape) for at in (rolled.before, rolled.spent))
    rise = np.nan_to_num(to_hazard - from_hazard)
    # A constant factor per tool changes no weighted mean and keeps the weights from vanishing.
    weights = np.exp(rise.min(axis=0) - rise)
    for i, of_life in left.items():
        came = 1.0 - of_life.share_within(to_hazard[:, i] - of_life.hazard)
        came /= np.maximum(1.0 - of_life.share_within(from_hazard[:, i] - of_life.hazard), LEAST)
        weights[:, i] = came / came.max() if came.max() > 0.0 else 1.0
    return weights


def left_by_readings(calibration: Calibration, rows: Array, spent: Array, log_life: Array) -> dict[int, Remaining]:
    """What readings say of what is left of some live tools, by their place in `rows`.

    `spent` and `log_life` (sample, tool) are those at the calibration's day.
    """
    reads, shape = calibration.reads, calibration.shape
    left = {}
    for i in np.flatnonzero(np.isin(rows, reads.live)).tolist():
        hazard, level = (np.asarray(of(spent[:, i], log_life[:, i], shape)) for of in (law.cumulative_hazard, law.level))
        for read in np.flatnonzero(reads.live == rows[i]):
            told = unpacked(calibration.draws.read_told[:, read])
            left[i] = Remaining(hazard, shape, float(reads.q_low[read]), float(reads.q_high[read]), told, level)
    return left
