"""What a history tells of coefficients and group effects, nearly: a normal approximation about the likeliest of both.

A life's wear-out is an event of a Poisson law whose mean is the cumulative hazard H that it has come through, so that log H, all but
linear in coefficients and effects, can be fitted by weighted least squares, turn by turn (Aitkin & Clayton 1980, Appl. Stat. 29,
from memory). Nothing of the posterior hangs on it: only how the sampler's coordinates lie. Tool effects are left out of
the fit, and take from each life's weight what a tool's several lives tell of itself alone.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy.sparse import csr_array

from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import CandidateColumns, EndedColumns, ModelData, RowColumns
from wearfit.model.layout import COEFFICIENTS, GROUPS, Layout
from wearfit.model.parameters import Parameters

Array = np.ndarray

STEP: Final = 0.01  # of a coordinate in prior standard deviations, or of an effect
DECIMALS: Final = 6  # kept, so that what padding or a library rounds otherwise turns no axis of which next to nothing is told
MOST_AT_ONCE: Final = 2_000_000  # cells of all points of a step: bounds the memory
LEAST_WEAR: Final = 1.0  # [reference shots] stands for none, in a logarithm
TURNS: Final = 8
CLOSE: Final = 0.1  # prior standard deviations
FURTHEST: Final = 2.0  # of one turn
HALVINGS: Final = 6
MOST: Final = 5.0  # log of a cumulative hazard: far beyond belief
USUAL_SCALE: Final = 0.6745  # of a group, over its half-normal prior's: the median


@dataclass(frozen=True)
class Slopes:
    """Gradients of the log of the cumulative hazard of each row, each by the root of what the row weighs."""

    coefficient: Array  # (row, coefficient) by the standard normal coordinates of `ModelData.coefficient_root`
    effect: Array  # (row, turned slot) by the effects themselves
    mirrored: Any  # (row, mirrored slot) by those of a group with too many levels for more than one a row: a sparse array
    response: Array  # (row,) what the row says that they come to, by coordinates and effects counted from zero


@dataclass(frozen=True)
class _Counted:
    """Rows that tell something, each as often as its tool is likely to be what it is there taken for."""

    row: Array  # (counted,)
    tool: Array  # (counted,)
    events: Array  # (counted,) wear-outs; of a renewal of unstated cause its chance to be one
    read: Array  # (counted,) whether readings tell of its capacity


def likeliest(d: ModelData, layout: Layout) -> Array:
    """The likeliest coordinates of coefficients and contrasted effects, in prior standard deviations, (coefficient + contrasted,).

    A mirrored group's effects are taken for coordinates of their own: among so many it is next to nothing that they sum to zero.
    """
    counted, scale, n = _counted(d), _scale(d, layout), len(COEFFICIENTS)
    at = np.zeros(n + layout.contrasted)
    few, many = np.concatenate([np.arange(n), n + layout.turned]), np.arange(n + layout.mirrored.start, n + layout.mirrored.stop)
    for _ in range(TURNS):
        log_hazard, slopes = _slopes(at, d, layout, counted)
        hazard = np.exp(log_hazard)
        design = np.concatenate([slopes.coefficient, (slopes.effect @ d.contrast) * scale[layout.turned]], axis=1)
        own, short, step = slopes.mirrored * scale[layout.mirrored], counted.events - hazard, np.zeros_like(at)
        curvature = design.T @ (hazard[:, None] * design) + np.eye(len(few))
        # No row has two of the many, so that between them the curvature is a diagonal, and they are solved for first.
        between = np.asarray((own.T @ (hazard[:, None] * design)).T)
        diagonal = np.asarray(own.multiply(own).T @ hazard) + 1.0
        by_few, by_many = design.T @ short - at[few], np.asarray(own.T @ short) - at[many]
        step[few] = np.linalg.solve(curvature - (between / diagonal) @ between.T, by_few - between @ (by_many / diagonal))
        step[many] = (by_many - step[few] @ between) / diagonal
        step *= FURTHEST / max(float(np.abs(step).max()), FURTHEST)
        reached = _fit(at, log_hazard, counted)
        for _ in range(HALVINGS):
            if _fit(at + step, _log_hazard(_parameters((at + step)[None], d, layout), d, counted)[0], counted) >= reached:
                break
            step *= 0.5
        else:
            break
        at = at + step
        if np.abs(step).max() < CLOSE:
            break
    return np.asarray(np.round(at, DECIMALS))


def weighted_slopes(d: ModelData, layout: Layout, at: Array) -> Slopes:
    """What each row tells about a point such as `likeliest` gives; by groups that are switched off as if they were on."""
    counted, tool = _counted(d), GROUPS.index("tool")
    log_hazard, slopes = _slopes(at, d, layout, counted)
    hazard = np.maximum(np.exp(log_hazard), counted.read)  # a life whose capacity is read tells as much as one that wore out
    shape = np.exp(_parameters(at[None], d, layout).coefficient("log_shape")[0, 0])
    spread = shape * USUAL_SCALE * d.group_prior[0, tool] * d.group_prior[1, tool]
    of_tool = np.bincount(counted.tool, hazard, minlength=len(d.candidate))[counted.tool]
    root = np.sqrt(hazard / (1.0 + spread**2 * of_tool))
    # A life whose capacity is read says nothing here of where the point should lie: that is not known without its readings.
    response = slopes.response + np.where(counted.read > 0.0, 0.0, counted.events - hazard) / hazard
    each = root[:, None]
    return Slopes(
        slopes.coefficient * each,
        slopes.effect * each,
        csr_array(slopes.mirrored.multiply(each)),
        np.round(response * root, DECIMALS),
    )


def _counted(d: ModelData) -> _Counted:
    candidate = d.row[:, RowColumns.candidate].astype(int)
    row = np.flatnonzero(np.exp(d.candidate[candidate, CandidateColumns.log_weight]) > 0.5)
    ended = d.ended[:, EndedColumns.row].astype(int)
    by_readings = d.ended[:, EndedColumns.capacity] > 0.0
    a, b = d.share_prior[:2, -1]
    events, read = np.zeros(len(d.row)), np.zeros(len(d.row))
    events[ended] = np.where(by_readings, 0.0, np.where(d.ended[:, EndedColumns.perhaps] > 0.0, a / (a + b), 1.0))
    read[ended] = by_readings
    tool = d.candidate[candidate[row], CandidateColumns.tool].astype(int)
    return _Counted(row, tool, events[row], read[row])


def _scale(d: ModelData, layout: Layout) -> Array:
    """Usual scale of the group of each contrasted effect's coordinate, shape (contrasted slot,)."""
    scale = USUAL_SCALE * d.group_prior[0] * d.group_prior[1]
    return np.asarray(scale[layout.group_of_slot()[: layout.contrasted]])


def _parameters(at: Array, d: ModelData, layout: Layout) -> Parameters:
    """Parameters where coordinates of coefficients and contrasted effects are `at` (point, ...), shares at their prior means."""
    n, a, b = len(COEFFICIENTS), *d.share_prior[:2]
    coefficients = d.coefficient_loc + at[:, :n] @ d.coefficient_root.T
    effects = np.zeros((len(at), layout.size))
    along = at[:, n:] * _scale(d, layout)
    effects[:, layout.turned], effects[:, layout.mirrored] = along[:, layout.turned] @ d.contrast.T, along[:, layout.mirrored]
    return Parameters(np.concatenate([coefficients, effects], axis=1), np.tile(a / (a + b), (len(at), 1)))


def _log_hazard(p: Parameters, d: ModelData, counted: _Counted) -> Array:
    """Log of the cumulative hazard at each row's end, shape (point, counted)."""
    end = run_clock(p, d).end[:, counted.row]
    log_eta = log_life(p, d)[:, d.row[counted.row, RowColumns.candidate].astype(int)]
    return np.asarray(np.minimum(np.exp(p.coefficient("log_shape")) * (np.log(np.maximum(end, LEAST_WEAR)) - log_eta), MOST))


def _fit(at: Array, log_hazard: Array, counted: _Counted) -> float:
    """Log-density of the events and of the coordinates, up to a constant."""
    return float(counted.events @ log_hazard - np.exp(log_hazard).sum() - 0.5 * at @ at)


def _slopes(at: Array, d: ModelData, layout: Layout, counted: _Counted) -> tuple[Array, Slopes]:
    """`_log_hazard`, shape (counted,), and its gradients, rows not weighed.

    By small steps where a life's clock changes; a design or a maker lengthens the life alone.
    """
    n, clocked = len(COEFFICIENTS), layout.block("plant").stop + layout.resins
    here = _parameters(at[None], d, layout)
    along = np.zeros((n + clocked, here.all.shape[1]))
    along[:n, :n] = d.coefficient_root.T
    along[n:, n : n + clocked] = np.eye(clocked)
    log_hazard = _log_hazard(here, d, counted)[0]
    by_step = np.zeros((len(along), len(counted.row)))
    at_once = max(1, MOST_AT_ONCE // max(len(d.cell), 1))
    for low in range(0, len(along), at_once):
        some = along[low : low + at_once]
        up, down = (
            _log_hazard(Parameters(here.all + sign * STEP * some, np.repeat(here.share, len(some), axis=0)), d, counted) for sign in (1, -1)
        )
        by_step[low : low + at_once] = (up - down) / (2.0 * STEP)
    effect = np.zeros((len(counted.row), layout.contrasted - (layout.mirrored.stop - layout.mirrored.start)))
    effect[:, :clocked] = by_step[n:].T
    rows, shape = np.arange(len(effect)), np.exp(here.coefficient("log_shape")[0, 0])
    candidate = d.candidate[d.row[counted.row, RowColumns.candidate].astype(int), CandidateColumns.index]
    mirrored = csr_array((len(effect), layout.mirrored.stop - layout.mirrored.start))
    for name, column in (("design", CandidateColumns.design), ("maker", CandidateColumns.maker)):
        slot = candidate[:, column].astype(int) - n
        if layout.block(name) == layout.mirrored:
            own = slot - layout.mirrored.start
            mirrored = csr_array((-shape * (d.mirror[0, own] != 0.0), (rows, own)), shape=mirrored.shape)
        else:
            np.add.at(effect, (rows, np.searchsorted(layout.turned, slot)), -shape)
    coefficient, effect, effects = np.round(by_step[:n].T, DECIMALS), np.round(effect, DECIMALS), here.all[0, n : n + layout.contrasted]
    response = coefficient @ at[:n] + effect @ effects[layout.turned] + mirrored @ effects[layout.mirrored]
    return log_hazard, Slopes(coefficient, effect, mirrored, response)
