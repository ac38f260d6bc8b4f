"""The prior as the product that it is: its entries, each with its log density at the draws of a saved calibration."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import xlog1py, xlogy

from wearfit.calibration import Calibration
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES
from wearfit.model.priors import Priors

Array = np.ndarray

FEATURE_PARTS: Final = ("reading.level", "reading.growth", "reading.noise")
ENTRY_OF: Final = {
    "log_shape": "shape",
    "log_setup": "setup",
    "log_sudden_per_life": "sudden.per_life",
    "log_sudden_per_handling": "sudden.per_handling",
    "log_storage": "storage.rate",
    "reading.log_life_sd": "reading.life",
    "reading.log_life_growth_sd": "reading.life_growth",
}
"""Entries of the priors file that have another name than their coefficient."""


@dataclass(frozen=True)
class PriorPart:
    """One independent part of the prior.

    Parameters
    ----------
    entry : str
        Of the priors file; several are joined by a comma where the file correlates them.
    values : array, shape (sample, parameter)
        What it is a prior of.
    log_density : array, shape (sample,)
        Up to a constant.
    """

    entry: str
    values: Array
    log_density: Array


def prior_parts(calibration: Calibration, priors: Priors) -> tuple[PriorPart, ...]:
    """All parts that are not switched off.

    Notes
    -----
    Effects of plants, resins, designs, makers and tools have their scale's prior as their own: only that is asked about, as the
    spread of effects given their scale is no belief that anybody wrote down (Kallioinen et al. 2024, sec. 2.3).
    """
    drawn = calibration.draws
    coefficient = np.asarray(drawn.coefficient, dtype=float)
    parts = [
        PriorPart(_entries(block), coefficient[:, block], _normal(coefficient[:, block], priors.loc[block], covariance))
        for block, covariance in _blocks(priors)
    ]
    for i, name in enumerate(SHARES):
        if priors.share_on[i]:
            share = np.asarray(drawn.share[:, i], dtype=float)
            density = xlogy(priors.share_a[i] - 1.0, share) + xlog1py(priors.share_b[i] - 1.0, -share)
            parts.append(PriorPart(name, share[:, None], density))
    for i, name in enumerate(GROUPS):
        if priors.group_on[i]:
            scale = np.asarray(drawn.scale[:, i], dtype=float)
            parts.append(PriorPart(f"group.{name}", scale[:, None], -0.5 * (scale / priors.scale[i]) ** 2))
    for i, (entry, values) in enumerate(zip(FEATURE_PARTS, (drawn.feature_level, drawn.feature_growth, drawn.feature_noise), strict=True)):
        of = np.asarray(values, dtype=float)
        common, own = priors.feature_sd[:, i]
        if of.shape[1] and own > 0.0:
            covariance = common**2 + own**2 * np.eye(of.shape[1])
            # Growth and noise are saved as they are, and their logs have the prior.
            at = of if i == 0 else np.log(np.maximum(of, 1e-300))
            parts.append(PriorPart(entry, of, _normal(at, np.full(of.shape[1], priors.feature_loc[i]), covariance)))
    return tuple(part for part in parts if np.ptp(part.values, axis=0).max() > 1e-12)


def _blocks(priors: Priors) -> list[tuple[Array, Array]]:
    """Coefficients that the priors correlate, in order, and their covariance; those that never vary are left out."""
    covariance = priors.root @ priors.root.T
    left, found = list(np.flatnonzero(np.diag(covariance) > 0.0)), []
    while left:
        block = [left.pop(0)]
        for member in block:
            near = [i for i in left if abs(covariance[member, i]) > 1e-15]
            block += near
            left = [i for i in left if i not in near]
        order = np.array(sorted(block))
        found.append((order, covariance[np.ix_(order, order)]))
    return found


def _entries(block: Sequence[int] | Array) -> str:
    names = [
        ENTRY_OF.get(COEFFICIENTS[i], COEFFICIENTS[i].split(".")[0] if COEFFICIENTS[i].startswith("class_") else COEFFICIENTS[i])
        for i in block
    ]
    return ", ".join(dict.fromkeys(names))


def _normal(values: Array, loc: Array, covariance: Array) -> Array:
    away = values - loc
    return np.asarray(-0.5 * np.einsum("si,ij,sj->s", away, np.linalg.pinv(covariance, hermitian=True), away))
