"""What a plant's air brings is a slope times air that is partly unknown: a product, which plants' effects are counted short of."""

from dataclasses import replace

import numpy as np
import pytest
from small_fleet import Coordinates, laid_anyhow, prior_draws, small_fleet

from wearfit.model.clock import log_place
from wearfit.model.data import ModelData, PlaceColumns, PlantColumns
from wearfit.model.graph import build_graph
from wearfit.model.layout import COEFFICIENTS, PLANT_SLOPES
from wearfit.model.parameters import Parameters, build_parameters, leaning, products, slot_scores, unscaled_parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors

Array = np.ndarray

FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
PLAIN = prepare(FLEET, read_priors(), LAYOUT)
LAID = laid_anyhow(PLAIN, LAYOUT)
N, PLANTS = len(COEFFICIENTS), LAYOUT.block("plant")
BEHIND = N + LAYOUT.scaled  # places of effects without a scale


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
    assert products(at[:N], at[BEHIND:], unsure, LAYOUT) == pytest.approx(beyond, rel=1e-10)


@pytest.mark.parametrize("scale", [0.05, 0.5])
def test_plants_are_counted_from_where_they_are_likely_given_the_product(scale: float) -> None:
    """Slots of zero are the mean of effects N(0, scale^2) of which is observed, along each axis, their sum with the product."""
    at = prior_draws(LAID, LAYOUT, draws=4, seed=3)
    w = at.w.copy()
    w[:, 0] = scale / LAID.group_prior[0, 0]
    p = build_parameters(at.z, at.share, w, np.zeros_like(at.slot), LAID, LAYOUT).all
    of_air = products(p[:, :N], p[:, BEHIND:], LAID, LAYOUT)
    axes, own = LAID.contrast[PLANTS, PLANTS], np.flatnonzero(LAID.contrast[PLANTS, PLANTS].any(axis=0))
    assert np.abs(of_air @ axes[:, own]).max() > 0.01
    precision = LAID.slot_told[PLANTS][own]
    observed = LAID.slot_score[PLANTS][own] / precision  # of effect and product together, where neither is known
    mean = (observed - of_air @ axes[:, own]) * precision / (precision + scale**-2)
    assert p[:, N:][:, PLANTS] @ axes[:, own] == pytest.approx(mean, rel=1e-9)


def test_other_groups_are_counted_as_without_a_product() -> None:
    at = prior_draws(LAID, LAYOUT, draws=4, seed=4)
    scores = slot_scores(*unscaled_parameters(at.z - leaning(at.w, at.slot, LAID, LAYOUT), LAID), LAID, LAYOUT)
    assert np.abs(scores - LAID.slot_score)[:, PLANTS].max() > 0.01
    assert np.array_equal(scores[:, PLANTS.stop :], np.broadcast_to(LAID.slot_score[PLANTS.stop :], scores[:, PLANTS.stop :].shape))


def log_density(data: ModelData, at: Coordinates) -> float:
    """Of the compiled graph, by coordinates."""
    point = {"z": at.z, "share_logodds__": np.log(at.share / (1.0 - at.share)), "w": at.w, "slot": at.slot, "read": at.read}
    return float(build_graph(data, LAYOUT).model.compile_logp(jacobian=False, mode="FAST_COMPILE")(point))


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
