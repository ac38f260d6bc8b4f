"""Axes of coefficients and effects: the same prior, and what a history tells no longer mixed."""

from dataclasses import replace

import numpy as np
import pytest
from recovery_fleet import recovery_fleet
from small_fleet import prior_draws, small_fleet

from wearfit.model.axes import axes_of
from wearfit.model.data import ModelData
from wearfit.model.information import Information, information, usual_scales
from wearfit.model.layout import CONTRASTED, contrast
from wearfit.model.levels_seen import levels_seen
from wearfit.model.native import log_density
from wearfit.model.parameters import build_parameters, leaning, slot_effects
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.sampler import Compiled

Array = np.ndarray

FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
DATA = prepare(FLEET, read_priors(), LAYOUT)
N = len(DATA.root)


def told_by(slopes: Array, response: Array | None = None) -> Information:
    """What normal observations of sums of z and of effects along axes tell, shape (observation, z + contrasted)."""
    scale, precision = usual_scales(DATA, LAYOUT), slopes.T @ slopes
    pull = np.zeros(len(precision)) if response is None else slopes.T @ response
    likeliest = np.linalg.solve(precision + np.diag(np.concatenate([np.ones(N), scale**-2.0])), pull)
    return Information(precision[:N, :N], precision[:N, N:], precision[N:, N:], np.zeros(0), likeliest[N:])


def laid(told: Information) -> ModelData:
    return replace(DATA, **vars(axes_of(told, DATA, LAYOUT)))


ANY = laid(told_by(np.random.default_rng(1).standard_normal((60, N + LAYOUT.contrasted))))


def test_prior_is_the_same() -> None:
    assert ANY.root @ ANY.root.T == pytest.approx(DATA.root @ DATA.root.T, abs=1e-12)
    assert not np.allclose(ANY.root, DATA.root)


def test_coordinates_that_lean_are_other_names_of_the_same_parameters() -> None:
    upright, at = replace(ANY, lean=np.zeros_like(ANY.lean)), prior_draws(ANY, LAYOUT, draws=5, seed=3)
    lean = leaning(slot_effects(at.w, at.slot, ANY, LAYOUT), ANY, LAYOUT)
    assert np.abs(lean).max() > 0.01
    leant = build_parameters(at.z, at.share, at.w, at.slot, ANY, LAYOUT)
    plain = build_parameters(at.z - lean, at.share, at.w, at.slot, upright, LAYOUT)
    assert leant.all == pytest.approx(plain.all, rel=1e-12, abs=1e-12)


def test_leaning_coordinates_and_effects_are_told_apart() -> None:
    """The joint precision of z and u, turned to z + lean @ u: nothing is left between the two, nor between axes of either."""
    slopes = np.random.default_rng(5).standard_normal((60, N + LAYOUT.contrasted)) * np.append(np.ones(N), DATA.contrast.any(axis=0))
    axes = axes_of(told_by(slopes), replace(DATA, root=np.eye(N)), LAYOUT)
    both = np.concatenate([slopes[:, :N] @ axes.root, slopes[:, N:] @ DATA.contrast.T], axis=1)
    precision = both.T @ both
    precision[:N, :N] += np.eye(N)
    to_plain = np.eye(len(precision))
    to_plain[:N, N:] = -axes.lean
    leant = to_plain.T @ precision @ to_plain
    assert np.abs(precision[:N, N:]).max() > 1.0
    assert leant[:N, N:] == pytest.approx(np.zeros((N, LAYOUT.contrasted)), abs=1e-8)
    assert leant[:N, :N] == pytest.approx(np.diag(np.diag(leant)[:N]), abs=1e-8)
    for name in CONTRASTED:
        span = LAYOUT.block(name)
        along = axes.contrast[span, span].T @ leant[N:, N:][span, span] @ axes.contrast[span, span]
        assert along == pytest.approx(np.diag(axes.slot_told[span]), abs=1e-8), name


@pytest.mark.parametrize("group", CONTRASTED)
@pytest.mark.parametrize("scale", [0.05, 0.5])
def test_slots_are_counted_from_where_effects_are_likely(group: str, scale: float) -> None:
    """Score / (scale^-2 + told) along each axis is the mean of effects N(0, scale^2) in a linear model with z open."""
    rng, span = np.random.default_rng(7), LAYOUT.block(group)
    slopes = np.zeros((60, N + LAYOUT.contrasted))
    own = span.start + np.flatnonzero(DATA.contrast[span, span].any(axis=0))
    slopes[:, :N], slopes[:, N + own] = rng.standard_normal((60, N)), rng.standard_normal((60, len(own)))
    response = rng.standard_normal(60)
    axes = axes_of(told_by(slopes, response), DATA, LAYOUT)
    everything = np.concatenate([slopes[:, :N], slopes[:, N:] @ DATA.contrast.T @ axes.contrast[:, own]], axis=1)
    precision = everything.T @ everything + np.diag(np.concatenate([np.ones(N), np.full(len(own), scale**-2)]))
    mean = np.linalg.solve(precision, everything.T @ response)[N:]
    assert np.abs(mean).max() > 0.001
    assert axes.slot_score[own] / (scale**-2 + axes.slot_told[own]) == pytest.approx(mean, rel=1e-6)


@pytest.mark.parametrize("group", CONTRASTED)
def test_axes_of_a_group_are_contrasts_of_its_levels(group: str) -> None:
    """Another orthonormal basis of the effects that sum to zero over the levels seen."""
    span = LAYOUT.block(group)
    turned, plain = ANY.contrast[span, span], contrast(getattr(levels_seen(FLEET), group), span.stop - span.start)
    assert turned @ turned.T == pytest.approx(plain @ plain.T, abs=1e-12)
    own = turned[:, turned.any(axis=0)]
    assert own.T @ own == pytest.approx(np.eye(own.shape[1]), abs=1e-12)


def test_nothing_is_told_by_a_history_without_rows() -> None:
    axes = axes_of(told_by(np.zeros((0, N + LAYOUT.contrasted))), DATA, LAYOUT)
    assert np.array_equal(axes.root, DATA.root)
    assert not axes.lean.any()
    assert not axes.slot_told[: LAYOUT.contrasted].any()


def test_nothing_is_told_along_axes_that_no_level_has() -> None:
    for name in CONTRASTED:
        span = LAYOUT.block(name)
        assert not ANY.slot_told[span][~ANY.contrast[span, span].any(axis=0)].any()


def test_a_plants_stops_are_told_by_their_number() -> None:
    assert np.array_equal(ANY.slot_told[LAYOUT.block("sudden_plant")], DATA.sudden[0].sum(axis=0))
    assert DATA.sudden[0].any()


def test_a_history_tells_of_each_coordinate_apart_once_they_are_laid(compiled_for_recovery: Compiled) -> None:
    """By the compiled model itself: minus its second derivatives about the likeliest point, in coordinates before and after."""
    layout = compiled_for_recovery.layout
    plain = prepare(recovery_fleet().history.exposures, read_priors(), layout)
    turned = compiled_for_recovery.laid(plain)
    n, mixed = len(plain.root), []
    for data in (plain, turned):
        told = information(log_density(compiled_for_recovery.on(data)), data, layout)
        scale = usual_scales(data, layout)
        joint = np.block([[told.z + np.eye(n), told.between * scale], [(told.between * scale).T, told.turned * np.outer(scale, scale)]])
        joint[n:, n:] += np.eye(layout.contrasted)
        root = np.sqrt(np.diag(joint))
        correlation = np.abs(joint / np.outer(root, root))
        np.fill_diagonal(correlation, 0.0)
        mixed.append((correlation[:n, :n].max(), correlation[:n, n:].max()))
        widest = np.diag(joint)[n:].max()
    assert mixed[0][0] > 0.5 and mixed[0][1] > 0.3
    assert mixed[1][0] < 0.1 and mixed[1][1] < 0.1
    assert widest < 1.5  # of slots, whose scales follow what is told
