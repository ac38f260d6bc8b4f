"""Axes of the coefficients and of group effects: the same prior, and what wear-outs tell no longer mixed."""

from dataclasses import replace

import numpy as np
import pytest
from small_fleet import small_fleet

from wearfit.model.axes import turned_root
from wearfit.model.layout import COEFFICIENTS, CONTRASTED, GROUPS, contrast
from wearfit.model.likelihood import Parameters, log_life, run_clock
from wearfit.model.prepare import layout_of, levels_seen, prepare
from wearfit.model.priors import read_priors

FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
PRIORS = read_priors()
DATA = prepare(FLEET, PRIORS, LAYOUT)


def test_prior_is_the_same() -> None:
    root = DATA.coefficient_root
    assert root @ root.T == pytest.approx(PRIORS.root @ PRIORS.root.T, abs=1e-12)
    assert not np.allclose(root, PRIORS.root)


def test_turning_twice_changes_nothing_but_the_order_of_nothing() -> None:
    """Axes that tell are found again; the rest, of which wear-outs tell nothing, may turn among themselves."""
    again = turned_root(DATA, LAYOUT)
    from_own = turned_root(replace(DATA, coefficient_root=PRIORS.root), LAYOUT)
    assert np.array_equal(from_own, DATA.coefficient_root)
    assert np.abs(again[:, -1]) == pytest.approx(np.abs(DATA.coefficient_root[:, -1]), abs=1e-6)


def test_what_wear_outs_tell_of_one_axis_says_nothing_of_another() -> None:
    """Gradients of log(D / eta) over the wear-outs of tools of known class, by small steps along each axis."""
    n, step = len(COEFFICIENTS), 1e-3
    share = DATA.share_prior[0] / (DATA.share_prior[0] + DATA.share_prior[1])
    row = DATA.ended[:, 0].astype(int)
    candidate = FLEET.history.candidate[row]
    slopes = []
    for axis in DATA.coefficient_root.T:
        ratios = []
        for sign in (1.0, -1.0):
            p = Parameters(np.concatenate([PRIORS.loc + sign * step * axis, np.zeros(LAYOUT.size)]), share)
            ratios.append(np.log(run_clock(p, DATA).end[row]) - log_life(p, DATA)[candidate])
        slopes.append((ratios[0] - ratios[1])[FLEET.candidates.known[candidate]] / (2.0 * step))
    told = np.array(slopes) @ np.array(slopes).T
    assert told.shape == (n, n)
    assert told == pytest.approx(np.diag(np.diag(told)), abs=1e-3 * told.max())
    assert (np.diff(np.diag(told)) > -1e-3 * told.max()).all()  # from least to most


@pytest.mark.parametrize("group", CONTRASTED)
def test_axes_of_a_group_are_contrasts_of_its_levels(group: str) -> None:
    """Another orthonormal basis of the effects that sum to zero over the levels seen."""
    span = LAYOUT.block(group)
    turned, plain = DATA.contrast[span, span], contrast(getattr(levels_seen(FLEET), group), span.stop - span.start)
    assert turned @ turned.T == pytest.approx(plain @ plain.T, abs=1e-12)
    own = turned[:, turned.any(axis=0)]
    assert own.T @ own == pytest.approx(np.eye(own.shape[1]), abs=1e-12)


@pytest.mark.parametrize("group", CONTRASTED)
def test_what_is_told_of_the_effects_of_a_group(group: str) -> None:
    """Precision of a life's log(D / eta), a Weibull's and its tool's, and gradients of it by small steps along each axis."""
    span, step = LAYOUT.block(group), 1e-4
    share = DATA.share_prior[0] / (DATA.share_prior[0] + DATA.share_prior[1])
    row = DATA.ended[:, 0].astype(int)
    candidate = FLEET.history.candidate[row]
    shape, tool_sd = np.exp(PRIORS.loc[COEFFICIENTS.index("log_shape")]), PRIORS.scale[GROUPS.index("tool")]
    likely = np.exp(DATA.candidate[candidate, -1])
    precision = np.where(likely > 0.5, likely, 0.0) / (np.pi**2 / (6.0 * shape**2) + tool_sd**2)
    slopes = []
    for axis in DATA.contrast[:, span].T:
        ratios = []
        for sign in (1.0, -1.0):
            effects = np.zeros(LAYOUT.size)
            effects[: LAYOUT.contrasted] = sign * step * axis
            p = Parameters(np.concatenate([PRIORS.loc, effects]), share)
            ratios.append(np.log(run_clock(p, DATA).end[row]) - log_life(p, DATA)[candidate])
        slopes.append((ratios[0] - ratios[1]) / (2.0 * step))
    told = np.array(slopes) * precision @ np.array(slopes).T
    assert told.max() > 0.0
    # What a life carries over from before a refurbishment wore where that was; `told` looks at the life itself.
    assert told == pytest.approx(np.diag(DATA.slot_told[span]), abs=0.1 * told.max())
