"""Axes of coefficients and effects: the same prior, and what a history tells no longer mixed."""

from dataclasses import replace

import numpy as np
import pytest
from recovery_fleet import recovery_fleet
from small_fleet import prior_draws, small_fleet

from wearfit.model.axes import axes_of
from wearfit.model.data import ModelData
from wearfit.model.information import USUAL_SCALE, Information, information, usual_scales
from wearfit.model.layout import COEFFICIENTS, CONTRASTED, GROUPS, SCALED, SHARES, contrast
from wearfit.model.levels_seen import levels_seen
from wearfit.model.native import Coordinates, log_density
from wearfit.model.parameters import build_parameters, leaning
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.sampler import Compiled

Array = np.ndarray

FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
DATA = prepare(FLEET, read_priors(), LAYOUT)
N = len(DATA.root)
SUDDEN = LAYOUT.block("sudden_plant")


def told_by(slopes: Array, response: Array | None = None) -> Information:
    """What normal observations of sums of z and of effects along axes tell, shape (observation, z + scaled slot)."""
    scale, precision = usual_scales(DATA, LAYOUT), slopes.T @ slopes
    pull = np.zeros(len(precision)) if response is None else slopes.T @ response
    likeliest = np.linalg.solve(precision + np.diag(np.concatenate([np.ones(N), scale**-2.0])), pull)
    of_effects, turned = precision[N:, N:], LAYOUT.turned
    return Information(
        z=precision[:N, :N],
        between=precision[:N, N:],
        turned=of_effects[np.ix_(turned, turned)],
        mirrored=np.zeros(0),
        effect=likeliest[N:],
        likely_z=likeliest[:N],
        share=np.stack([np.full(len(SHARES), 0.3), np.full(len(SHARES), 4.0)]),
        read=np.stack([np.full(LAYOUT.reads, -0.2), np.full(LAYOUT.reads, 25.0)]),
    )


def laid(told: Information) -> ModelData:
    return replace(DATA, **vars(axes_of(told, DATA, LAYOUT)))


ANY = laid(told_by(np.random.default_rng(1).standard_normal((60, N + LAYOUT.scaled))))


def test_prior_is_the_same() -> None:
    assert ANY.root @ ANY.root.T == pytest.approx(DATA.root @ DATA.root.T, abs=1e-12)
    assert not np.allclose(ANY.root, DATA.root)


def test_coordinates_that_lean_are_other_names_of_the_same_parameters() -> None:
    upright, at = replace(ANY, lean=np.zeros_like(ANY.lean)), prior_draws(ANY, LAYOUT, draws=5, seed=3)
    lean = leaning(at.w, at.slot, ANY, LAYOUT)
    assert np.abs(lean).max() > 0.01
    leant = build_parameters(at.z, at.share, at.w, at.slot, ANY, LAYOUT)
    plain = build_parameters(at.z - lean, at.share, at.w, at.slot, upright, LAYOUT)
    assert leant.all == pytest.approx(plain.all, rel=1e-12, abs=1e-12)


def test_leaning_coordinates_and_effects_are_told_apart() -> None:
    """The joint precision of z and u, turned to z + lean @ u: nothing is left between the two, nor between axes of either."""
    seen = np.concatenate([np.ones(N), DATA.contrast.any(axis=0)])
    slopes = np.random.default_rng(5).standard_normal((60, N + LAYOUT.scaled)) * seen
    axes = axes_of(told_by(slopes), replace(DATA, root=np.eye(N)), LAYOUT)
    by_level = slopes[:, N:].copy()
    by_level[:, LAYOUT.turned] = slopes[:, N:][:, LAYOUT.turned] @ DATA.contrast.T
    both = np.concatenate([slopes[:, :N] @ axes.root, by_level], axis=1)
    precision = both.T @ both
    precision[:N, :N] += np.eye(N)
    to_plain = np.eye(len(precision))
    to_plain[:N, N:] = -axes.lean
    leant = to_plain.T @ precision @ to_plain
    assert np.abs(precision[:N, N:]).max() > 1.0
    assert leant[:N, N:] == pytest.approx(np.zeros((N, LAYOUT.scaled)), abs=1e-8)
    assert leant[:N, :N] == pytest.approx(np.diag(np.diag(leant)[:N]), abs=1e-8)
    for name in SCALED:
        span = LAYOUT.block(name)
        along = axes.contrast[span, span].T @ leant[N:, N:][span, span] @ axes.contrast[span, span]
        assert along == pytest.approx(np.diag(axes.slot_told[span]), abs=1e-8), name
    with_all_else_known, plants = by_level.T @ by_level, LAYOUT.block("plant")
    for alone, span in zip(axes.plant_told, (plants, SUDDEN), strict=True):
        along = axes.contrast[span, span].T @ with_all_else_known[span, span] @ axes.contrast[span, span]
        assert alone == pytest.approx(np.diag(along), abs=1e-8)
    assert (axes.plant_told[0] > axes.slot_told[plants] + 1.0).any()


@pytest.mark.parametrize("group", SCALED)
@pytest.mark.parametrize("scale", [0.05, 0.5])
def test_slots_are_counted_from_where_effects_are_likely(group: str, scale: float) -> None:
    """Score / (scale^-2 + told) along each axis is the mean of effects N(0, scale^2) in a linear model with z open."""
    rng, span = np.random.default_rng(7), LAYOUT.block(group)
    slopes = np.zeros((60, N + LAYOUT.scaled))
    own = span.start + np.flatnonzero(DATA.contrast[span, span].any(axis=0))
    slopes[:, :N], slopes[:, N + own] = rng.standard_normal((60, N)), rng.standard_normal((60, len(own)))
    response = rng.standard_normal(60)
    axes = axes_of(told_by(slopes, response), DATA, LAYOUT)
    of_levels = slopes[:, N:][:, LAYOUT.turned] @ DATA.contrast.T
    everything = np.concatenate([slopes[:, :N], of_levels @ axes.contrast[:, own]], axis=1)
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
    axes = axes_of(told_by(np.zeros((0, N + LAYOUT.scaled))), DATA, LAYOUT)
    assert np.array_equal(axes.root, DATA.root)
    assert not axes.lean.any()
    assert not axes.slot_told.any()


def test_nothing_is_told_along_axes_that_no_level_has() -> None:
    for name in CONTRASTED:
        span = LAYOUT.block(name)
        assert not ANY.slot_told[span][~ANY.contrast[span, span].any(axis=0)].any()


def test_chains_start_about_the_likeliest_point() -> None:
    """Parameters there are the likeliest where all groups have their usual scales; z is as far off as is known of it given effects."""
    slopes, response = np.random.default_rng(9).standard_normal((60, N + LAYOUT.scaled)), np.random.default_rng(10).standard_normal(60)
    told = told_by(slopes, response)
    data, first = laid(told), len(SHARES) + len(GROUPS)
    at = dict(zip(("share", "w", "slot", "z", "read"), np.split(data.start[0], np.cumsum(Coordinates.of(LAYOUT).sizes)[:-1]), strict=True))
    p = build_parameters(at["z"], 1.0 / (1.0 + np.exp(-at["share"])), np.full(len(GROUPS), USUAL_SCALE), at["slot"], data, LAYOUT)
    assert p.share == pytest.approx(1.0 / (1.0 + np.exp(-told.share[0])))
    own, n = DATA.contrast.any(axis=0), len(COEFFICIENTS)
    seen = told.effect[LAYOUT.turned] * own
    assert p.all[n:][LAYOUT.turned] == pytest.approx(DATA.contrast @ seen, abs=1e-6)
    precision = slopes[:, :N].T @ slopes[:, :N] + np.eye(N)
    z = slice(first + LAYOUT.scaled, first + LAYOUT.scaled + N)
    assert np.sort(data.start[1][z]) == pytest.approx(np.sort(np.linalg.eigvalsh(precision) ** -0.5), rel=1e-8)
    assert data.start[1][z.stop :] == pytest.approx(0.2)
    assert np.array_equal(data.start[1][first : z.start], np.ones(LAYOUT.scaled))


def test_a_history_tells_of_each_coordinate_apart_once_they_are_laid(compiled_for_recovery: Compiled) -> None:
    """By the compiled model itself: minus its second derivatives about the likeliest point, in coordinates before and after."""
    layout = compiled_for_recovery.layout
    plain = prepare(recovery_fleet().history.exposures, read_priors(), layout)
    turned = compiled_for_recovery.laid(plain)
    n, mixed = len(plain.root), []
    for data in (plain, turned):
        told = information(log_density(compiled_for_recovery.on(data)), data, layout)
        scale = usual_scales(data, layout)
        of_effects = told.turned * np.outer(scale, scale)
        joint = np.block([[told.z, told.between * scale], [(told.between * scale).T, of_effects]]) + np.eye(n + layout.scaled)
        root = np.sqrt(np.diag(joint))
        correlation = np.abs(joint / np.outer(root, root))
        np.fill_diagonal(correlation, 0.0)
        mixed.append((correlation[:n, :n].max(), correlation[:n, n:].max()))
        widest = np.diag(joint)[n:].max()
    assert mixed[0][0] > 0.5 and mixed[0][1] > 0.3
    assert mixed[1][0] < 0.1 and mixed[1][1] < 0.1
    assert widest < 1.5  # of slots, whose scales follow what is told
