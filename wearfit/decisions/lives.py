"""A volume made by one life after the other: when each renewal falls due, and what it costs."""

from collections.abc import Callable, Iterator
from typing import Final

import numpy as np

from wearfit.decisions.costs import present_value
from wearfit.decisions.inputs import Values

Array = np.ndarray

MOST: Final = 60  # renewals followed; more than that many are no way to make a volume


def renewals(first: Array, fresh: Callable[[int], Array], volume: Array | float) -> Iterator[Array]:
    """Shots made when each renewal falls due, shape (sample, future), inf where the volume is made before.

    Parameters
    ----------
    first : array, shape (sample, future)
        Shots of the life under way.
    fresh : callable
        Shots of the n-th life after it, n from 1 on.
    volume : float or array, shape (sample, future)
        Shots to be made.
    """
    made = first
    for turn in range(1, MOST + 1):
        due = np.where(made < volume, made, np.inf)
        if not np.isfinite(due).any():
            return
        yield due
        made = made + fresh(turn)


def months_at(shots: Array, shots_per_month: float) -> Array:
    """Months until so many shots are made; inf stays inf."""
    return np.asarray(shots / shots_per_month)


def cost_of_renewals(
    first: Array, fresh: Callable[[int], Array], volume: float, each: float, shots_per_month: float, discount_rate: float
) -> Array:
    """What renewals cost until the volume is made, discounted, shape (sample, future). Each costs `each`."""
    total = np.zeros_like(first)
    for due in renewals(first, fresh, volume):
        total += each * present_value(months_at(due, shots_per_month), discount_rate)
    return total


def cost_of_volume(first: Array, fresh: Callable[[int], Array], volume: float, values: Values) -> Array:
    """What the ends of lives cost until a volume is made, discounted to its start, shape (sample, future).

    Each comes unplanned and costs a cavity set, the stop and the weeks without the tool.
    """
    each = values["retool_cost"] + values["stop_cost"] + values["gap_cost_per_week"] * values["retool_weeks"]
    return cost_of_renewals(first, fresh, volume, each, values["shots_per_month"], values["discount_rate"])
