"""What a calculator gives: the cost of each action in every future of every draw."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

Array = np.ndarray

FOREVER: Final = 1e6  # [month] as good as never
WEEKS_PER_MONTH: Final = 365.25 / 12.0 / 7.0


@dataclass(frozen=True)
class Costs:
    """Costs of the actions that are compared.

    Parameters
    ----------
    actions : tuple of str
        Each as a phrase that can follow "Best:", such as "retool now".
    cost : array, shape (action, sample, future)
        Discounted to today. One future stands for the mean over all where that is worked out in closed form.
    weights : array, shape (sample,)
        Of the draws.
    per : str
        What the money is paid for, such as "to make 500,000 shots".
    details : mapping
        More that the calculator found, for JSON.
    notes : tuple of str
        The same in sentences, with what is left out.
    finding : str
        A sentence that comes before the advice.
    keys : tuple of str
        What stays of an action's name whatever the inputs and the draws; the names themselves unless given.
    """

    actions: tuple[str, ...]
    cost: Array
    weights: Array
    per: str
    details: Mapping[str, Any] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    finding: str = ""
    keys: tuple[str, ...] = ()

    @property
    def known_as(self) -> tuple[str, ...]:
        """A key for each action."""
        return self.keys or self.actions

    @property
    def expected(self) -> Array:
        """Expected cost of each action given each draw, shape (action, sample)."""
        return np.asarray(self.cost.mean(axis=2))

    @property
    def mean(self) -> Array:
        """Expected cost of each action, shape (action,)."""
        return np.asarray(self.expected @ self.weights / self.weights.sum())


def present_value(months: Array | float, discount_rate: float) -> Array:
    """What one unit of money in so many months is worth today; nothing in infinitely many."""
    ahead = np.asarray(months, dtype=float)
    return np.asarray(np.exp(-np.log1p(discount_rate) / 12.0 * np.minimum(ahead, FOREVER)) * (ahead < FOREVER))
