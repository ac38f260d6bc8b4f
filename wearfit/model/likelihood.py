"""The wear clock and the likelihood of a history, written once for NumPy and PyTensor.

With NumPy, parameters may carry a leading axis of draws; with PyTensor they have none. `d` is anything that holds the
arrays of `ModelData` under their names. Shapes below leave the axis of draws out.
"""

from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

from wearfit import law
from wearfit.exposures.covariates import MONTH_COVARIATES, PLANT_COVARIATES
from wearfit.model.cell_sums import SumCells
from wearfit.model.data import (
    CandidateColumns,
    CellColumns,
    DoubtfulColumns,
    EndedColumns,
    JobColumns,
    PlaceColumns,
    PlantColumns,
    RowColumns,
)
from wearfit.model.layout import CLASS_OFFSET, COEFFICIENTS, SHARES, Layout

Array = Any

PLANT_SLOPES = np.array([COEFFICIENTS.index(f"slope.{c.name}") for c in PLANT_COVARIATES])
MONTH_SLOPES = np.array([COEFFICIENTS.index(f"slope.{c.name}") for c in MONTH_COVARIATES])


@dataclass(frozen=True)
class Parameters:
    """Parameters as the wear clock uses them.

    `all` (parameter,): coefficients in order of COEFFICIENTS, then group effects in order of `Layout.blocks`.
    `share` (share,): in order of SHARES.
    """

    all: Array
    share: Array

    def coefficient(self, name: str) -> Array:
        """One coefficient, with an axis kept for rows."""
        i = COEFFICIENTS.index(name)
        return self.all[..., i : i + 1]

    def share_of(self, name: str) -> Array:
        """One share, with an axis kept for rows."""
        i = SHARES.index(name)
        return self.share[..., i : i + 1]


@dataclass(frozen=True)
class Clock:
    """Wear spent at the points of each row that the likelihood needs, in reference shots. Arrays of shape (row,)."""

    entry: Array
    good: Array
    end: Array
    log_last: Array  # log wear per shot of the last shot


def build_parameters(z: Array, raw_share: Array, w: Array, slot: Array, d: Any, layout: Layout, xp: ModuleType = np) -> Parameters:
    """Parameters from the sampler's coordinates.

    Parameters
    ----------
    z : (coefficient,) standard normal
    raw_share : (share,) Beta
    w : (group,) standard normal; a group's scale is |w| times its half-normal prior's
    slot : (slot,) N(0, scale^c), c the exponent of partial centring

    Notes
    -----
    Effects are sign(w) scale^(1-c) slot: flipping a sign changes nothing, and the sampler walks through a scale of zero
    instead of down the long tail that the logarithm of a scale has there.
    """
    on = d.share_prior[2]
    mean = d.share_prior[0] / (d.share_prior[0] + d.share_prior[1])
    scale = group_scales(w, d, xp)
    spread = xp.sign(w) * d.group_prior[1] * scale ** (1.0 - d.group_prior[2])
    ones = xp.ones_like(spread[..., :1])
    effect = xp.concatenate([spread, ones], axis=-1)[..., layout.group_of_slot()] * slot
    contrasted = effect[..., : layout.contrasted] @ d.contrast.T
    coefficients = d.coefficient_loc + z @ d.coefficient_root.T
    return Parameters(
        all=xp.concatenate([coefficients, contrasted, effect[..., layout.contrasted :]], axis=-1),
        share=on * raw_share + (1.0 - on) * mean,
    )


def group_scales(w: Array, d: Any, xp: ModuleType = np) -> Array:
    """Scales of the groups, shape (group,); a group that is switched off keeps its prior's."""
    return xp.abs(w) * d.group_prior[0]


def slot_scales(w: Array, d: Any, layout: Layout, xp: ModuleType = np) -> Array:
    """Prior standard deviations of the slots, shape (slot,): one in null directions and where nothing is centred."""
    powers = xp.concatenate([group_scales(w, d, xp) ** d.group_prior[2], xp.ones_like(w[..., :1])], axis=-1)
    return d.slot_live * powers[..., layout.group_of_slot()] + (1.0 - d.slot_live)


def _whole(columns: Array) -> Array:
    return columns.astype("int64")


def log_place(p: Parameters, d: Any) -> Array:
    """Log wear per shot that a plant brings in one month, shape (place,)."""
    c = PlantColumns
    value = d.plant[:, c.level] + d.plant[:, c.spread] * p.all[..., _whole(d.plant[:, c.error])]
    level = p.all[..., _whole(d.plant[:, c.effect])] + (value * p.all[..., PLANT_SLOPES][..., None, :]).sum(axis=-1)
    months = (p.all[..., MONTH_SLOPES][..., None, :] * d.place[:, PlaceColumns.departure]).sum(axis=-1)
    return level[..., _whole(d.place[:, PlaceColumns.plant])] + months


def log_job(p: Parameters, d: Any) -> Array:
    """Log wear per shot that a job brings, shape (job,)."""
    c = JobColumns
    return d.job[:, c.constant] + (p.all[..., _whole(d.job[:, c.index])] * d.job[:, c.weight]).sum(axis=-1)


def log_life(p: Parameters, d: Any) -> Array:
    """Log characteristic life, shape (candidate,)."""
    c = CandidateColumns
    return d.candidate[:, c.band] + (p.all[..., _whole(d.candidate[:, c.index])] * d.candidate[:, c.weight]).sum(axis=-1)


def run_clock(p: Parameters, d: Any, xp: ModuleType = np) -> Clock:
    """Wear spent by each row, refurbishments and partial renewals counted (Kijima 1989, type II).

    A row's virtual age is what earlier rows of its chain wore, less what each renewal since took away:
    V = K sum(wear_i / K_i), K the product of the shares kept. That is a cumulative sum, not a loop over lives.
    """
    place, job = log_place(p, d), log_job(p, d)
    setup = xp.exp(p.coefficient("log_setup"))
    # exp is taken once for each plant-month and each job, never for each run.
    worn = _sum_cells(xp.exp(place), xp.exp(job), setup, d, xp)
    row = d.row
    kept = row[:, RowColumns.kept] * _kept_by_refurbishments(p, _whole(row[:, RowColumns.repeats]), xp)
    before = _run_up(worn[2] / kept, xp)
    age = kept * (before[..., :-1] - before[..., _whole(row[:, RowColumns.chain])])
    return Clock(
        entry=age + worn[0],
        good=age + worn[1],
        end=age + worn[2],
        log_last=place[..., _whole(row[:, RowColumns.last_place])] + job[..., _whole(row[:, RowColumns.last_job])],
    )


def _sum_cells(place: Array, job: Array, setup: Array, d: Any, xp: ModuleType) -> Array:
    """Wear of each row from its start to its entry, its last good day and its end; three arrays of shape (row,)."""
    if xp is not np:
        return SumCells()(place, job, setup, d.cell, d.row)
    amount = d.cell[:, CellColumns.shots] + setup * d.cell[:, CellColumns.setups]
    wear = place[..., _whole(d.cell[:, CellColumns.place])] * job[..., _whole(d.cell[:, CellColumns.job])] * amount
    run_up = _run_up(wear, xp)[..., _whole(d.row[:, RowColumns.boundaries])]
    return np.moveaxis(run_up[..., 1:] - run_up[..., :1], -1, 0)


def _run_up(values: Array, xp: ModuleType) -> Array:
    """Cumulative sum with a leading zero along the last axis."""
    return xp.concatenate([xp.zeros_like(values[..., :1]), xp.cumsum(values, axis=-1)], axis=-1)


def _kept_by_refurbishments(p: Parameters, repeats: Array, xp: ModuleType) -> Array:
    """Product of (1 - rho phi^(j-1)) over the first `repeats` refurbishments, shape (row,)."""
    longest = 12  # later refurbishments regain next to nothing: rho phi^11 < .01 at the prior means
    log_kept = xp.log1p(-p.share_of("refurbish") * p.share_of("repeat") ** np.arange(longest))
    return xp.exp(_run_up(log_kept, xp))[..., xp.minimum(repeats, longest)]


def survived(clock: Clock, log_eta: Array, shape: Array, xp: ModuleType = np) -> Array:
    """Log-probability that a row's tool came through to the row's end, given that it had come to its entry: H0 - H(D)."""
    at_entry = law.cumulative_hazard(clock.entry, log_eta, shape, xp)
    return at_entry - law.cumulative_hazard(clock.end, log_eta, shape, xp)


def wear_out_gain(
    clock: Clock, log_eta: Array, shape: Array, wear_share: Array, interval: Array, perhaps: Array, xp: ModuleType = np
) -> Array:
    """What a wear-out adds to `survived`.

    Exact: log h(D) + log a. Between D1 and D2: log(exp(-H1) - exp(-H2)) + H2. A renewal for a cause not stated is a
    wear-out with probability `wear_share`, censored otherwise.
    """
    at_good = law.cumulative_hazard(clock.good, log_eta, shape, xp)
    at_end = law.cumulative_hazard(clock.end, log_eta, shape, xp)
    exact = law.log_hazard(clock.end, log_eta, shape, xp) + clock.log_last
    return _unless_doubtful(exact, at_good, at_end, wear_share, interval, perhaps, xp)


def _unless_doubtful(
    exact: Array, at_good: Array, at_end: Array, wear_share: Array, interval: Array, perhaps: Array, xp: ModuleType
) -> Array:
    """`exact`, or what stands in its place where the day or the cause is not known."""
    rise = xp.where(interval > 0, xp.maximum(at_end - at_good, 1e-300), 1.0)
    gain = xp.where(interval > 0, rise + law.log1mexp(rise, xp), exact)
    mixed = xp.logaddexp(xp.log(wear_share) + gain, xp.log1p(-wear_share))
    return xp.where(perhaps > 0, mixed, gain)


def row_log_likelihood(
    clock: Clock, log_eta: Array, shape: Array, wear_share: Array, interval: Array, wore_out: Array, perhaps: Array, xp: ModuleType = np
) -> Array:
    """Log-likelihood of each row given its clock, shape (row,).

    Parameters
    ----------
    log_eta, shape, wear_share : (row,) or broadcastable
    interval, wore_out, perhaps : (row,)
        1 where the wear-out lies between `good` and `end`; where the row ended by wear; where it was renewed for a
        cause not stated.

    Notes
    -----
    Right censored -H(D) + H0; exact wear-out adds log h(D) + log a; an interval between D1 and D2 replaces
    exp(-H(D2)) by exp(-H(D1)) - exp(-H(D2)); a renewal of unstated cause mixes wear-out and censoring.
    Delayed entry enters as H0. Source: Klein & Moeschberger 2003, Survival Analysis, ch. 3 (from memory).
    """
    gain = wear_out_gain(clock, log_eta, shape, wear_share, interval, perhaps, xp)
    return survived(clock, log_eta, shape, xp) + xp.where(wore_out + perhaps > 0, gain, 0.0)


@dataclass(frozen=True)
class Terms:
    """The two parts of the log-likelihood: of every row, and of the rows that may have ended by wear."""

    survived: Array  # (row,)
    gain: Array  # (ended,)


def history_terms(p: Parameters, clock: Clock, log_eta: Array, d: Any, xp: ModuleType = np) -> Terms:
    """Log-likelihood of a history; `row_log_likelihood` with its costlier part taken only where it counts.

    Parameters
    ----------
    clock : Clock
        From `run_clock`.
    log_eta : (candidate,)
        From `log_life`.
    """
    shape = xp.exp(p.coefficient("log_shape"))
    of_row = log_eta[..., _whole(d.row[:, RowColumns.candidate])]
    at_end = law.cumulative_hazard(clock.end, of_row, shape, xp)
    exact = law.log_hazard(clock.end, of_row, shape, xp) + clock.log_last
    rows, place = _whole(d.doubtful[:, DoubtfulColumns.row]), _whole(d.doubtful[:, DoubtfulColumns.ended])
    gain = _unless_doubtful(
        exact[..., rows],
        law.cumulative_hazard(clock.good[..., rows], of_row[..., rows], shape, xp),
        at_end[..., rows],
        p.share_of("wear_share"),
        d.doubtful[:, DoubtfulColumns.interval],
        d.doubtful[:, DoubtfulColumns.perhaps],
        xp,
    )
    return Terms(
        survived=law.cumulative_hazard(clock.entry, of_row, shape, xp) - at_end,
        gain=_with(exact[..., _whole(d.ended[:, EndedColumns.row])], place, gain, xp),
    )


def _with(values: Array, place: Array, new: Array, xp: ModuleType) -> Array:
    """Values with some of them exchanged."""
    if xp is np:
        values[..., place] = new
        return values
    return xp.set_subtensor(values[place], new)


def known_log_likelihood(terms: Terms, d: Any) -> Array:
    """Summed log-likelihood of the tools whose class is known."""
    return (terms.survived * d.row[:, RowColumns.known]).sum(axis=-1) + (terms.gain * d.ended[:, EndedColumns.known]).sum(axis=-1)


def mixture_joint(terms: Terms, d: Any, xp: ModuleType = np) -> Array:
    """Log of class share times likelihood, for tools of unknown class under each class, shape (mixture, class).

    Each candidate's own rows are summed: a tool tried in a class far too short-lived has terms of 1e15, in which
    differences of one running sum over all rows would drown.
    """
    row, ended = RowColumns, EndedColumns
    joint = _sum_into(d.mixture_weight, d.row[:, row.mixture], d.row[:, row.alternative], terms.survived * (1.0 - d.row[:, row.known]), xp)
    return _sum_into(joint, d.ended[:, ended.mixture], d.ended[:, ended.alternative], terms.gain * (1.0 - d.ended[:, ended.known]), xp)


def _sum_into(table: Array, first: Array, second: Array, values: Array, xp: ModuleType) -> Array:
    """A table, shape (m, n), with each value added at its place; with NumPy values may carry an axis of draws."""
    if xp is np:
        total = np.broadcast_to(table, (*values.shape[:-1], *table.shape[-2:])).copy()
        at: Any = (..., _whole(first), _whole(second))
        np.add.at(total, at, values)
        return total
    return xp.inc_subtensor(xp.as_tensor_variable(table)[_whole(first), _whole(second)], values)


def mixture_log_likelihood(joint: Array, xp: ModuleType = np) -> Array:
    """Log-likelihood of each tool of unknown class, mixed over the classes, shape (mixture,)."""
    top = joint.max(axis=-1, keepdims=True)
    return (top + xp.log(xp.exp(joint - top).sum(axis=-1, keepdims=True)))[..., 0]


def sudden_log_likelihood(p: Parameters, d: Any, layout: Layout, xp: ModuleType = np) -> Array:
    """Poisson log-likelihood of the sudden stops up to a constant, by class and plant, shape (class, plant slot)."""
    span = layout.block("sudden_plant")
    plant = p.all[..., len(COEFFICIENTS) + span.start : len(COEFFICIENTS) + span.stop]
    stops, lives, handlings = d.sudden[0], d.sudden[1], d.sudden[2]
    by_shots = xp.exp(p.coefficient("log_sudden_per_life") - p.all[..., CLASS_OFFSET])[..., :, None] * lives
    by_handling = xp.exp(p.coefficient("log_sudden_per_handling"))[..., :, None] * handlings
    expected = xp.exp(plant)[..., None, :] * (by_shots + by_handling)
    return stops * xp.log(xp.maximum(expected, 1e-30)) - expected


def cause_log_likelihood(p: Parameters, d: Any, xp: ModuleType = np) -> Array:
    """Log-likelihood of the renewals whose cause is stated, which inform the share of the others."""
    known = p.share_of("wear_share")[..., 0]
    return d.stated[0] * xp.log(known) + d.stated[1] * xp.log1p(-known)
