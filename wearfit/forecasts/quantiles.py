"""Quantiles of weighted draws, and how answers write them."""

import datetime as dt
from typing import Final

import numpy as np

Array = np.ndarray

PROBABILITIES: Final = (0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95)
NAMES: Final = ("p05", "p10", "p25", "p50", "p75", "p90", "p95")

Quantiles = dict[str, float | None]
DateQuantiles = dict[str, str | None]


def weighted_quantiles(values: Array, weights: Array, probabilities: tuple[float, ...] = PROBABILITIES) -> Array:
    """Smallest value at which the weighted share of draws reaches each probability.

    Parameters
    ----------
    values, weights : arrays, shape (sample, column)
        Values may be infinite; weights are not negative and not all zero in a column.

    Returns
    -------
    array, shape (probability, column)
    """
    order = np.argsort(values, axis=0, kind="stable")
    ranked = np.take_along_axis(values, order, axis=0)
    reached = np.cumsum(np.take_along_axis(weights, order, axis=0), axis=0)
    reached /= reached[-1]
    out = np.empty((len(probabilities), values.shape[1]))
    for i, probability in enumerate(probabilities):
        at = np.minimum((reached < probability - 1e-9).sum(axis=0), len(values) - 1)
        out[i] = ranked[at, np.arange(values.shape[1])]
    return out


def weighted_mean(values: Array, weights: Array) -> Array:
    """Weighted mean over draws, shape (column,)."""
    return np.asarray((values * weights).sum(axis=0) / weights.sum(axis=0))


def as_numbers(column: Array) -> Quantiles:
    """Quantiles of one quantity by name; null where not finite."""
    return {name: finite(value) for name, value in zip(NAMES, column, strict=True)}


def as_dates(days_ahead: Array, as_of: dt.date, horizon_days: float) -> DateQuantiles:
    """Quantiles of a day counted from the as-of day by name; null past the horizon."""
    return {name: date_ahead(value, as_of, horizon_days) for name, value in zip(NAMES, days_ahead, strict=True)}


def date_ahead(days: float, as_of: dt.date, horizon_days: float) -> str | None:
    """ISO date so many days after the as-of day, None past the horizon or where unknown."""
    if not np.isfinite(days) or days > horizon_days:
        return None
    return (as_of + dt.timedelta(days=int(days))).isoformat()


def finite(value: float) -> float | None:
    """The number, or None where JSON could not hold it."""
    return float(value) if np.isfinite(value) else None
