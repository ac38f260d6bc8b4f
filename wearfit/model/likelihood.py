"""The likelihood of a history, given its wear clock: written once for NumPy and PyTensor.

With NumPy, parameters may carry a leading axis of draws; with PyTensor they have none. `d` is anything that holds the
arrays of `ModelData` under their names. Shapes below leave the axis of draws out.
"""

from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

from wearfit import law
from wearfit.model.clock import Clock
from wearfit.model.data import CandidateColumns, EndedColumns, RowColumns, whole
from wearfit.model.layout import COEFFICIENTS, GROUPS, Layout
from wearfit.model.parameters import Parameters
from wearfit.model.readings import Told, nothing_told
from wearfit.model.stops import LEAST, usual_stops

Array = Any

LEAST_RISE = 1e-300  # of a cumulative hazard over an interval without wear: all but impossible, and finite
MOST_TOLD = 500.0  # [nat] by the readings of one life: far beyond belief, and its exponential is still a number


def row_log_likelihood(
    clock: Clock,
    log_eta: Array,
    shape: Array,
    wear_share: Array,
    interval: Array,
    wore_out: Array,
    perhaps: Array,
    xp: ModuleType = np,
    log_reference: Array | float = 0.0,
) -> Array:
    """Log-likelihood of each row given its clock, shape (row,).

    Parameters
    ----------
    log_eta, shape, wear_share : (row,) or broadcastable
    interval, wore_out, perhaps : (row,)
        1 where the wear-out lies between `good` and `end`; where the row ended by wear; where it was renewed for a
        cause not stated.
    log_reference : (row,) or broadcastable
        Of renewals of unstated cause on a known day: see `log_reference_hazard`.

    Notes
    -----
    Right censored -H(D) + H0, D where it was last known to be good; exact wear-out adds log h(D) + log a; an interval
    between D1 and D2 replaces exp(-H(D2)) by exp(-H(D1)) - exp(-H(D2)); a renewal of unstated cause mixes wear-out and
    censoring.
    Delayed entry enters as H0. Source: Klein & Moeschberger 2003, Survival Analysis, ch. 3 (from memory).
    """
    at_entry, at_good, at_end = (law.cumulative_hazard(d, log_eta, shape, xp) for d in (clock.entry, clock.good, clock.end))
    log_hazard = law.log_hazard(clock.end, log_eta, shape, xp)
    exact = log_hazard + clock.log_last - xp.where(perhaps > 0, log_reference, 0.0)
    gain = wear_out_gain(exact, at_end - at_good, wear_share, interval, perhaps, xp)
    return at_entry - at_good + xp.where(wore_out + perhaps > 0, gain, 0.0)


def log_reference_hazard(d: Any) -> Array:
    """Log hazard, a machine shot, of a tool like its band at its characteristic life, shape (candidate,).

    For a renewal of unstated cause on a day that is known. The hazard of wear-out, a density by shot, cannot be set against a
    probability: renewals for other causes have a rate too. It is taken to be even over a life, and (1 - pi) / pi times this one, so
    that where the hazard of wear-out is as high as this, the share pi of the renewals are by wear. It hangs on no parameter but pi: a
    rate that followed the tools' own life would take from each such renewal what its day tells of that life.
    """
    log_shape = COEFFICIENTS.index("log_shape")
    return d.coefficient_loc[log_shape] - d.candidate[:, CandidateColumns.band]


def wear_out_gain(exact: Array, rise: Array, wear_share: Array, interval: Array, perhaps: Array, xp: ModuleType = np) -> Array:
    """What a wear-out adds to survival up to the last day that the tool is known to have been good.

    Exact: log h(D) + log a. Between D1 and D2: log(1 - exp(-rise)), rise = H2 - H1. A renewal for a cause not stated is a
    wear-out with probability `wear_share`, censored (at D2: exp(-rise)) otherwise; `exact` is then over `log_reference_hazard`.
    """
    rise = xp.where(interval > 0, xp.maximum(rise, LEAST_RISE), 1.0)
    worn, through = xp.where(interval > 0, law.log1mexp(rise, xp), exact), xp.where(interval > 0, -rise, 0.0)
    mixed = xp.logaddexp(xp.log(wear_share) + worn, xp.log1p(-wear_share) + through)
    return xp.where(perhaps > 0, mixed, worn)


@dataclass(frozen=True)
class Terms:
    """What the likelihood of a history is made of: parts of every row, and of the rows that may have ended by wear."""

    survived: Array  # (row,) log-probability to have come from the entry to the last day known to be good
    exact: Array  # (ended,) log hazard at the end, a machine shot; where the cause is not stated, over `log_reference_hazard`
    rise: Array  # (ended,) of the cumulative hazard from that day to the end


@dataclass(frozen=True)
class Levels:
    """The same parts as points of the law: levels (`law.level`) at which a tool's effect reaches all alike, whatever the law."""

    entry: Array  # (row,)
    last: Array  # (row,) at the last day known to be good
    exact: Array  # (ended,) as in `Terms`, but for log of dH by the level, at `at`
    at: Array  # (ended,)
    end: Array  # (ended,) at the end of what may be an interval


@dataclass(frozen=True)
class _Points:
    """Wear at which a history asks the law, and what else counts there. Arrays of shape (row,) or (ended,)."""

    of_row: Array  # (row,) log characteristic life
    last: Array  # (row,) wear at the last day known to be good [reference shots]
    ended: Array  # (ended,) rows
    of_ended: Array  # (ended,) log characteristic life
    end: Array  # (ended,) wear at the row's end
    at: Array  # (ended,) wear at which it wore out
    cause: Array  # (ended,)
    by_coordinate: Array  # (ended,) log wear per unit of what the ending is a density over; in doubt of the cause over the reference
    readings: Array  # (ended,) log-likelihood


def _points(p: Parameters, clock: Clock, log_eta: Array, d: Any, xp: ModuleType, told: Told) -> _Points:
    candidate, ended = whole(d.row[:, RowColumns.candidate]), whole(d.ended[:, EndedColumns.row])
    of_row = log_eta[..., candidate]
    path = d.row[:, RowColumns.path]
    last = xp.where(path > 0, told.capacity[..., whole(path)], clock.good)
    by_capacity = d.ended[:, EndedColumns.capacity] > 0
    gain, loss = whole(d.ended[:, EndedColumns.gain]), whole(d.ended[:, EndedColumns.loss])
    end = clock.end[..., ended]
    at = xp.where(by_capacity, told.capacity[..., gain], end)
    share = p.share_of("wear_share")
    in_doubt = (d.ended[:, EndedColumns.perhaps] > 0) & (d.ended[:, EndedColumns.interval] <= 0)
    reference = xp.where(in_doubt, log_reference_hazard(d)[candidate[ended]], 0.0)
    return _Points(
        of_row=of_row,
        last=last,
        ended=ended,
        of_ended=of_row[..., ended],
        end=end,
        at=at,
        cause=d.ended[:, EndedColumns.split] * xp.where(at < end, xp.log(share), xp.log1p(-share)),
        by_coordinate=xp.where(by_capacity, told.log_stretch[..., gain], clock.log_last[..., ended]) - reference,
        readings=xp.clip(told.log_likelihood[..., gain] - told.log_likelihood[..., loss], -MOST_TOLD, MOST_TOLD),
    )


def history_terms(
    p: Parameters,
    clock: Clock,
    log_eta: Array,
    d: Any,
    xp: ModuleType = np,
    told: Told | None = None,
    wear_law: int = law.WEIBULL,
) -> Terms:
    """The parts of `row_log_likelihood`, each taken only where it counts.

    Parameters
    ----------
    clock : Clock
        From `clock.run_clock`.
    log_eta : (candidate,)
        From `clock.log_life`, with or without the effects of tools.
    told : Told, optional
        From `readings.told_by_readings`; left out where a history has no readings.
    wear_law : int
        Place in `law.LAWS`; any but Weibull's with NumPy only.

    Notes
    -----
    A row whose capacity is a coordinate is one that wore out at that: it survived to there, and its hazard there, taken by
    the coordinate, is that of an ending of its own.
    """
    shape = xp.exp(p.coefficient("log_shape"))
    shape = shape if wear_law == law.WEIBULL else law.Shape(shape, wear_law)
    at = _points(p, clock, log_eta, d, xp, told or nothing_told(xp))
    at_last = law.cumulative_hazard(at.last, at.of_row, shape, xp)
    log_hazard = law.log_hazard(at.at, at.of_ended, shape, xp)
    return Terms(
        survived=law.cumulative_hazard(clock.entry, at.of_row, shape, xp) - at_last,
        exact=log_hazard + at.by_coordinate + at.readings + at.cause,
        rise=xp.maximum(law.cumulative_hazard(at.end, at.of_ended, shape, xp) - at_last[..., at.ended], LEAST_RISE),
    )


def history_levels(p: Parameters, clock: Clock, log_eta: Array, d: Any, xp: ModuleType = np, told: Told | None = None) -> Levels:
    """The parts of a history as levels, without the effects of tools, for a law that is told later.

    Notes
    -----
    h = dH/dD is k / D times dH by the level: the last is the law's, the rest stands in `exact`.
    """
    shape = xp.exp(p.coefficient("log_shape"))
    at = _points(p, clock, log_eta, d, xp, told or nothing_told(xp))
    log_spent = xp.log(xp.maximum(at.at, law.LEAST_SPENT))
    return Levels(
        entry=law.level(clock.entry, at.of_row, shape, xp),
        last=law.level(at.last, at.of_row, shape, xp),
        exact=xp.log(shape) + at.by_coordinate - log_spent + at.readings + at.cause,
        at=law.level(at.at, at.of_ended, shape, xp),
        end=law.level(at.end, at.of_ended, shape, xp),
    )


def tool_spread(p: Parameters, w: Array, d: Any, xp: ModuleType = np) -> Array:
    """Standard deviation of tool effects on log hazards, with the sign of its coordinate, shape (1,)."""
    tool = slice(GROUPS.index("tool"), GROUPS.index("tool") + 1)
    return xp.exp(p.coefficient("log_shape")) * w[..., tool] * (d.group_prior[0] * d.group_prior[1])[tool]


def gains(terms: Terms, p: Parameters, d: Any) -> Array:
    """What each wear-out adds to survival, shape (ended,). NumPy only."""
    interval, perhaps = d.ended[:, EndedColumns.interval], d.ended[:, EndedColumns.perhaps]
    return np.asarray(wear_out_gain(terms.exact, terms.rise, p.share_of("wear_share"), interval, perhaps))


def candidate_log_likelihood(terms: Terms, p: Parameters, d: Any) -> Array:
    """Log-likelihood of each candidate given its terms, and so its tool's effect, shape (candidate,). NumPy only.

    Each candidate's own rows are summed: a tool tried in a class far too short-lived has terms of 1e15, in which
    differences of one running sum over all rows would drown.
    """
    of_row = whole(d.row[:, RowColumns.candidate])
    of_ended: Any = (..., of_row[whole(d.ended[:, EndedColumns.row])])
    of_survived: Any = (..., of_row)
    total = np.zeros((*terms.survived.shape[:-1], len(d.candidate)))
    np.add.at(total, of_survived, terms.survived)
    np.add.at(total, of_ended, gains(terms, p, d))
    return total


def sudden_log_likelihood(p: Parameters, d: Any, layout: Layout, xp: ModuleType = np) -> Array:
    """Poisson log-likelihood of the sudden stops up to a constant, by class and plant, shape (class, plant slot)."""
    span = layout.block("sudden_plant")
    plant = p.all[..., len(COEFFICIENTS) + span.start : len(COEFFICIENTS) + span.stop]
    by_shots, by_handling = usual_stops(p.all, d, xp)
    expected = xp.exp(plant)[..., None, :] * (by_shots + by_handling)
    return d.sudden[0] * xp.log(xp.maximum(expected, LEAST)) - expected


def cause_log_likelihood(p: Parameters, d: Any, xp: ModuleType = np) -> Array:
    """Log-likelihood of the renewals for other causes, which come at the rate of `log_reference_hazard`, up to a constant.

    n of them that are stated over shots in which E are to be expected where pi = 1/2 are Poisson with mean r E, r = (1 - pi) / pi:
    log r^n e^(-r E). Those of unstated cause stand in the rows as (pi h / h_ref + 1 - pi) and are so the fraction 1 / pi short of
    h / h_ref + r. Source: competing risks with causes missing at random, Miyakawa 1984, IEEE Trans. Reliab. 33 (from memory).
    """
    known = p.share_of("wear_share")[..., 0]
    return d.causes[0] * xp.log(known) + d.causes[1] * xp.log1p(-known) - d.causes[2] * (1.0 - known) / known
