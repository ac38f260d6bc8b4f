"""The sampler's coordinates laid along what a history tells, for a sampler that takes its steps an axis at a time.

Coefficients are loc + root @ z with z standard normal, and root @ V, V orthogonal, is another root of the same prior; the V chosen
holds the eigenvectors of what is told of z. The effects u of a group are turned in the same way, and what is told along each axis
sets the scale of its coordinate, and from where it is counted. Where a plant's effect rises and what its air does falls, both are as
likely: so the coordinates sampled are z + lean @ u, whose likeliest value does not move with u. None of it changes the posterior.
"""

from dataclasses import dataclass

import numpy as np

from wearfit.model.data import ModelData
from wearfit.model.information import Slopes
from wearfit.model.layout import CONTRASTED, Layout

Array = np.ndarray


@dataclass(frozen=True)
class Axes:
    """What of `ModelData` says how the sampler's coordinates lie."""

    coefficient_root: Array  # (coefficient, coefficient)
    lean: Array  # (coefficient, contrasted slot)
    contrast: Array  # (turned slot, turned slot)
    slot_told: Array  # (slot,)
    slot_score: Array  # (slot,)


def axes_of(slopes: Slopes, d: ModelData, layout: Layout) -> Axes:
    """Axes by what each row tells.

    Notes
    -----
    The effects of a group are told as precisely as they are with all coefficients open and the other groups' effects known, which is
    rather too much than too little, those of a mirrored group one by one; a plant's sudden stops by their number, as is a Poisson
    rate on the log scale.
    """
    turn = _turned_least_to_most(slopes.coefficient)
    of_coefficient = slopes.coefficient @ turn
    precision = of_coefficient.T @ of_coefficient + np.eye(len(turn))
    by_coefficient = np.linalg.solve(precision, of_coefficient.T @ slopes.response)
    contrast, lean = d.contrast.copy(), np.zeros((len(turn), layout.contrasted))
    told, score = np.zeros(layout.size), np.zeros(layout.size)

    both = of_coefficient.T @ slopes.effect
    lean[:, layout.turned] = np.linalg.solve(precision, both)
    of_effects = slopes.effect.T @ slopes.effect - both.T @ lean[:, layout.turned]
    by_effect = slopes.effect.T @ slopes.response - both.T @ by_coefficient
    for name in CONTRASTED:
        block = layout.block(name)
        if block == layout.mirrored:
            continue
        span = slice(*np.searchsorted(layout.turned, (block.start, block.stop)))
        own = np.flatnonzero(contrast[span, span].any(axis=0))
        basis = contrast[span, span][:, own]
        along, axes = np.linalg.eigh(basis.T @ of_effects[span, span] @ basis)
        contrast[span, span.start + own] = _signed(basis @ axes)
        told[block.start + own] = np.maximum(along, 0.0)
        score[block.start + own] = contrast[span, span.start + own].T @ by_effect[span]

    both = np.asarray((slopes.mirrored.T @ of_coefficient).T)
    lean[:, layout.mirrored] = np.linalg.solve(precision, both)
    along = slopes.mirrored.multiply(slopes.mirrored).sum(axis=0) - (both * lean[:, layout.mirrored]).sum(axis=0)
    by_effect = slopes.mirrored.T @ slopes.response - both.T @ by_coefficient
    told[layout.mirrored] = d.mirror[1] * np.maximum(along, 0.0)
    score[layout.mirrored] = d.mirror[1] * (by_effect - d.mirror[0] * (d.mirror[0] @ by_effect))

    told[layout.block("sudden_plant")] = d.sudden[0].sum(axis=0)
    return Axes(d.coefficient_root @ turn, lean, contrast, told, score)


def _turned_least_to_most(slopes: Array) -> Array:
    """Orthogonal axes, those of which least is told first, shape (coefficient, coefficient)."""
    told, untold = np.flatnonzero(slopes.any(axis=0)), np.flatnonzero(~slopes.any(axis=0))
    axes = np.zeros((slopes.shape[1],) * 2)
    axes[untold, np.arange(len(untold))] = 1.0  # of what nothing is told each keeps its own axis
    _, axes[told, len(untold) :] = np.linalg.eigh(slopes[:, told].T @ slopes[:, told])
    return _signed(axes)


def _signed(axes: Array) -> Array:
    """Axes whose largest entry is positive: an eigenvector's sign is the library's whim."""
    return np.asarray(axes * np.sign(np.take_along_axis(axes, np.abs(axes).argmax(axis=0)[None], axis=0)))
