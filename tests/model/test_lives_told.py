"""What a life adds: the likelihood of the history less that of the history without it, both by brute force."""

import numpy as np
import pytest
from small_fleet import prior_draws, read_fleet, small_fleet

from wearfit.exposures.lives import EXACT
from wearfit.exposures.table import Exposures
from wearfit.law import LAWS, LOG_LOGISTIC, LOGNORMAL
from wearfit.model import likelihood as ll
from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import CandidateColumns, ModelData, PathColumns, check_bounds
from wearfit.model.flat_draws import Flat
from wearfit.model.layout import GROUPS, Layout
from wearfit.model.lives_told import compared_lives, lives_told, without_lives
from wearfit.model.parameters import build_parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.readings import told_by_readings

Array = np.ndarray

DRAWS = 3
NODE = np.linspace(-7.0, 7.0, 141)  # standard deviations of a tool's effect
COORDINATE = np.linspace(-14.0, 9.0, 461)  # of a capacity
ALL = [pytest.param(code, id=name) for code, name in enumerate(LAWS)]


def flat_draws(data: ModelData, layout: Layout) -> Flat:
    at = prior_draws(data, layout, DRAWS, seed=71)
    at.w[:, GROUPS.index("tool")] = 0.5
    return Flat(at.z, at.share, at.w, at.slot, at.read)


def by_tool(flat: Flat, draw: int, data: ModelData, layout: Layout, code: int, latent: int | None) -> Array:
    """Log-likelihood of each tool, its effect integrated out, and one coordinate of capacity where one is named."""
    z, share, w, slot, read = (getattr(flat, name)[draw] for name in ("z", "share", "w", "slot", "read"))
    p = build_parameters(z, share, w, slot, data, layout)
    scale = np.abs(ll.tool_spread(p, w, data)) / np.exp(p.coefficient("log_shape"))
    usual, clock = log_life(p, data), run_clock(p, data)
    total = np.full((len(NODE), len(data.candidate)), -np.inf)
    for q in COORDINATE if latent is not None else [0.0]:
        at = read.copy()
        if latent is not None:
            at[latent] = q
        told = told_by_readings(p, clock, at, data, layout)
        with np.errstate(over="ignore"):
            terms = ll.history_terms(p, clock, usual + (scale * NODE)[:, None], data, told=told, wear_law=code)
            total = np.logaddexp(total, ll.candidate_log_likelihood(terms, p, data))
    total = total + (np.log(COORDINATE[1] - COORDINATE[0]) if latent is not None else 0.0)
    weight = -0.5 * NODE**2
    of_candidate = np.logaddexp.reduce(total + (weight - np.logaddexp.reduce(weight))[:, None], axis=0)
    joint, tool = of_candidate + data.candidate[:, CandidateColumns.log_weight], data.candidate[:, CandidateColumns.tool].astype(int)
    return np.array([np.logaddexp.reduce(joint[tool == t]) for t in np.unique(tool)])


def latent_of(exposures: Exposures, data: ModelData, life: int) -> list[int]:
    """Coordinates of the capacities of a life."""
    rows = np.flatnonzero(exposures.episodes.life[exposures.history.source] == life)
    mine = np.isin(data.path[:, PathColumns.row], rows) & (data.path[:, PathColumns.at_end] == 0)
    return [int(i) for i in np.unique(data.path[mine, PathColumns.latent])]


@pytest.mark.parametrize("code", ALL)
def test_a_life_adds_what_the_history_says_more_with_it(code: int) -> None:
    fleet, layout = small_fleet(), layout_of(small_fleet())
    data = prepare(fleet, read_priors(), layout)
    flat = flat_draws(data, layout)
    told = lives_told(flat, data, layout, fleet, code)
    assert len(told.life) >= 8
    for i, life in enumerate(told.life):
        less = without_lives(data, fleet, np.array([life]))
        check_bounds(less, layout)
        for draw in range(DRAWS):
            expected = (by_tool(flat, draw, data, layout, code, None) - by_tool(flat, draw, less, layout, code, None)).sum()
            if expected > -200.0:
                assert told.log_likelihood[draw, i] == pytest.approx(expected, rel=1e-6, abs=2e-3), life


@pytest.mark.parametrize("code", [LOG_LOGISTIC, LOGNORMAL])
def test_of_a_life_with_readings_the_capacity_is_integrated_out_too(code: int) -> None:
    fleet, layout = read_fleet(), layout_of(read_fleet())
    data = prepare(fleet, read_priors(), layout)
    flat, compared = flat_draws(data, layout), 0
    told = lives_told(flat, data, layout, fleet, code)
    known = fleet.candidates.known[fleet.history.candidate]
    for i, life in enumerate(told.life):
        rows = fleet.episodes.life[fleet.history.source] == life
        latent = latent_of(fleet, data, int(life))
        others = [
            x
            for x in np.unique(fleet.episodes.life[fleet.history.source])
            if x != life and fleet.episodes.tool[fleet.episodes.life == x][0] == fleet.episodes.tool[fleet.episodes.life == life][0]
        ]
        if len(latent) != 1 or not known[rows].all() or any(latent_of(fleet, data, int(x)) for x in others):
            continue
        tool = int(fleet.episodes.tool[fleet.history.source[np.flatnonzero(rows)[0]]])
        less = without_lives(data, fleet, np.array([life]))
        for draw in range(DRAWS):
            expected = by_tool(flat, draw, data, layout, code, latent[0])[tool] - by_tool(flat, draw, less, layout, code, None)[tool]
            if expected > -100.0:
                assert told.log_likelihood[draw, i] == pytest.approx(expected, abs=0.03), life
                compared += 1
    assert compared >= 4


def test_a_ratio_is_no_density_and_is_not_compared() -> None:
    fleet = small_fleet()
    h = fleet.history
    doubtful = fleet.episodes.life[h.source[h.unstated & (h.ending == EXACT)]]
    assert len(doubtful)
    assert not np.isin(compared_lives(fleet), doubtful).any()
