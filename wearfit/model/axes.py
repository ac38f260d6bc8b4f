"""The sampler's coordinates laid along what a history tells, for a sampler that takes its steps an axis at a time.

Coefficients are loc + root @ z with z standard normal, and root @ V, V orthogonal, is another root of the same prior; the V chosen
holds the eigenvectors of what is told of z. The effects u of a group are turned in the same way, and what is told along each axis
sets the scale of its coordinate. Where a plant's effect rises and what its air does falls, both are as likely: so the coordinates
sampled are z + lean @ u, whose likeliest value does not move with u. None of it changes the posterior.
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
    contrast: Array  # (contrasted slot, contrasted slot)
    slot_told: Array  # (slot,)


def axes_of(slopes: Slopes, d: ModelData, layout: Layout) -> Axes:
    """Axes by what each row tells.

    Notes
    -----
    The effects of a group are told as precisely as they are with all coefficients open and the other groups' effects known, which is
    rather too much than too little; a plant's sudden stops by their number, as is a Poisson rate on the log scale.
    """
    turn = _turned_least_to_most(slopes.coefficient)
    of_coefficient = slopes.coefficient @ turn
    precision = of_coefficient.T @ of_coefficient + np.eye(len(turn))
    both = of_coefficient.T @ slopes.effect
    lean = np.linalg.solve(precision, both)
    of_effects = slopes.effect.T @ slopes.effect - both.T @ lean
    contrast, told = d.contrast.copy(), np.zeros(layout.size)
    for name in CONTRASTED:
        span = layout.block(name)
        own = np.flatnonzero(contrast[span, span].any(axis=0))
        basis = contrast[span, span][:, own]
        along, axes = np.linalg.eigh(basis.T @ of_effects[span, span] @ basis)
        contrast[span, span.start + own] = _signed(basis @ axes)
        told[span.start + own] = np.maximum(along, 0.0)
    told[layout.block("sudden_plant")] = d.sudden[0].sum(axis=0)
    return Axes(d.coefficient_root @ turn, lean, contrast, told)


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
