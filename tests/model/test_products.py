"""What a plant's air brings is a slope times air that is partly unknown: a product, which plants' effects are counted short of."""

from dataclasses import replace

import numpy as np
import pytest
from priors_text import switched_off
from small_fleet import Coordinates, laid_anyhow, prior_draws, small_fleet, told_of_nothing

from wearfit.model.axes import axes_of
from wearfit.model.clock import log_place
from wearfit.model.data import ModelData, PlaceColumns, PlantColumns
from wearfit.model.graph import build_graph
from wearfit.model.layout import CLASS_OFFSET, COEFFICIENTS, PLANT_SLOPES
from wearfit.model.levels_seen import levels_seen
from wearfit.model.parameters import Parameters, build_parameters, products, slot_middles, standard, told_apart
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import parse_priors, read_priors
from wearfit.model.scale_coordinates import coordinate_of, log_stretch

Array = np.ndarray

FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
PLAIN = prepare(FLEET, read_priors(), LAYOUT)
LAID = laid_anyhow(PLAIN, LAYOUT)
N, PLANTS = len(COEFFICIENTS), LAYOUT.block("plant")
OF_NOTHING = told_of_nothing(PLAIN, LAYOUT)
BEHIND = N + LAYOUT.scaled  # places of effects without a scale


def coordinates_of(parameters: Array) -> Array:
    """Standard normal coordinates of coefficients and effects without a scale."""
    values = np.concatenate([parameters[..., :N] - LAID.coefficient_loc, parameters[..., BEHIND:]], axis=-1)
    return np.asarray(values @ np.linalg.pinv(LAID.root).T)


def test_products_are_what_lines_leave_of_the_clock() -> None:
    """The clock's own level of a plant, less what it is by lines in slopes and in unknown air about their likeliest values."""
    unsure = replace(LAID, plant=LAID.plant.copy(), place=np.zeros((LAYOUT.plants, LAID.place.shape[1])))
    unsure.plant[:, PlantColumns.spread] = np.random.default_rng(1).uniform(0.1, 0.5, unsure.plant[:, PlantColumns.spread].shape)
    unsure.place[:, PlaceColumns.plant] = np.arange(LAYOUT.plants)
    errors = np.arange(BEHIND, BEHIND + LAYOUT.plants * len(PLANT_SLOPES))
    rng, at = np.random.default_rng(2), LAID.likely.copy()
    at[PLANT_SLOPES] += rng.standard_normal(len(PLANT_SLOPES))
    at[errors] += rng.standard_normal(len(errors))

    def level(slopes: Array, air: Array) -> Array:
        values = at.copy()
        values[PLANT_SLOPES], values[errors] = slopes[PLANT_SLOPES], air[errors]
        return log_place(Parameters(values, np.zeros(0)), unsure)

    beyond = level(at, at) - level(at, LAID.likely) - level(LAID.likely, at) + level(LAID.likely, LAID.likely)
    assert np.abs(beyond).min() > 0.001
    assert products(coordinates_of(at), unsure, LAYOUT) == pytest.approx(beyond, rel=1e-8)


@pytest.mark.parametrize("scale", [0.05, 0.5])
def test_plants_are_counted_from_where_they_are_likely_given_the_product(scale: float) -> None:
    """Slots of zero are the mean of effects N(0, scale^2) of which is observed, along each axis, their sum with the product.

    What is observed apart from the product is by what is told with coefficients open, as they follow it; the product they do not follow.
    """
    at = prior_draws(LAID, LAYOUT, draws=4, seed=3)
    w = at.w.copy()
    w[:, 0] = scale / LAID.group_prior[0, 0]
    p = build_parameters(at.z, at.share, w, np.zeros_like(at.slot), LAID, LAYOUT).all
    of_air = products(coordinates_of(p), LAID, LAYOUT)
    axes, own = LAID.contrast[PLANTS, PLANTS], np.flatnonzero(LAID.contrast[PLANTS, PLANTS].any(axis=0))
    assert np.abs(of_air @ axes[:, own]).max() > 0.01
    precision = LAID.slot_told[PLANTS][own]
    observed = LAID.slot_score[PLANTS][own] / precision  # of effect and product together, where neither is known
    alone = LAID.plant_told[0, own]
    assert (alone > 1.2 * precision).any()
    mean = observed * precision / (precision + scale**-2) - of_air @ axes[:, own] * alone / (alone + scale**-2)
    assert p[:, N:][:, PLANTS] @ axes[:, own] == pytest.approx(mean, rel=1e-9)


def test_other_groups_are_counted_as_without_a_product() -> None:
    at = prior_draws(LAID, LAYOUT, draws=4, seed=4)
    off = told_apart(at.z, at.w, at.slot, LAID, LAYOUT).middles - slot_middles(at.w, LAID.slot_score, LAID, LAYOUT)
    stops = LAYOUT.block("sudden_plant")
    assert np.abs(off)[:, PLANTS].max() > 0.01
    assert np.abs(off)[:, stops].max() > 0.01
    assert np.array_equal(off[:, PLANTS.stop : stops.start], np.zeros((4, stops.start - PLANTS.stop)))


def log_density(data: ModelData, at: Coordinates) -> float:
    """Of the compiled graph, by coordinates, but for those of scales."""
    stretched = log_stretch(coordinate_of(at.w, data.log_from), data.log_from).sum()
    return float(build_graph(data, LAYOUT).model.compile_logp(jacobian=False, mode="FAST_COMPILE")(at.point(data))) - float(stretched)


def log_volume(data: ModelData, at: Coordinates) -> float:
    """Of parameters by z and slots: log of the product of the singular values of their derivatives, by differences, that are not zero."""
    both, size = np.concatenate([at.z, at.slot]), len(at.z)
    step = 1e-5 * np.eye(len(both))
    ahead, behind = (
        build_parameters(
            moved[:, :size], np.tile(at.share, (len(both), 1)), np.tile(at.w, (len(both), 1)), moved[:, size:], data, LAYOUT
        ).all
        for moved in (both + step, both - step)
    )
    values = np.linalg.svd((ahead - behind) / 2e-5, compute_uv=False)
    return float(np.log(values[values > 1e-6]).sum())


def test_parameters_are_as_likely_along_any_axes() -> None:
    """Of the same parameters, density by coordinates over their volume: what is sampled is one posterior, however coordinates lie."""
    for i in range(2):
        plain, laid = (prior_draws(data, LAYOUT, draws=2, seed=5).draw(i) for data in (PLAIN, LAID))
        ours, theirs = (build_parameters(at.z, at.share, at.w, at.slot, d, LAYOUT).all for at, d in ((laid, LAID), (plain, PLAIN)))
        assert ours == pytest.approx(theirs, rel=1e-8, abs=1e-8)
        assert abs(log_volume(LAID, laid) - log_volume(PLAIN, plain)) > 1.0
        by_plain = log_density(PLAIN, plain) - log_volume(PLAIN, plain)
        assert log_density(LAID, laid) - log_volume(LAID, laid) == pytest.approx(by_plain, abs=1e-3)


def test_classes_are_counted_from_where_their_level_is_likely_given_the_products() -> None:
    """Class offsets N(0, C), held against the mean of the products by what is told of them: C by the priors, told in offsets' own terms."""
    n, told = len(PLAIN.root), np.zeros((len(PLAIN.root),) * 2)
    slopes = np.random.default_rng(6).standard_normal((20, CLASS_OFFSET.stop - CLASS_OFFSET.start))
    told[CLASS_OFFSET, CLASS_OFFSET] = slopes.T @ slopes
    laid = replace(PLAIN, **vars(axes_of(replace(OF_NOTHING, z=told), PLAIN, LAYOUT)))
    root = PLAIN.root[CLASS_OFFSET, CLASS_OFFSET]
    covariance, by_offset = root @ root.T, np.linalg.inv(root).T @ slopes.T @ slopes @ np.linalg.inv(root)
    per_unit = np.linalg.solve(np.linalg.inv(covariance) + by_offset, by_offset @ np.ones(len(root)))
    assert np.ptp(per_unit) > 0.01

    of_air = np.random.default_rng(7).standard_normal(LAYOUT.plants)
    seen = of_air[levels_seen(FLEET).plant.nonzero()[0]].mean()
    moved = laid.root @ standard(np.zeros(n), of_air, laid)
    assert moved[CLASS_OFFSET] == pytest.approx(per_unit * seen, rel=1e-9)
    assert np.delete(moved, np.r_[CLASS_OFFSET]) == pytest.approx(np.zeros(n - len(root)), abs=1e-12)


def test_products_do_not_hang_on_the_level_of_the_classes() -> None:
    upright = np.random.default_rng(8).standard_normal((5, len(LAID.root)))
    of_air = products(upright, LAID, LAYOUT)
    moved = standard(upright, of_air, LAID)
    assert np.abs(moved - upright).max() > 0.01
    assert products(moved, LAID, LAYOUT) == pytest.approx(of_air, rel=1e-9)


@pytest.mark.parametrize("switched", ["", "class_offset"], ids=["nothing is told", "switched off"])
def test_a_level_of_which_nothing_can_be_told_is_counted_as_without_products(switched: str) -> None:
    everything = replace(OF_NOTHING, z=np.eye(len(PLAIN.root)))
    assert axes_of(everything, PLAIN, LAYOUT).lean_on_air.any()
    off = prepare(FLEET, parse_priors(switched_off("class_offset")), LAYOUT)
    assert not (axes_of(everything, off, LAYOUT) if switched else axes_of(OF_NOTHING, PLAIN, LAYOUT)).lean_on_air.any()
