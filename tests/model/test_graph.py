"""The likelihood on NumPy, with draws side by side, is the one that is compiled; and the graph adds nothing but the priors."""

from types import ModuleType
from typing import Any

import integrated
import numpy as np
import pytensor
import pytensor.tensor as pt
import pytest
from scipy.stats import beta, norm
from small_fleet import Coordinates, laid_anyhow, prior_draws, read_fleet, small_fleet

from wearfit.exposures.lives import CENSORED, INTERVAL
from wearfit.model import likelihood as ll
from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import CandidateColumns, ModelData
from wearfit.model.graph import build_graph
from wearfit.model.mixture import joint_log_likelihood, tool_log_likelihood
from wearfit.model.mixture_op import mixed_log_likelihood
from wearfit.model.parameters import build_parameters, slot_scales, told_apart
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.readings import told_by_readings
from wearfit.model.scale_coordinates import coordinate_of, log_stretch

Array = np.ndarray

FLEET = read_fleet()
LAYOUT = layout_of(FLEET)
DATA = prepare(FLEET, read_priors(), LAYOUT)
DRAWS = prior_draws(DATA, LAYOUT, draws=4, seed=31)
TOLD = laid_anyhow(DATA, LAYOUT)


def terms(at: Any, xp: ModuleType) -> dict[str, Any]:
    """Every quantity that the likelihood goes through, by name."""
    p = build_parameters(at.z, at.share, at.w, at.slot, DATA, LAYOUT, xp)
    apart = told_apart(at.z, at.w, at.slot, DATA, LAYOUT, xp)
    clock, log_eta = run_clock(p, DATA, xp), log_life(p, DATA)
    told = told_by_readings(p, clock, at.read, DATA, LAYOUT, xp)
    parts = ll.history_terms(p, clock, log_eta, DATA, xp, told)
    spread = ll.tool_spread(p, at.w, DATA, xp)
    return {
        "parameters": p.all, "shares": p.share, "slot scales": slot_scales(at.w, DATA, LAYOUT, xp),
        "slot middles": apart.middles, "standard": apart.standard,
        "at reading": clock.at_reading, "capacity": told.capacity, "stretch": told.log_stretch, "told": told.log_likelihood,
        "entry": clock.entry, "good": clock.good, "end": clock.end, "log last": clock.log_last, "log life": log_eta,
        "survived": parts.survived, "exact": parts.exact, "rise": parts.rise, "tool spread": spread,
        "sudden stops": ll.sudden_log_likelihood(p, DATA, LAYOUT, xp),
        "other causes": ll.cause_log_likelihood(p, DATA, xp),
    }  # fmt: skip


def test_numpy_equals_pytensor_term_by_term() -> None:
    inputs = Coordinates(*(pt.dvector(name) for name in ("z", "share", "w", "slot", "read")))
    symbolic = terms(inputs, pt)
    compiled = pytensor.function([inputs.z, inputs.share, inputs.w, inputs.slot, inputs.read], list(symbolic.values()), mode="FAST_COMPILE")
    side_by_side = terms(DRAWS, np)
    for i in range(len(DRAWS.w)):
        at = DRAWS.draw(i)
        alone = terms(at, np)
        for name, value in zip(symbolic, compiled(at.z, at.share, at.w, at.slot, at.read), strict=True):
            assert np.isfinite(value).all(), name
            assert alone[name] == pytest.approx(value, rel=1e-9, abs=1e-9), name
            assert side_by_side[name][i] == pytest.approx(alone[name], rel=1e-12, abs=1e-12), name


def test_what_tools_may_be_is_mixed_alike() -> None:
    """Value and gradient, against sums by hand; one candidate far beyond belief."""
    values = np.random.default_rng(33).standard_normal((3, len(DATA.candidate)))
    values[2, np.flatnonzero(~FLEET.candidates.known)[0]] = -1e15
    symbolic = pt.dvector("by_candidate")
    mixed = mixed_log_likelihood(symbolic, DATA).sum()
    compiled = pytensor.function([symbolic], [mixed, pytensor.grad(mixed, symbolic)], mode="NUMBA")
    tool, weight = DATA.candidate[:, CandidateColumns.tool], np.exp(DATA.candidate[:, CandidateColumns.log_weight])
    by_tool = tool_log_likelihood(joint_log_likelihood(values, DATA), DATA)
    for i in range(len(values)):
        mass = np.array([np.sum((np.exp(values[i]) * weight)[tool == t]) for t in np.unique(tool)])
        assert by_tool[i] == pytest.approx(np.log(mass), rel=1e-12)
        value, slope = compiled(values[i])
        assert value == pytest.approx(np.log(mass).sum(), rel=1e-12)
        assert slope == pytest.approx(np.exp(values[i]) * weight / mass[tool.astype(int)], rel=1e-12, abs=1e-300)


def test_terms_are_those_of_each_row() -> None:
    """`history_terms` takes the costlier part only where it counts; row by row nothing may change."""
    fleet, layout = small_fleet(), layout_of(small_fleet())
    data = prepare(fleet, read_priors(), layout)
    history, at = fleet.history, prior_draws(data, layout, draws=4, seed=31)
    p = build_parameters(at.z, at.share, at.w, at.slot, data, layout)
    clock, log_eta = run_clock(p, data), log_life(p, data)
    by_row = ll.row_log_likelihood(
        clock,
        log_eta[:, history.candidate],
        np.exp(p.coefficient("log_shape")),
        p.share_of("wear_share"),
        interval=(history.ending == INTERVAL).astype(float),
        wore_out=((history.ending != CENSORED) & ~history.unstated).astype(float),
        perhaps=history.unstated.astype(float),
        log_reference=ll.log_reference_hazard(data)[history.candidate],
    )
    parts = ll.history_terms(p, clock, log_eta, data)
    in_two = parts.survived.copy()
    in_two[:, history.ending != CENSORED] += ll.gains(parts, p, data)
    assert in_two == pytest.approx(by_row, rel=1e-12)
    by_candidate = ll.candidate_log_likelihood(parts, p, data)
    tool = fleet.candidates.tool
    for i in range(len(data.candidate)):
        assert by_candidate[:, i] == pytest.approx(by_row[:, history.candidate == i].sum(axis=1), rel=1e-12)
    joint = by_candidate + data.candidate[:, CandidateColumns.log_weight]
    by_hand = np.stack([np.logaddexp.reduce(joint[:, tool == t], axis=1) for t in range(len(fleet.tools.tool_id))], axis=1)
    assert tool_log_likelihood(joint_log_likelihood(by_candidate, data), data) == pytest.approx(by_hand, rel=1e-12)


@pytest.mark.parametrize("data", [TOLD, DATA], ids=["scaled to what is told", "to the prior"])
def test_graph_is_priors_and_likelihood(data: ModelData) -> None:
    log_density = build_graph(data, LAYOUT).model.compile_logp(jacobian=False, mode="FAST_COMPILE")
    draws = prior_draws(data, LAYOUT, draws=2, seed=32)
    for at in (draws.draw(0), draws.draw(1)):
        apart = told_apart(at.z, at.w, at.slot, data, LAYOUT)
        prior = (
            norm.logpdf(apart.standard).sum()
            + (norm.logpdf(at.w) + log_stretch(coordinate_of(at.w, data.log_from), data.log_from)).sum()
            + beta.logpdf(at.share, data.share_prior[0], data.share_prior[1]).sum()
        )
        prior += norm.logpdf(at.slot, -apart.middles, slot_scales(at.w, data, LAYOUT)).sum()
        # Capacities have no prior of their own but the law's.
        prior += norm.logpdf(at.read[data.unread > 0]).sum() - 0.5 * np.log(2.0 * np.pi) * (data.unread == 0).sum()
        assert log_density(at.point(data)) == pytest.approx(prior + integrated.log_likelihood(at, data, LAYOUT), rel=1e-9, abs=1e-3)
