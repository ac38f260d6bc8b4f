"""Sums of what lies at some place, draw by draw: `np.add.at` along the last axis, without its passes over strided columns."""

import numpy as np

from wearfit.model.kept_loops import kept

Array = np.ndarray


@kept
def add_by_place(total: Array, values: Array, place: Array) -> None:
    """Add values, shape (draw, item), to a total, shape (draw, place), each at its item's place, in order of the items."""
    for draw in range(len(values)):
        for i in range(len(place)):
            total[draw, place[i]] += values[draw, i]


def summed(values: Array, place: Array, places: int) -> Array:
    """Values, shape (draw, item), summed by place, shape (draw, place)."""
    total = np.zeros((len(values), places))
    add_by_place(total, np.ascontiguousarray(values, dtype=float), place)
    return total
