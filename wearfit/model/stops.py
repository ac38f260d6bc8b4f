"""Sudden stops that are to be expected of a plant like any other, and how far their logarithm leaves lines in the coefficients."""

from types import ModuleType
from typing import Any, Final

import numpy as np

from wearfit.model.layout import CLASS_OFFSET, COEFFICIENTS

Array = Any

PER_LIFE, PER_HANDLING = (COEFFICIENTS.index(f"log_sudden_{rate}") for rate in ("per_life", "per_handling"))
LEAST: Final = 1e-30  # expected, so that a plant without any has a logarithm


def usual_stops(coefficients: Array, d: Any, xp: ModuleType = np) -> tuple[Array, Array]:
    """Sudden stops to be expected by shots and by handlings where a plant's effect is nought, each of shape (class, plant slot)."""
    lives, handlings = d.sudden[1], d.sudden[2]
    by_life = xp.exp(coefficients[..., PER_LIFE : PER_LIFE + 1] - coefficients[..., CLASS_OFFSET])
    by_handling = xp.exp(coefficients[..., PER_HANDLING : PER_HANDLING + 1])
    return by_life[..., :, None] * lives, by_handling[..., :, None] * handlings


def stops_beyond_lines(coefficients: Array, d: Any, xp: ModuleType = np) -> Array:
    """Log of the stops to be expected of each plant, less its tangent where coefficients are `likely`, shape (plant slot,).

    Stops by shots and by handlings are told as one sum: where the one rate rises the other falls, along a curve.
    """
    at = d.likely[: len(COEFFICIENTS)]
    (shots, handlings), usual = usual_stops(at, d, xp), _of_plants(coefficients, d, xp)
    total, off = _of_plants(at, d, xp), coefficients - at
    by_class = off[..., PER_LIFE : PER_LIFE + 1] - off[..., CLASS_OFFSET]
    tangent = (by_class[..., :, None] * shots).sum(axis=-2) + off[..., PER_HANDLING : PER_HANDLING + 1] * handlings.sum(axis=-2)
    return xp.log(usual / total) - tangent / total


def _of_plants(coefficients: Array, d: Any, xp: ModuleType) -> Array:
    """Stops to be expected of each plant whose effect is nought, shape (plant slot,)."""
    by_shots, by_handling = usual_stops(coefficients, d, xp)
    return xp.maximum((by_shots + by_handling).sum(axis=-2), LEAST)
