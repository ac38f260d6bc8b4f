"""Tool effects node by node: against the same in NumPy over all nodes, and a place in a density against its distribution function."""

import numpy as np
import pytest
from small_fleet import prior_draws, small_fleet

from wearfit.model import likelihood as ll
from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import EndedColumns, RowColumns
from wearfit.model.effect_nodes import drawn_of_nodes, masses_of_nodes, place_of
from wearfit.model.parameters import build_parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.tool_draws import NODES, NodeGrid, TermGrid, term_grid

Array = np.ndarray

FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
DATA = prepare(FLEET, read_priors(), LAYOUT)


def grids(draws: int, seed: int) -> tuple[TermGrid, NodeGrid]:
    """The grid that is asked node by node, and one of all nodes, row by row by `wear_out_gain`."""
    at = prior_draws(DATA, LAYOUT, draws, seed)
    p = build_parameters(at.z, at.share, at.w, at.slot, DATA, LAYOUT)
    terms = ll.history_terms(p, run_clock(p, DATA), log_life(p, DATA), DATA)
    spread, share = np.abs(ll.tool_spread(p, at.w, DATA)), p.share_of("wear_share")
    grid = term_grid(terms, share, spread, DATA)
    u = grid.start[..., None] + grid.step[..., None] * np.arange(NODES)
    x = spread[..., None] * u
    log_density = -0.5 * u * u - 0.5 * np.log(2.0 * np.pi)
    candidate = DATA.row[:, RowColumns.candidate].astype(int)
    for row, c in enumerate(candidate):
        log_density[:, c] += terms.survived[:, row, None] * np.exp(x[:, c])
    interval, perhaps = DATA.ended[:, EndedColumns.interval], DATA.ended[:, EndedColumns.perhaps]
    for i, row in enumerate(DATA.ended[:, EndedColumns.row].astype(int)):
        at_node = x[:, candidate[row]]
        exact, rise = terms.exact[:, i, None] + at_node, terms.rise[:, i, None] * np.exp(at_node)
        log_density[:, candidate[row]] += ll.wear_out_gain(exact, rise, share, interval[i], perhaps[i])
    return grid, NodeGrid(grid.start, grid.step, log_density)


@pytest.mark.parametrize("draws", [7, 200])  # by one thread, and shared
def test_nodes_reckoned_where_they_are_asked_for_are_those_of_all_rows(draws: int) -> None:
    by_terms, by_nodes = grids(draws, seed=171)
    every = np.arange(len(DATA.candidate))
    mass = by_nodes.log_mass(every)
    believed = mass > -600.0  # a wear-out is no less likely than `tool_marginal.LEAST`
    assert believed.mean() > 0.9
    assert by_terms.log_mass(every)[believed] == pytest.approx(mass[believed], rel=1e-9, abs=1e-9)
    probability = np.random.default_rng(172).random((draws, len(every)))
    chosen = np.tile(every, (draws, 1))
    drawn = by_nodes.drawn(chosen, probability)
    assert by_terms.drawn(chosen, probability)[believed] == pytest.approx(drawn[believed], rel=1e-8, abs=1e-8)


@pytest.mark.parametrize("seed", [173, 174, 175])
def test_a_place_has_its_part_of_the_mass_before_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    log_density = 100.0 * rng.standard_normal() + rng.standard_normal(NODES).cumsum()
    density = np.exp(log_density - log_density.max())
    for probability in (0.0, 1e-9, 0.2, 0.5, 0.999, 1.0 - 1e-12):
        place = place_of(log_density.copy(), probability)
        whole = int(place)
        before = np.trapezoid(density[: whole + 1]) if whole else 0.0
        if whole < NODES - 1:
            part, (left, right) = place - whole, density[whole : whole + 2]
            before += left * part + 0.5 * (right - left) * part**2
        assert before == pytest.approx(probability * np.trapezoid(density), rel=1e-9, abs=1e-12)


def test_the_mass_of_a_normal_density_is_one() -> None:
    u = np.linspace(-8.0, 8.0, NODES)
    log_density = np.tile(-0.5 * u * u - 0.5 * np.log(2.0 * np.pi), (3, 2, 1))
    start, step = np.full((3, 2), u[0]), np.full((3, 2), u[1] - u[0])
    assert masses_of_nodes(start, step, log_density, np.array([1])) == pytest.approx(0.0, abs=1e-9)
    middle = drawn_of_nodes(start, step, log_density, np.zeros((3, 4), dtype=int), np.full((3, 4), 0.5))
    assert middle == pytest.approx(0.0, abs=1e-9)
