"""Quantiles of weighted draws, and how answers write them."""

import datetime as dt
import math
from typing import Final

import numpy as np

Array = np.ndarray

PROBABILITIES: Final = (0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95)
NAMES: Final = ("p05", "p10", "p25", "p50", "p75", "p90", "p95")
ROUNDING: Final = 1e-9  # shares that differ by less are the same
DAY_ROUNDING: Final = 1e-6  # [day]

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
    ranked, reached = _ranked(values, weights)
    return np.stack([_pick(ranked, (reached < probability - ROUNDING).sum(axis=0)) for probability in probabilities])


def singly(values: Array) -> Array:
    """Values in single precision, which are put in order in half the time: a quantile moves by 6e-8 of itself at most."""
    return values.astype(np.float32, copy=False)


def last_within(values: Array, weights: Array, share: float) -> Array:
    """Largest t at which the values below t hold at most this share of the weight, shape (column,)."""
    if alike(weights):  # one place alone need be right, which takes half as long as all
        place = min(int(np.floor((share + ROUNDING) * len(values))), len(values) - 1)
        return np.asarray(np.partition(values, place, axis=0)[place])
    ranked, reached = _ranked(values, weights)
    return _pick(ranked, (reached <= share + ROUNDING).sum(axis=0))


def _ranked(values: Array, weights: Array) -> tuple[Array, Array]:
    """Values in order, and the share of the weight reached at each, shape (sample, column) or (sample, 1)."""
    if alike(weights):
        return np.sort(values, axis=0), np.arange(1.0, len(values) + 1.0)[:, None] / len(values)
    order = np.argsort(values, axis=0)
    reached = np.cumsum(np.take_along_axis(weights, order, axis=0), axis=0, dtype=float)
    return np.take_along_axis(values, order, axis=0), reached / reached[-1]


def _pick(ranked: Array, place: Array) -> Array:
    return np.asarray(ranked[np.minimum(place, len(ranked) - 1), np.arange(ranked.shape[1])])


def weighted_mean(values: Array, weights: Array) -> Array:
    """Weighted mean over draws, shape (column,)."""
    if weights.strides == (0, 0):  # one weight for all
        counted = values.dtype == bool
        return (np.count_nonzero(values, axis=0) if counted else _column_sums(values)) / len(values)
    return _column_sums(values * weights) / _column_sums(weights)


def alike(weights: Array) -> bool:
    """Whether all draws weigh the same in each column."""
    return weights.strides[0] == 0 or bool(np.all(weights == weights[:1]))


def _column_sums(values: Array) -> Array:
    """Sums over draws, rounded alike whether a column stands alone or among others."""
    return np.asarray(np.ascontiguousarray(values.T, dtype=float).sum(axis=1))


def as_numbers(column: Array) -> Quantiles:
    """Quantiles of one quantity by name; null where not finite."""
    return {name: value if math.isfinite(value) else None for name, value in zip(NAMES, column.tolist(), strict=True)}


def as_dates(days_ahead: Array, as_of: dt.date, horizon_days: float) -> DateQuantiles:
    """Quantiles of a day counted from the end of the as-of day by name; null past the horizon."""
    return {name: date_ahead(value, as_of, horizon_days) for name, value in zip(NAMES, days_ahead.tolist(), strict=True)}


def numbers_of_each(columns: Array) -> list[Quantiles]:
    """`as_numbers` of each column of (quantile, column)."""
    rows: list[list[float | None]] = columns.T.tolist()
    if not np.isfinite(columns).all():
        rows = [[value if value is not None and math.isfinite(value) else None for value in row] for row in rows]
    return [dict(zip(NAMES, row, strict=True)) for row in rows]


def dates_of_each(days_ahead: Array, as_of: dt.date, horizon_days: float) -> list[DateQuantiles]:
    """`as_dates` of each column of (quantile, column)."""
    told = days_ahead <= horizon_days
    ahead = np.ceil(np.where(told, days_ahead, 0.0) - DAY_ROUNDING).astype(np.int64)
    dates = np.datetime_as_string(np.datetime64(as_of, "D") + ahead).astype(object)
    dates[~told] = None
    return [dict(zip(NAMES, row, strict=True)) for row in dates.T.tolist()]


def date_ahead(days: float, as_of: dt.date, horizon_days: float) -> str | None:
    """ISO date of the day that is under way so many days after the end of the as-of day.

    None past the horizon or where unknown. Half a day after the end of Monday it is Tuesday, and so it is one day after.
    """
    if not math.isfinite(days) or days > horizon_days:
        return None
    return (as_of + dt.timedelta(days=math.ceil(days - DAY_ROUNDING))).isoformat()


def finite(value: float) -> float | None:
    """The number, or None where JSON could not hold it."""
    return float(value) if math.isfinite(value) else None
