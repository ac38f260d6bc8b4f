"""Parameters as the wear clock uses them, from the sampler's coordinates: written once for NumPy and PyTensor.

With NumPy, coordinates may carry a leading axis of draws; with PyTensor they have none. `d` is anything that holds the arrays of
`ModelData` under their names. How the coordinates lie is `axes`' to say. Shapes below leave the axis of draws out.
"""

from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

from wearfit.model.data import PlantColumns, whole
from wearfit.model.layout import COEFFICIENTS, GROUPS, PLANT_SLOPES, SHARES, Layout
from wearfit.model.stops import stops_beyond_lines

Array = Any


@dataclass(frozen=True)
class Parameters:
    """Parameters as the wear clock uses them.

    `all` (parameter,): coefficients in order of COEFFICIENTS, then group effects in order of `Layout.blocks`.
    `share` (share,): in order of SHARES.
    """

    all: Array
    share: Array

    def coefficient(self, name: str) -> Array:
        """One coefficient, with an axis kept for rows."""
        i = COEFFICIENTS.index(name)
        return self.all[..., i : i + 1]

    def share_of(self, name: str) -> Array:
        """One share, with an axis kept for rows."""
        i = SHARES.index(name)
        return self.share[..., i : i + 1]


@dataclass(frozen=True)
class ToldApart:
    """What the coordinates z stand for, told apart from group effects, and from where these are counted."""

    standard: Array  # (coefficient and unscaled slot,) by the prior independent and standard normal
    coefficients: Array  # (coefficient,)
    unscaled: Array  # (unscaled slot,)
    middles: Array  # (scaled slot,) see `slot_middles`


def build_parameters(z: Array, raw_share: Array, w: Array, slot: Array, d: Any, layout: Layout, xp: ModuleType = np) -> Parameters:
    """Parameters from the sampler's coordinates.

    Parameters
    ----------
    z : (coefficient and unscaled slot,) of which `ToldApart.standard` is N(0, 1), see `axes`
    raw_share : (share,) Beta
    w : (group,) standard normal; a group's scale is |w| times its half-normal prior's
    slot : (scaled slot,) N(-`slot_middles`, `slot_scales`^2), middles those of `ToldApart`

    Notes
    -----
    Effects are w's sign times scale (slot + middle) / sqrt(1 + scale^2 told), so that the sampler walks through a scale of zero
    instead of down the long tail that the logarithm of a scale has there.
    """
    on = d.share_prior[2]
    mean = d.share_prior[0] / (d.share_prior[0] + d.share_prior[1])
    apart = told_apart(z, w, slot, d, layout, xp)
    effects = slot_effects(w, slot + apart.middles, d, layout, xp)
    everything = xp.concatenate([apart.coefficients, effects, apart.unscaled], axis=-1)
    return Parameters(everything, on * raw_share + (1.0 - on) * mean)


def told_apart(z: Array, w: Array, slot: Array, d: Any, layout: Layout, xp: ModuleType = np) -> ToldApart:
    """By parameters, z comes first and then effects; by coordinates, z leans on slots, and from where they count hangs on what z brings."""
    upright = z - leaning(w, slot, d, layout, xp)
    of_air = products(upright, d, layout)
    by_prior = standard(upright, of_air, d)
    coefficients, unscaled = unscaled_parameters(by_prior, d)
    scores = slot_scores(w, of_air, coefficients, d, layout, xp)
    return ToldApart(by_prior, coefficients, unscaled, slot_middles(w, scores, d, layout, xp))


def unscaled_parameters(standard: Array, d: Any) -> tuple[Array, Array]:
    """Coefficients, and effects without a scale of their own, shapes (coefficient,) and (unscaled slot,)."""
    of_z, n = standard @ d.root.T, len(COEFFICIENTS)
    return d.coefficient_loc + of_z[..., :n], of_z[..., n:]


def leaning(w: Array, slot: Array, d: Any, layout: Layout, xp: ModuleType = np) -> Array:
    """Where the coordinates z lie about, by group effects that leave `products` out, shape (coefficient and unscaled slot,).

    What is left of z is upright: no group effect moves where it is likely.
    """
    return slot_effects(w, slot + slot_middles(w, d.slot_score, d, layout, xp), d, layout, xp) @ d.lean.T


def standard(upright: Array, of_air: Array, d: Any) -> Array:
    """Coordinates that the prior has independent and standard normal, by upright ones and `products`, shape of the upright ones."""
    return upright - of_air @ d.lean_on_air.T


def slot_effects(w: Array, counted: Array, d: Any, layout: Layout, xp: ModuleType = np) -> Array:
    """Effects of all levels, in order of `Layout.blocks`, by slots and their middles together, shape (scaled slot,)."""
    return by_level(_signed_scales(w, d, layout, xp) * counted / slot_scales(w, d, layout, xp), d, layout, xp)


def _signed_scales(w: Array, d: Any, layout: Layout, xp: ModuleType) -> Array:
    """Scale of the group of each slot, with the sign of its coordinate, shape (scaled slot,)."""
    return (w * d.group_prior[0] * d.group_prior[1])[..., layout.group_of_slot()]


def by_level(along: Array, d: Any, layout: Layout, xp: ModuleType = np) -> Array:
    """Effects of all levels, given those along the axes of their groups, shape (scaled slot,).

    Those of contrasted groups sum to zero over the levels seen.
    """
    span = layout.mirrored
    if span.start == span.stop:
        return along @ d.contrast.T
    turned = xp.concatenate([along[..., : span.start], along[..., span.stop :]], axis=-1) @ d.contrast.T
    mirrored = mirror_image(along[..., span], d)
    return xp.concatenate([turned[..., : span.start], mirrored, turned[..., span.start :]], axis=-1)


def mirror_image(along: Array, d: Any) -> Array:
    """The image, level by level of the mirrored group, of what is given along its axes, shape (..., mirrored slot): see `layout.mirror`."""
    counted = along * d.mirror[1]
    return counted - (counted * d.mirror[0]).sum(axis=-1, keepdims=True) * d.mirror[0]


def group_scales(w: Array, d: Any, xp: ModuleType = np) -> Array:
    """Scales of the groups, shape (group,); a group that is switched off keeps its prior's."""
    return xp.abs(w) * d.group_prior[0]


def slot_scales(w: Array, d: Any, layout: Layout, xp: ModuleType = np) -> Array:
    """Prior standard deviations of the slots, shape (scaled slot,).

    A history that tells `told` of an effect (the precision of a normal likelihood) leaves it a posterior precision of
    scale^-2 + told. Its slot is the effect over that standard deviation, counted from `slot_middles`, so that it stays near one
    whatever the scale is: where nothing is told a slot is a standard normal, and an effect that is known moves no more with its
    group's scale.
    """
    return xp.sqrt(1.0 + (group_scales(w, d, xp) ** 2)[..., layout.group_of_slot()] * d.slot_told)


def slot_middles(w: Array, scores: Array, d: Any, layout: Layout, xp: ModuleType = np) -> Array:
    """Posterior means of the effects over their posterior standard deviations, by what the history tells of them, shape (scaled slot,).

    A history whose log-likelihood has the slope `score` at an effect of zero, and the curvature `told`, leaves it the mean
    score / (scale^-2 + told). Counted from there, the slots of many levels no longer move all at once with their group's scale.
    """
    return _signed_scales(w, d, layout, xp) * scores / slot_scales(w, d, layout, xp)


def slot_scores(w: Array, of_air: Array, coefficients: Array, d: Any, layout: Layout, xp: ModuleType = np) -> Array:
    """Slopes of the history's log-likelihood along the axes of effects where all of them are zero, shape (scaled slot,).

    What is told of a plant is told of its effect and of what its air brings, as one sum. Of that, what is linear in z is `lean`'s to
    follow. The rest, `products`, z does not follow: a plant's effect is short of it by as much as it is likely to be with z known, which
    is told / (scale^-2 + told) by `plant_told`. Effects sum to zero over plants, so that the level of all classes must be short of its
    mean: see `standard`. A plant's effect on sudden stops is short of `stops_beyond_lines` in the same way.
    """
    plants, stops = layout.block("plant"), layout.block("sudden_plant")  # the first and the last of all, and never mirrored

    def of(name: str, by_plant: Array, alone: Array) -> Array:
        span, axes = layout.block(name), layout.among_turned(name)
        along, square = by_plant @ d.contrast[axes, axes], (group_scales(w, d, xp) ** 2)[..., GROUPS.index(name)][..., None]
        short = along * alone * (1.0 + square * d.slot_told[span]) / (1.0 + square * alone)
        return d.slot_score[span] - short

    of_wear = of("plant", of_air, d.plant_told[0])
    of_stops = of("sudden_plant", stops_beyond_lines(coefficients, d, xp), d.plant_told[1])
    between = xp.broadcast_to(d.slot_score[plants.stop : stops.start], (*of_wear.shape[:-1], stops.start - plants.stop))
    return xp.concatenate([of_wear, between, of_stops], axis=-1)


def products(upright: Array, d: Any, layout: Layout) -> Array:
    """What a plant's air brings beyond what is linear in slopes and unknown conditions about their likeliest values, shape (plant,).

    That is the sum, over conditions, of the spread of what is not known of one, times how far that and the slope lie from `likely`.
    Neither hangs on `lean_on_air`, so that upright coordinates tell them as `standard` ones do.
    """
    c, n, first = PlantColumns, len(COEFFICIENTS), len(COEFFICIENTS) + layout.scaled
    coefficients, unscaled = unscaled_parameters(upright, d)
    error = whole(d.plant[:, c.error]) - first
    unknown = unscaled[..., error] - d.likely[first:][error]
    return (d.plant[:, c.spread] * unknown * (coefficients - d.likely[:n])[..., PLANT_SLOPES][..., None, :]).sum(axis=-1)
