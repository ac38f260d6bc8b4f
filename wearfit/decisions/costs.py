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


def annuity(months: Array | float, discount_rate: float) -> Array:
    """Present value of one unit of money a month for so many months, paid evenly."""
    ahead = np.asarray(months, dtype=float)
    return (
        ahead if discount_rate == 0 else np.asarray(-np.expm1(-np.log1p(discount_rate) / 12.0 * ahead) / (np.log1p(discount_rate) / 12.0))
    )


def mean_over(of: Array, weights: Array) -> float:
    """Mean over draws and futures of what has shape (sample, future)."""
    return float(of.mean(axis=1) @ weights / weights.sum())


def break_even_chance(dearer_if: float, dearer_if_not: float) -> float | None:
    """Chance of an event at which two actions cost the same; None where one of them is the cheaper at any chance.

    Parameters
    ----------
    dearer_if, dearer_if_not : float
        What the first costs more than the second with the event and without.
    """
    if (dearer_if < 0) == (dearer_if_not < 0):
        return None
    return dearer_if_not / (dearer_if_not - dearer_if)
