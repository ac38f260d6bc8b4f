"""Tool effects drawn after sampling: against their distribution on a fine grid, by tool and kind of ending."""

import numpy as np
import pytest
from integrated import GRID
from odd_fleet import odd_fleet
from small_fleet import Coordinates, prior_draws, small_fleet

from wearfit.model import likelihood as ll
from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import CandidateColumns
from wearfit.model.layout import GROUPS
from wearfit.model.parameters import Parameters, build_parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.tool_draws import Luck, draw_tool_effects, term_grid
from wearfit.model.tool_marginal import tool_marginals

Array = np.ndarray

FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
DATA = prepare(FLEET, read_priors(), LAYOUT)
DRAWS = 20_000


def alike(draws: int, spread_of_tools: float, seed: int) -> Coordinates:
    """One draw from the prior over and over, with a tool scale of our choice."""
    at = prior_draws(DATA, LAYOUT, 1, seed)
    at.w[:, GROUPS.index("tool")] = spread_of_tools
    return Coordinates(*(np.repeat(getattr(at, name), draws, axis=0) for name in ("z", "share", "w", "slot", "read")))


def terms_of(at: Coordinates) -> tuple[Parameters, ll.Terms, Array, Array]:
    """Parameters, terms without tool effects, spread and scale."""
    p = build_parameters(at.z, at.share, at.w, at.slot, DATA, LAYOUT)
    spread = ll.tool_spread(p, at.w, DATA)
    return p, ll.history_terms(p, run_clock(p, DATA), log_life(p, DATA), DATA), spread, spread / np.exp(p.coefficient("log_shape"))


def drawn(at: Coordinates, seed: int) -> Array:
    p, terms, spread, scale = terms_of(at)
    return draw_tool_effects(terms, p.share_of("wear_share"), spread, scale, DATA, Luck.of(np.random.default_rng(seed), len(spread), DATA))


def density_by_tool(at: Coordinates) -> tuple[Array, Array]:
    """Effects, and the density of each tool's at the first draw, mixed over its classes, shape (grid, tool)."""
    p = build_parameters(at.z[0], at.share[0], at.w[0], at.slot[0], DATA, LAYOUT)
    scale = np.abs(ll.tool_spread(p, at.w[0], DATA) / np.exp(p.coefficient("log_shape")))
    effect = GRID * scale
    with np.errstate(over="ignore"):
        usual = log_life(p, DATA)
        terms = ll.history_terms(p, run_clock(p, DATA), usual + effect[:, None], DATA)
        given = ll.candidate_log_likelihood(terms, p, DATA)
    candidates = FLEET.candidates
    log_density = given + DATA.candidate[:, CandidateColumns.log_weight] - 0.5 * GRID[:, None] ** 2
    tools = [np.logaddexp.reduce(log_density[:, candidates.tool == t], axis=1) for t in range(len(FLEET.tools.tool_id))]
    density = np.stack([np.exp(t - t.max()) for t in tools], axis=1)
    return effect, density / density.sum(axis=0)


@pytest.mark.parametrize(("scale", "seed"), [(0.6, 161), (-1.4, 162), (0.05, 163)])
def test_effects_are_distributed_as_given_their_history(scale: float, seed: int) -> None:
    at = alike(DRAWS, scale, seed)
    effect, density = density_by_tool(at)
    sample = drawn(at, seed=1)
    assert sample.shape == (DRAWS, len(FLEET.tools.tool_id))
    for t in range(sample.shape[1]):
        below = np.interp(np.sort(sample[:, t]), effect, np.cumsum(density[:, t]) - 0.5 * density[:, t])
        distance = np.abs(below - (np.arange(DRAWS) + 0.5) / DRAWS).max()
        assert distance < 1.95 / np.sqrt(DRAWS), FLEET.tools.tool_id[t]  # Kolmogorov's distance, exceeded once in a thousand


def test_mass_of_the_grid_is_that_of_the_operation() -> None:
    at = prior_draws(DATA, LAYOUT, 20, seed=164)
    p, terms, spread, _ = terms_of(at)
    grid = term_grid(terms, p.share_of("wear_share"), np.abs(spread), DATA)
    for i in range(20):
        share = p.share_of("wear_share")[i]
        value = tool_marginals(terms.survived[i], terms.exact[i], terms.rise[i], share, spread[i], DATA.candidate, DATA.row, DATA.ended)[0]
        assert grid.log_mass(np.arange(len(DATA.candidate)))[i] == pytest.approx(value, rel=1e-6, abs=2e-3)


def test_without_a_scale_there_is_no_effect() -> None:
    assert not drawn(alike(50, 0.0, 165), 165).any()


def test_a_tool_that_the_likelihood_knows_nothing_of_is_drawn_from_its_population() -> None:
    fleet = odd_fleet()
    layout = layout_of(fleet)
    data = prepare(fleet, read_priors(), layout)
    at = prior_draws(data, layout, 5000, seed=166)
    p = build_parameters(at.z, at.share, at.w, at.slot, data, layout)
    terms = ll.history_terms(p, run_clock(p, data), log_life(p, data), data)
    spread = ll.tool_spread(p, at.w, data)
    scale = spread / np.exp(p.coefficient("log_shape"))
    luck = Luck.of(np.random.default_rng(166), len(spread), data)
    effects = draw_tool_effects(terms, p.share_of("wear_share"), spread, scale, data, luck)
    standard = effects[:, fleet.tools.tool_id.index("idle")] / scale[:, 0]
    assert standard.mean() == pytest.approx(0.0, abs=4.0 / np.sqrt(5000))
    assert standard.std() == pytest.approx(1.0, abs=4.0 / np.sqrt(10_000))
