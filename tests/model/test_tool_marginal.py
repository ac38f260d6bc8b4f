"""Tool effects integrated out: the operation against a fine grid of effects, its gradient against differences, and as compiled."""

from functools import cache

import numpy as np
import pytensor
import pytensor.tensor as pt
import pytest
from integrated import GRID, log_mean
from small_fleet import prior_draws, small_fleet

from wearfit import law
from wearfit.model import likelihood as ll
from wearfit.model.clock import Clock, log_life, run_clock
from wearfit.model.data import EndedColumns, RowColumns
from wearfit.model.layout import GROUPS
from wearfit.model.parameters import Parameters, build_parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.tool_marginal import tool_marginals
from wearfit.model.tool_marginal_op import ToolMarginals

Array = np.ndarray

FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
DATA = prepare(FLEET, read_priors(), LAYOUT)
AT = prior_draws(DATA, LAYOUT, draws=12, seed=159)
PARAMETERS = build_parameters(AT.z, AT.share, AT.w, AT.slot, DATA, LAYOUT)
CLOCK, LOG_LIFE = run_clock(PARAMETERS, DATA), log_life(PARAMETERS, DATA)
TERMS = ll.history_terms(PARAMETERS, CLOCK, LOG_LIFE, DATA)
TABLES = (DATA.candidate, DATA.row, DATA.ended)


def inputs(draw: int, spread: float) -> list[Array]:
    share = PARAMETERS.share_of("wear_share")[draw]
    return [TERMS.survived[draw], TERMS.exact[draw], TERMS.rise[draw], share, np.array([spread])]


def on_a_grid(draw: int, spread: float) -> Array:
    """From the likelihood given each effect, shape (candidate,)."""
    p = Parameters(PARAMETERS.all[draw], PARAMETERS.share[draw])
    clock = Clock(*(getattr(CLOCK, part)[draw] for part in ("entry", "good", "end", "log_last")))
    effect = GRID * spread / np.exp(p.coefficient("log_shape"))
    with np.errstate(over="ignore"):
        given = ll.candidate_log_likelihood(ll.history_terms(p, clock, LOG_LIFE[draw] + effect[:, None], DATA), p, DATA)
    return log_mean(given - 0.5 * (GRID**2 + np.log(2.0 * np.pi))[:, None], GRID[1] - GRID[0])


def test_the_fleet_has_every_kind_of_ending() -> None:
    interval, perhaps = DATA.ended[:, EndedColumns.interval] > 0, DATA.ended[:, EndedColumns.perhaps] > 0
    for kind in (interval & ~perhaps, interval & perhaps, ~interval & perhaps, ~interval & ~perhaps):
        assert kind.any()
    assert np.bincount(DATA.row[DATA.ended[:, EndedColumns.row].astype(int), RowColumns.candidate].astype(int)).max() > 1


@pytest.mark.parametrize("spread", [0.4, -0.8, 1.5, 3.0])
def test_marginal_is_the_integral_of_the_likelihood_given_an_effect(spread: float) -> None:
    for draw in range(len(AT.w)):
        expected = on_a_grid(draw, spread)
        assert np.isfinite(expected).all()
        assert tool_marginals(*inputs(draw, spread), *TABLES)[0] == pytest.approx(expected, rel=1e-9, abs=1e-4)


def test_a_longer_life_has_its_hazards_lowered_by_one_factor() -> None:
    """What lets one integral serve all rows of a tool."""
    shape, effect = np.exp(PARAMETERS.coefficient("log_shape")), 0.37
    longer = ll.history_terms(PARAMETERS, CLOCK, LOG_LIFE + effect, DATA)
    x = law.log_hazard_factor(effect, shape)
    assert longer.survived == pytest.approx(TERMS.survived * np.exp(x), rel=1e-9, abs=1e-9)
    assert longer.exact == pytest.approx(TERMS.exact + x, rel=1e-9)


@pytest.mark.parametrize("spread", [0.0, 1e-12, -1e-6, 1e-3])
def test_without_a_spread_it_is_the_likelihood_without_effects(spread: float) -> None:
    """Of candidates that are not so far off that even such an effect would move them."""
    plain = ll.candidate_log_likelihood(TERMS, PARAMETERS, DATA)
    for draw in range(len(AT.w)):
        near = np.abs(plain[draw]) * abs(spread) < 1e-3
        assert near.any()
        value = tool_marginals(*inputs(draw, spread), *TABLES)[0]
        assert value[near] == pytest.approx(plain[draw][near], rel=1e-4, abs=1e-3)


def test_the_sign_of_the_spread_does_not_matter() -> None:
    for up, down in zip(tool_marginals(*inputs(0, 0.9), *TABLES), tool_marginals(*inputs(0, -0.9), *TABLES), strict=True):
        assert np.abs(down) == pytest.approx(np.abs(up), rel=1e-9)
    flat = tool_marginals(*inputs(0, 0.0), *TABLES)[2]
    hazard = np.bincount(DATA.row[:, RowColumns.candidate].astype(int), weights=-TERMS.survived[0], minlength=len(flat))
    assert (np.abs(flat) <= 1e-9 * np.maximum(hazard, 1.0)).all()  # level where it changes its sign, but for the rounding of hazards


@cache
def compiled() -> object:
    given = [pt.dvector(name) for name in ("survived", "exact", "rise", "share", "spread")]
    node = ToolMarginals().make_node(*given, *(pt.as_tensor_variable(t) for t in TABLES))
    of_value = pt.dvector("of_value")
    gradient = pt.grad((node.outputs[0] * of_value).sum(), given)
    with pytensor.config.change_flags(numba__fastmath=False):
        return pytensor.function([*given, of_value], [node.outputs[0], *gradient], mode="NUMBA")


def test_compiled_equals_the_loop() -> None:
    weight = np.random.default_rng(142).standard_normal(len(DATA.candidate))
    for draw in range(len(AT.w)):
        assert compiled()(*inputs(draw, 0.7), weight)[0] == pytest.approx(tool_marginals(*inputs(draw, 0.7), *TABLES)[0], rel=1e-9)


@pytest.mark.parametrize("which", range(5), ids=["survived", "exact", "rise", "share", "spread"])
def test_gradient_is_that_of_the_integral(which: int) -> None:
    """Central differences of each input in turn, of candidates whose likelihood is not beyond belief."""
    for draw in range(3):
        at = inputs(draw, 0.8)
        weight = (tool_marginals(*at, *TABLES)[0] > -60.0).astype(float)
        exact = compiled()(*at, weight)[1 + which]
        assert np.isfinite(exact).all()
        for i in range(len(exact)):
            step = 1e-4 * max(abs(at[which][i]), 1e-2) if which != 1 else 1e-4
            values = []
            for sign in (1.0, -1.0):
                moved = [a.copy() for a in at]
                moved[which][i] += sign * step
                values.append((compiled()(*moved, weight)[0] * weight).sum())
            assert (values[0] - values[1]) / (2.0 * step) == pytest.approx(exact[i], rel=1e-3, abs=2e-3), i


def test_hazards_beyond_belief_are_all_but_impossible_and_have_no_slope() -> None:
    at = inputs(0, 0.8)
    at[0] = np.full_like(at[0], -np.inf)
    value, *gradient = compiled()(*at, np.ones(len(DATA.candidate)))
    with_rows = np.isin(np.arange(len(DATA.candidate)), DATA.row[:, RowColumns.candidate])
    assert np.isneginf(value[with_rows]).all()
    assert all(np.isfinite(slope).all() for slope in gradient)


def test_tool_is_the_group_that_is_integrated() -> None:
    spread = ll.tool_spread(PARAMETERS, AT.w, DATA)
    scale = AT.w[:, [GROUPS.index("tool")]] * read_priors().scale[GROUPS.index("tool")]
    assert spread == pytest.approx(scale * np.exp(PARAMETERS.coefficient("log_shape")), rel=1e-12)
