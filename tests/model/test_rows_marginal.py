"""Tool effects integrated out under each law: the operation against a fine grid of effects, its gradient against differences."""

from functools import cache
from typing import Any

import numpy as np
import pytensor
import pytensor.tensor as pt
import pytest
from integrated import GRID, log_mean
from small_fleet import prior_draws, read_fleet, small_fleet

from wearfit import law
from wearfit.exposures.table import Exposures
from wearfit.law import LAWS, LOG_LOGISTIC, LOGNORMAL, WEIBULL, Shape
from wearfit.model import law_kernel
from wearfit.model import likelihood as ll
from wearfit.model.clock import Clock, log_life, run_clock
from wearfit.model.data import CandidateColumns, EndedColumns
from wearfit.model.parameters import Parameters, build_parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.readings import Told, told_by_readings
from wearfit.model.rows_marginal import row_marginals
from wearfit.model.rows_marginal_op import RowMarginals
from wearfit.model.tool_draws import Luck, draw_tool_effects, level_grid
from wearfit.model.tool_marginal import tool_marginals

Array = np.ndarray


class Case:
    """A fleet, and draws of the prior over it."""

    def __init__(self, fleet: Exposures) -> None:
        self.fleet, self.layout = fleet, layout_of(fleet)
        self.data = prepare(fleet, read_priors(), self.layout)
        self.at = prior_draws(self.data, self.layout, draws=8, seed=159)
        at = self.at
        self.p = build_parameters(at.z, at.share, at.w, at.slot, self.data, self.layout)
        self.clock, self.log_life = run_clock(self.p, self.data), log_life(self.p, self.data)
        self.told = told_by_readings(self.p, self.clock, at.read, self.data, self.layout)
        self.tables = (self.data.candidate, self.data.row, self.data.ended)

    def levels(self) -> ll.Levels:
        return ll.history_levels(self.p, self.clock, self.log_life, self.data, told=self.told)

    def inputs(self, code: int, draw: int, spread: float) -> list[Array]:
        parts = [getattr(self.levels(), name)[draw] for name in ("entry", "last", "exact", "at", "end")]
        return [*parts, self.p.share_of("wear_share")[draw], np.array([spread])]

    def marginals(self, code: int, at: list[Array]) -> Any:
        return row_marginals(*at, np.array([float(code)]), *self.tables)

    def given_effects(self, code: int, draw: int, spread: float) -> Array:
        """Log-likelihood by the terms of NumPy at each effect of GRID, shape (node, candidate)."""
        p = Parameters(self.p.all[draw], self.p.share[draw])
        clock = Clock(*(getattr(self.clock, part)[draw] for part in ("entry", "good", "end", "log_last", "at_reading")))
        told = Told(*(getattr(self.told, part)[draw] for part in ("capacity", "log_stretch", "log_likelihood")))
        usual = self.log_life[draw]
        effect = GRID * spread / np.exp(p.coefficient("log_shape"))
        with np.errstate(over="ignore"):
            terms = ll.history_terms(p, clock, usual + effect[:, None], self.data, told=told, wear_law=code)
            return ll.candidate_log_likelihood(terms, p, self.data)


EVERY, READ = Case(small_fleet()), Case(read_fleet())
BOTH = [pytest.param(EVERY, id="every ending"), pytest.param(READ, id="readings")]
ALL = [pytest.param(code, id=name) for code, name in enumerate(LAWS)]


def test_the_fleets_have_every_kind_of_ending() -> None:
    interval, perhaps = (EVERY.data.ended[:, i] > 0 for i in (EndedColumns.interval, EndedColumns.perhaps))
    for kind in (interval & ~perhaps, interval & perhaps, ~interval & perhaps, ~interval & ~perhaps):
        assert kind.any()
    assert (READ.data.ended[:, EndedColumns.capacity] > 0).any()


@pytest.mark.parametrize("code", ALL)
def test_kernel_is_the_law(code: int) -> None:
    levels = np.concatenate([np.linspace(-60.0, 30.0, 181), [60.0]])
    shape, step = Shape(np.ones(len(levels)), code), 1e-5
    total = np.exp(law.log_cumulative_hazard(levels, shape))
    log_rise = law.log_rise_beyond(levels, np.zeros(len(levels)), shape)
    for i, level in enumerate(levels):
        found, rise, steep = law_kernel.total_rise_slope(code, level)
        near = {"rel": 1e-9 if total[i] > 1e-6 else 1e-6, "abs": 1e-300}
        assert found == pytest.approx(total[i], **near), level
        assert rise == pytest.approx(np.exp(log_rise[i]), **near), level
        log_of, slope = law_kernel.log_rise_and_slope(code, level)
        assert steep == pytest.approx(slope, rel=1e-9, abs=1e-9), level
        assert log_of == pytest.approx(log_rise[i], rel=1e-9, abs=1e-9), level
        (up, steeper), (down, flatter) = (law_kernel.log_rise_and_slope(code, level + d) for d in (step, -step))
        assert slope == pytest.approx((up - down) / (2.0 * step), rel=1e-5, abs=1e-5), level
        assert law_kernel.bend(code, rise, slope) == pytest.approx((flatter - steeper) / (2.0 * step), rel=1e-4, abs=1e-4), level


@pytest.mark.parametrize("case", BOTH)
@pytest.mark.parametrize("code", ALL)
@pytest.mark.parametrize("spread", [0.4, -0.8, 1.5, 3.0])
def test_marginal_is_the_integral_of_the_likelihood_given_an_effect(case: Case, code: int, spread: float) -> None:
    for draw in range(len(case.at.w)):
        expected = log_mean(case.given_effects(code, draw, spread) - 0.5 * (GRID**2 + np.log(2.0 * np.pi))[:, None], GRID[1] - GRID[0])
        assert np.isfinite(expected).all()
        assert case.marginals(code, case.inputs(code, draw, spread))[0] == pytest.approx(expected, rel=1e-7, abs=3e-4)


@pytest.mark.parametrize("case", BOTH)
def test_rows_that_collapse_give_what_they_give_in_one_sum(case: Case) -> None:
    terms = ll.history_terms(case.p, case.clock, case.log_life, case.data, told=case.told)
    for draw in range(len(case.at.w)):
        at = case.inputs(WEIBULL, draw, 0.8)
        one = tool_marginals(terms.survived[draw], terms.exact[draw], terms.rise[draw], at[5], at[6], *case.tables)[0]
        assert case.marginals(WEIBULL, at)[0] == pytest.approx(one, rel=1e-7, abs=3e-4)


@cache
def compiled(case: Case) -> Any:
    given = [pt.dvector(name) for name in ("entry", "last", "exact", "at", "end", "share", "spread")]
    wear_law, of_value = pt.dvector("wear_law"), pt.dvector("of_value")
    node = RowMarginals().make_node(*given, wear_law, *(pt.as_tensor_variable(t) for t in case.tables))
    gradient = pt.grad((node.outputs[0] * of_value).sum(), given)
    with pytensor.config.change_flags(numba__fastmath=False):
        return pytensor.function([*given, wear_law, of_value], [node.outputs[0], *gradient], mode="NUMBA")


@pytest.mark.parametrize("case", BOTH)
@pytest.mark.parametrize("code", [LOG_LOGISTIC, LOGNORMAL])
@pytest.mark.parametrize("which", range(7), ids=["entry", "last", "exact", "at", "end", "share", "spread"])
def test_gradient_is_that_of_the_integral(case: Case, code: int, which: int) -> None:
    """Central differences of each input in turn, of candidates whose likelihood is not beyond belief; and compiled equals the loop."""
    for draw in range(2):
        at, told = case.inputs(code, draw, 0.8), np.array([float(code)])
        value = case.marginals(code, at)[0]
        weight = (value > -60.0).astype(float)
        found = compiled(case)(*at, told, weight)
        assert found[0] == pytest.approx(value, rel=1e-9)
        exact = found[1 + which]
        assert np.isfinite(exact).all()
        for i in range(len(exact)):
            step, values = 1e-4, []
            for sign in (1.0, -1.0):
                moved = [a.copy() for a in at]
                moved[which][i] += sign * step
                values.append((compiled(case)(*moved, told, weight)[0] * weight).sum())
            assert (values[0] - values[1]) / (2.0 * step) == pytest.approx(exact[i], rel=1e-3, abs=2e-3), i


@pytest.mark.parametrize("case", BOTH)
@pytest.mark.parametrize("code", [LOG_LOGISTIC, LOGNORMAL])
def test_mass_of_the_grid_is_that_of_the_operation(case: Case, code: int) -> None:
    spread = np.abs(ll.tool_spread(case.p, case.at.w, case.data))
    grid = level_grid(case.levels(), case.p.share_of("wear_share"), spread, case.data, code)
    for draw in range(len(case.at.w)):
        value = case.marginals(code, case.inputs(code, draw, float(spread[draw, 0])))[0]
        assert grid.log_mass(np.arange(len(case.data.candidate)))[draw] == pytest.approx(value, rel=1e-6, abs=2e-3)


@pytest.mark.parametrize("code", [LOG_LOGISTIC, LOGNORMAL])
def test_effects_are_distributed_as_given_their_history(code: int) -> None:
    many, draw, spread, case = 10_000, 1, 0.9, EVERY
    shape = np.exp(case.p.coefficient("log_shape"))[draw, 0]
    levels = ll.Levels(**{k: np.repeat(v[draw : draw + 1], many, axis=0) for k, v in vars(case.levels()).items()})
    column = np.ones((many, 1))
    share = case.p.share_of("wear_share")[draw] * column
    sample = draw_tool_effects(
        levels, share, spread * column, spread / shape * column, case.data, Luck.of(np.random.default_rng(3), many, case.data), code
    )
    given = case.given_effects(code, draw, spread) + case.data.candidate[:, CandidateColumns.log_weight] - 0.5 * GRID[:, None] ** 2
    for t in range(sample.shape[1]):
        log_density = np.logaddexp.reduce(given[:, case.fleet.candidates.tool == t], axis=1)
        density = np.exp(log_density - log_density.max())
        below = np.cumsum(density) - 0.5 * density
        reached = np.interp(np.sort(sample[:, t]), GRID * spread / shape, below / density.sum())
        distance = np.abs(reached - (np.arange(many) + 0.5) / many).max()
        assert distance < 1.95 / np.sqrt(many), case.fleet.tools.tool_id[t]  # Kolmogorov's distance, exceeded once in a thousand
