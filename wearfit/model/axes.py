"""The sampler's coordinates laid along what a history tells, for a sampler that takes its steps an axis at a time.

Coefficients, and with them effects without a scale of their own, are loc + root @ z with z standard normal, and root @ V, V orthogonal,
is another root of the same prior; the V chosen holds the eigenvectors of what is told of z. The effects u of a group are turned in the
same way, and what is told along each axis sets the scale of its coordinate, and from where it is counted. Where a plant's effect rises
and what its air does falls, both are as likely: so the coordinates sampled are z + lean @ u, whose likeliest value does not move with u.
What air does is a slope times air that is partly unknown: what that is beyond a line about the likeliest, u is counted short of, and
the level of all classes of its mean over plants, which u does not reach. So are effects on sudden stops of what these are beyond lines.
Scales of groups whose levels are known go by logarithms (`scale_coordinates`). None of it changes the posterior.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.model.data import CellColumns, ModelData, PlaceColumns, whole
from wearfit.model.information import Information, usual_scales
from wearfit.model.layout import CLASS_OFFSET, GROUPS, SCALED, Layout
from wearfit.model.parameters import by_level, unscaled_parameters
from wearfit.model.scale_coordinates import NOWHERE
from wearfit.model.start import start_about

Array = np.ndarray


KNOWN: Final = 2.0  # times what is left open of an effect: from there on a scale's coordinate goes by its logarithm


@dataclass(frozen=True)
class Axes:
    """What of `ModelData` says how the sampler's coordinates lie."""

    root: Array  # (z, z)
    lean: Array  # (z, scaled slot)
    lean_on_air: Array  # (z, plant slot)
    contrast: Array  # (turned slot, turned slot)
    log_from: Array  # (group,)
    slot_told: Array  # (scaled slot,)
    plant_told: Array  # (2, plant slot)
    slot_score: Array  # (scaled slot,)
    likely: Array  # (parameter,)
    start: Array  # (2, coordinate)


def axes_of(told: Information, d: ModelData, layout: Layout) -> Axes:
    """Axes by what is told.

    Notes
    -----
    An effect's likeliest value at the usual scale of its group says from where its coordinate is counted at any other.
    The effects of a group are told as precisely as they are with all of z open and the other groups' effects known, which is
    rather too much than too little, those of a mirrored group one by one.
    """
    turn, along = _turned_least_to_most(told.z)
    precision = np.maximum(along, 0.0) + 1.0
    lean = turn.T @ told.between / precision[:, None]

    contrast, of_told, effect = d.contrast.copy(), np.zeros(layout.scaled), np.zeros(layout.scaled)
    of_effects = told.turned - told.between[:, layout.turned].T @ turn @ lean[:, layout.turned]
    for name in SCALED:
        block = layout.block(name)
        if block == layout.mirrored:
            continue
        span = layout.among_turned(name)
        own = np.flatnonzero(contrast[span, span].any(axis=0))
        along, axes = np.linalg.eigh(of_effects[span, span][np.ix_(own, own)])
        turned = _signed(contrast[span, span][:, own] @ axes)
        effect[block.start + own] = turned.T @ contrast[span, span] @ told.effect[block]
        contrast[span, span.start + own] = turned
        of_told[block.start + own] = np.maximum(along, 0.0)

    counted = d.mirror[1]
    by_z = (told.between * (turn @ lean)).sum(axis=0)  # of what is told of an effect, how much no longer is where z is open
    of_told[layout.mirrored] = counted * np.maximum(told.mirrored - by_z[layout.mirrored], 0.0)
    effect[layout.mirrored] = counted * told.effect[layout.mirrored]
    scale = usual_scales(d, layout)
    score = (of_told + np.divide(1.0, scale**2, out=np.zeros_like(scale), where=scale > 0.0)) * effect

    lean_by_level = by_level(lean, d, layout)
    coefficients, unscaled = unscaled_parameters(told.likely_z, d)
    likely = np.concatenate([coefficients, np.zeros(layout.scaled), unscaled])
    likely_z = turn.T @ told.likely_z + lean @ told.effect
    log_from = _log_from(of_told, d, layout)
    start = start_about(told.share, np.stack([likely_z, precision]), told.read, log_from, layout)
    on_air = -np.outer(turn.T @ _level(told.z, d), _share_of_plants(d, layout))
    alone = _plants_alone(told, d.contrast, contrast, layout)
    return Axes(d.root @ turn, lean_by_level, on_air, contrast, log_from, of_told, alone, score, likely, start)


def _log_from(of_told: Array, d: ModelData, layout: Layout) -> Array:
    """`ModelData.log_from`: where scales are some times what the history leaves open of an effect, by what it tells in the middle."""
    out, group = np.full(len(GROUPS), NOWHERE), layout.group_of_slot()
    for i in np.unique(group):
        known = of_told[(group == i) & (of_told > 0.0)]
        if len(known):
            out[i] = min(NOWHERE, KNOWN / (d.group_prior[0, i] * np.sqrt(np.median(known))))
    return out


def _plants_alone(told: Information, before: Array, after: Array, layout: Layout) -> Array:
    """`ModelData.plant_told`, along the axes after they are turned."""
    out = []
    for span in (layout.among_turned(name) for name in ("plant", "sudden_plant")):
        turn = before[span, span].T @ after[span, span]
        out.append(((told.turned[span, span] @ turn) * turn).sum(axis=0))
    return np.maximum(out, 0.0)


def _level(told: Array, d: ModelData) -> Array:
    """How much further the likeliest z lies, all but class offsets known, where every plant wears tools e times as fast, shape (z,)."""
    classes = d.root[CLASS_OFFSET, CLASS_OFFSET]
    raised = np.linalg.pinv(classes) @ np.ones(len(classes))
    along, axes = np.linalg.eigh(told[CLASS_OFFSET, CLASS_OFFSET])
    out, known = np.zeros(len(told)), np.maximum(along, 0.0)
    out[CLASS_OFFSET] = axes @ (known / (1.0 + known) * (axes.T @ raised))
    return out


def _share_of_plants(d: ModelData, layout: Layout) -> Array:
    """What each plant counts in the mean over plants that the history has cells at, shape (plant slot,)."""
    of_cells = whole(d.place[:, PlaceColumns.plant])[whole(d.cell[:, CellColumns.place])]
    seen = np.unique(of_cells[of_cells < layout.plants - 1])  # the last slot is no plant's
    share = np.zeros(layout.plants)
    share[seen] = 1.0 / max(len(seen), 1)
    return share


def _turned_least_to_most(told: Array) -> tuple[Array, Array]:
    """Orthogonal axes, those of which least is told first, shape (z, z), and what is told along each."""
    known, unknown = np.flatnonzero(told.any(axis=0)), np.flatnonzero(~told.any(axis=0))
    axes, along = np.zeros_like(told), np.zeros(len(told))
    axes[unknown, np.arange(len(unknown))] = 1.0  # of what nothing is told each keeps its own axis
    along[len(unknown) :], axes[known, len(unknown) :] = np.linalg.eigh(told[np.ix_(known, known)])
    return _signed(axes), along


def _signed(axes: Array) -> Array:
    """Axes whose largest entry is positive: an eigenvector's sign is the library's whim."""
    return np.asarray(axes * np.sign(np.take_along_axis(axes, np.abs(axes).argmax(axis=0)[None], axis=0)))
