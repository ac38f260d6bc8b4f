"""Axes of the coefficients and of group effects: the same prior, and what a history tells no longer mixed."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.sparse import csr_array
from small_fleet import prior_draws, small_fleet

from wearfit.model.axes import axes_of
from wearfit.model.information import Slopes, likeliest, weighted_slopes
from wearfit.model.layout import COEFFICIENTS, CONTRASTED, contrast
from wearfit.model.levels_seen import levels_seen
from wearfit.model.parameters import build_parameters, leaning, slot_effects
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors

FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
PRIORS = read_priors()
DATA = prepare(FLEET, PRIORS, LAYOUT)
SLOPES = weighted_slopes(DATA, LAYOUT, likeliest(DATA, LAYOUT))


def test_prior_is_the_same() -> None:
    root = DATA.coefficient_root
    assert root @ root.T == pytest.approx(PRIORS.root @ PRIORS.root.T, abs=1e-12)
    assert not np.allclose(root, PRIORS.root)


def test_coordinates_that_lean_are_other_names_of_the_same_parameters() -> None:
    upright, at = replace(DATA, lean=np.zeros_like(DATA.lean)), prior_draws(DATA, LAYOUT, draws=5, seed=3)
    lean = leaning(slot_effects(at.w, at.slot, DATA, LAYOUT), DATA, LAYOUT)
    assert np.abs(lean).max() > 0.01
    leant = build_parameters(at.z, at.share, at.w, at.slot, DATA, LAYOUT)
    plain = build_parameters(at.z - lean, at.share, at.w, at.slot, upright, LAYOUT)
    assert leant.all == pytest.approx(plain.all, rel=1e-12, abs=1e-12)


def test_what_is_told_of_one_axis_says_nothing_of_another() -> None:
    """Slopes by the coordinates of the model's own root, of which the prepared root is the last turn."""
    told = SLOPES.coefficient.T @ SLOPES.coefficient
    assert told.max() > 1.0
    assert told == pytest.approx(np.diag(np.diag(told)), abs=0.02 * told.max())  # the point, and so the slopes, moved a little
    assert (np.diff(np.diag(told)) > -0.02 * told.max()).all()  # from least to most


def test_leaning_coordinates_and_effects_are_told_apart() -> None:
    """The joint precision of z and u, block by block, turned to z + lean @ u: nothing is left between the two."""
    rng, n = np.random.default_rng(5), len(COEFFICIENTS)
    slopes = Slopes(rng.standard_normal((60, n)), rng.standard_normal((60, LAYOUT.contrasted)), csr_array((60, 0)), np.zeros(60))
    axes = axes_of(slopes, replace(DATA, coefficient_root=np.eye(n)), LAYOUT)
    both = np.concatenate([slopes.coefficient @ axes.coefficient_root, slopes.effect], axis=1)
    precision = both.T @ both
    precision[:n, :n] += np.eye(n)
    to_plain = np.eye(len(precision))
    to_plain[:n, n:] = -axes.lean
    leant = to_plain.T @ precision @ to_plain
    assert np.abs(precision[:n, n:]).max() > 1.0
    assert leant[:n, n:] == pytest.approx(np.zeros((n, LAYOUT.contrasted)), abs=1e-9)
    for name in CONTRASTED:
        span = LAYOUT.block(name)
        along = axes.contrast[span, span].T @ leant[n:, n:][span, span] @ axes.contrast[span, span]
        assert along == pytest.approx(np.diag(axes.slot_told[span]), abs=1e-9), name


@pytest.mark.parametrize("group", CONTRASTED)
@pytest.mark.parametrize("scale", [0.05, 0.5])
def test_slots_are_counted_from_where_effects_are_likely(group: str, scale: float) -> None:
    """Score / (scale^-2 + told) along each axis is the mean of effects N(0, scale^2) in a linear model with the coefficients open."""
    rng, n, span = np.random.default_rng(7), len(COEFFICIENTS), LAYOUT.block(group)
    effect = np.zeros((60, LAYOUT.contrasted))
    effect[:, span] = rng.standard_normal((60, span.stop - span.start))
    slopes = Slopes(rng.standard_normal((60, n)), effect, csr_array((60, 0)), rng.standard_normal(60))
    axes = axes_of(slopes, replace(DATA, coefficient_root=np.eye(n)), LAYOUT)
    own = span.start + np.flatnonzero(axes.contrast[span, span].any(axis=0))
    everything = np.concatenate([slopes.coefficient, effect @ axes.contrast[:, own]], axis=1)
    precision = everything.T @ everything + np.diag(np.concatenate([np.ones(n), np.full(len(own), scale**-2)]))
    mean = np.linalg.solve(precision, everything.T @ slopes.response)[n:]
    assert np.abs(mean).max() > 0.001
    assert axes.slot_score[own] / (scale**-2 + axes.slot_told[own]) == pytest.approx(mean, rel=1e-9)


@pytest.mark.parametrize("group", CONTRASTED)
def test_axes_of_a_group_are_contrasts_of_its_levels(group: str) -> None:
    """Another orthonormal basis of the effects that sum to zero over the levels seen."""
    span = LAYOUT.block(group)
    turned, plain = DATA.contrast[span, span], contrast(getattr(levels_seen(FLEET), group), span.stop - span.start)
    assert turned @ turned.T == pytest.approx(plain @ plain.T, abs=1e-12)
    own = turned[:, turned.any(axis=0)]
    assert own.T @ own == pytest.approx(np.eye(own.shape[1]), abs=1e-12)


def test_nothing_is_told_by_a_history_without_rows() -> None:
    n = len(COEFFICIENTS)
    axes = axes_of(Slopes(np.zeros((0, n)), np.zeros((0, LAYOUT.contrasted)), csr_array((0, 0)), np.zeros(0)), DATA, LAYOUT)
    assert np.array_equal(axes.coefficient_root, DATA.coefficient_root)
    assert not axes.lean.any()
    assert not axes.slot_told[: LAYOUT.contrasted].any()
