"""A life's capacity as a coordinate of the sampler's, integrated by brute force, is what forecasts and the pointwise likelihood hold."""

import numpy as np
import pytest
from small_fleet import prior_draws, read_fleet

from wearfit import law
from wearfit.exposures.lives import CENSORED, EXACT, INTERVAL
from wearfit.model import likelihood as ll
from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import EndedColumns, PathColumns, RowColumns
from wearfit.model.parameters import Parameters, build_parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.read_capacity import PathDraws
from wearfit.model.readings import told_by_readings

Array = np.ndarray

FLEET = read_fleet()
LAYOUT = layout_of(FLEET)
DATA = prepare(FLEET, read_priors(), LAYOUT)
DRAWS = 4
FAR_OFF = -200.0  # [nat] a tool tried in a class far too short-lived
AT = prior_draws(DATA, LAYOUT, DRAWS, seed=61)
COORDINATE = np.linspace(-14.0, 10.0, 4801)
ALL = [pytest.param(code, id=name) for code, name in enumerate(law.LAWS)]
PATHS = np.flatnonzero(DATA.path[:, PathColumns.at_end] == 0)


def kind_of(path: int) -> tuple[int, bool]:
    row = int(DATA.path[path, PathColumns.row])
    return int(FLEET.history.ending[row]), bool(FLEET.history.unstated[row])


def test_the_fleet_has_readings_in_lives_of_every_ending() -> None:
    assert {kind_of(int(p)) for p in PATHS} == {(CENSORED, False), (INTERVAL, False), (EXACT, True), (INTERVAL, True)}
    at_end = np.flatnonzero(DATA.path[1:, PathColumns.at_end] > 0) + 1
    assert {kind_of(int(p)) for p in at_end} == {(EXACT, False), (EXACT, True)}


def row_log_likelihood(draw: int, row: int, read: Array, code: int) -> Array:
    """Of one row without tool effects, for many values of the coordinates, shape (value,)."""
    p = Parameters(*(np.repeat(a[None], len(read), axis=0) for a in _parameters(draw)))
    clock, log_eta = run_clock(p, DATA), log_life(p, DATA)
    terms = ll.history_terms(p, clock, log_eta, DATA, told=told_by_readings(p, clock, read, DATA, LAYOUT), wear_law=code)
    mine = DATA.ended[:, EndedColumns.row] == row
    return np.asarray(terms.survived[:, row] + ll.gains(terms, p, DATA)[:, mine].sum(axis=1))


def _parameters(draw: int) -> tuple[Array, Array]:
    at = AT.draw(draw)
    p = build_parameters(at.z, at.share, at.w, at.slot, DATA, LAYOUT)
    return p.all, p.share


@pytest.mark.parametrize("code", ALL)
@pytest.mark.parametrize("path", [int(p) for p in PATHS])
def test_integral_over_the_coordinate_is_the_one_that_answers_rest_on(path: int, code: int) -> None:
    row, latent = int(DATA.path[path, PathColumns.row]), int(DATA.path[path, PathColumns.latent])
    assert int(DATA.row[row, RowColumns.path]) == path
    compared = 0
    for draw in range(DRAWS):
        p = Parameters(*(a[None] for a in _parameters(draw)))
        clock, log_eta, read = run_clock(p, DATA), log_life(p, DATA), AT.read[draw][None]
        told = told_by_readings(p, clock, read, DATA, LAYOUT)
        drawn = PathDraws.empty(1, DATA, LAYOUT.features, code)
        terms = ll.history_terms(p, clock, log_eta, DATA, told=told, wear_law=code)
        drawn.fill(slice(0, 1), p, clock, told, log_eta, terms, DATA, LAYOUT)
        value = float(drawn.log_likelihood(drawn.left(DATA, path), FLEET, DATA, path)[0])
        many = np.repeat(read, len(COORDINATE), axis=0)
        many[:, latent] = COORDINATE
        log_density = row_log_likelihood(draw, row, many, code)
        top = log_density.max()
        integral = top + np.log(np.exp(log_density - top).sum() * (COORDINATE[1] - COORDINATE[0]))
        if integral > FAR_OFF:
            compared += 1
            assert value == pytest.approx(integral, abs=0.02)
    assert compared or not FLEET.candidates.known[FLEET.history.candidate[row]]


@pytest.mark.parametrize("code", ALL)
@pytest.mark.parametrize("path", [int(p) for p in PATHS if kind_of(int(p)) == (INTERVAL, True)])
def test_density_has_no_step_where_a_cause_that_nobody_stated_changes(path: int, code: int) -> None:
    """A sampler that follows gradients runs into a step however short its own steps are, and shortens them to nothing for that."""
    row, latent = int(DATA.path[path, PathColumns.row]), int(DATA.path[path, PathColumns.latent])
    for draw in range(DRAWS):
        p = Parameters(*(a[None] for a in _parameters(draw)))
        clock, read = run_clock(p, DATA), AT.read[draw][None].copy()
        low, high = -60.0, 60.0
        while high - low > 1e-9:
            read[0, latent] = 0.5 * (low + high)
            worn = told_by_readings(p, clock, read, DATA, LAYOUT).capacity[0, path] < clock.end[0, row]
            low, high = (float(read[0, latent]), high) if worn else (low, float(read[0, latent]))
        either_side = np.repeat(read, 2, axis=0)
        either_side[:, latent] = low, high
        before, beyond = row_log_likelihood(draw, row, either_side, code)
        assert before == pytest.approx(beyond, abs=1e-6)
