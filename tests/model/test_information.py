"""What a history tells of coefficients and effects, nearly, against the likelihood's own clock by small steps."""

from dataclasses import replace

import numpy as np
import pytest
from small_fleet import read_fleet, small_fleet

from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import CandidateColumns, EndedColumns, ModelData, RowColumns
from wearfit.model.information import MOST, USUAL_SCALE, likeliest, weighted_slopes
from wearfit.model.layout import COEFFICIENTS, CONTRASTED, GROUPS
from wearfit.model.parameters import Parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors

Array = np.ndarray

FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
PRIORS = read_priors()
DATA = prepare(FLEET, PRIORS, LAYOUT)
N = len(COEFFICIENTS)
CANDIDATE = DATA.row[:, RowColumns.candidate].astype(int)
SURE = np.flatnonzero(np.exp(DATA.candidate[CANDIDATE, CandidateColumns.log_weight]) > 0.5)


def log_hazard(coordinates: Array, effects: Array, d: ModelData = DATA) -> Array:
    """k log(D / eta) at the end of the rows of tools that are what they are there taken for, shape (row,)."""
    everything = np.concatenate([d.coefficient_loc + d.coefficient_root @ coordinates, effects, np.zeros(LAYOUT.size - LAYOUT.contrasted)])
    a, b = d.share_prior[:2]
    p = Parameters(everything[None], (a / (a + b))[None])
    ratio = np.log(run_clock(p, d).end[0, SURE]) - log_life(p, d)[0, CANDIDATE[SURE]]
    return np.asarray(np.minimum(np.exp(everything[COEFFICIENTS.index("log_shape")]) * ratio, MOST))


def effects_at(at: Array) -> Array:
    scale = USUAL_SCALE * DATA.group_prior[0] * DATA.group_prior[1]
    return np.asarray(DATA.contrast @ (scale[LAYOUT.group_of_slot()[: LAYOUT.contrasted]] * at[N:]))


def log_density(at: Array) -> float:
    """Of events whose mean is the hazard that a life came through, and of standard normal coordinates."""
    a, b = DATA.share_prior[:2, -1]
    events = np.zeros(len(DATA.row))
    events[DATA.ended[:, EndedColumns.row].astype(int)] = np.where(DATA.ended[:, EndedColumns.perhaps] > 0, a / (a + b), 1.0)
    hazard = log_hazard(at[:N], effects_at(at))
    return float(events[SURE] @ hazard - np.exp(hazard).sum() - 0.5 * at @ at)


def test_the_point_is_likelier_than_what_lies_about_it() -> None:
    rng, at = np.random.default_rng(1), likeliest(DATA, LAYOUT)
    assert np.abs(at).max() > 0.1
    here = log_density(at)
    assert here > log_density(np.zeros_like(at)) + 0.5
    for _ in range(50):
        assert log_density(at + 0.5 * rng.standard_normal(len(at))) < here


def test_slopes_are_those_of_small_steps() -> None:
    """By coefficients and effects, weighed by the hazard, less what all lives of a tool tell of the tool."""
    at, step = 0.3 * np.random.default_rng(2).standard_normal(N + LAYOUT.contrasted), 1e-5
    slopes, effects = weighted_slopes(DATA, LAYOUT, at), effects_at(at)
    hazard = np.exp(log_hazard(at[:N], effects))
    tool = DATA.candidate[CANDIDATE[SURE], CandidateColumns.tool].astype(int)
    shape = np.exp((DATA.coefficient_loc + DATA.coefficient_root @ at[:N])[COEFFICIENTS.index("log_shape")])
    spread = shape * USUAL_SCALE * PRIORS.scale[GROUPS.index("tool")]
    root = np.sqrt(hazard / (1.0 + spread**2 * np.array([hazard[tool == t].sum() for t in tool])))
    for i in range(N):
        by = np.zeros(N)
        by[i] = step
        expected = (log_hazard(at[:N] + by, effects) - log_hazard(at[:N] - by, effects)) / (2.0 * step)
        assert slopes.coefficient[:, i] == pytest.approx(root * expected, abs=1e-3 * np.abs(root * expected).max() + 1e-9), COEFFICIENTS[i]
    for name in CONTRASTED:
        span = LAYOUT.block(name)
        for i in range(span.start, span.stop):
            by = np.zeros(LAYOUT.contrasted)
            by[i] = step
            expected = root * (log_hazard(at[:N], effects + by) - log_hazard(at[:N], effects - by)) / (2.0 * step)
            assert slopes.effect[:, i] == pytest.approx(expected, abs=1e-3 * np.abs(slopes.effect[:, span]).max()), name


def test_a_life_whose_capacity_is_read_tells_as_much_as_one_that_wore_out() -> None:
    fleet = read_fleet()
    layout = layout_of(fleet)
    data = prepare(fleet, PRIORS, layout)
    at = np.zeros(N + layout.contrasted)
    unread = replace(data, ended=data.ended[data.ended[:, EndedColumns.capacity] == 0.0])
    assert len(unread.ended) < len(data.ended)
    with_, without = weighted_slopes(data, layout, at), weighted_slopes(unread, layout, at)
    assert (with_.coefficient**2).sum() > (without.coefficient**2).sum()
