"""Luck of the live tools, read from tables that all of them share.

To draw as many random numbers anew for each tool takes longer than all else that is reckoned of it. So there are a few tables of draws
in random order, and a tool reads one of them from a place of its own on, round its end; both follow from the tool's name. What is drawn
for a tool alone is as it was: each of the table's entries once. Two tools that read one table read it from different places, all but one
pair in TABLES * samples, and in one draw they meet different entries, so that sums over tools within a draw spread as if each had drawn
its own.
"""

import zlib
from collections.abc import Callable
from functools import lru_cache
from hashlib import blake2b
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.conditions import in_precision_of

Array = np.ndarray

TABLES: Final = 16  # of each kind


def exponential_draws(calibration: Calibration, rows: Array, purpose: str) -> Array:
    """Standard exponential draws for some live tools, stratified over the samples, shape (sample, tool)."""
    return _read(calibration, rows, purpose, _exponentials)


def normal_draws(calibration: Calibration, rows: Array, purpose: str) -> Array:
    """Standard normal draws for some live tools, shape (sample, tool)."""
    return _read(calibration, rows, purpose, _normals)


def bootstrap_means(calibration: Calibration, rows: Array, values: Array) -> Array:
    """Draws of the mean of some values of each of some live tools by the Bayesian bootstrap, shape (tool, sample).

    Parameters
    ----------
    values : array, shape (tool, value)
        NaN where there is none; one at least of each tool.
    """
    n, seed, precision = calibration.samples, calibration.identity.seed, calibration.precision
    out = np.empty((len(rows), n), precision)
    # Tool by tool and not as one matrix product, whose rounding would depend on which other tools are asked about.
    for i, (table, start) in enumerate(_places(calibration, rows, "level")):
        weights = _weights(seed, table, n, values.shape[1], precision)
        there = ~np.isnan(values[i])
        if there.all():
            total, whole = in_precision_of(weights, values[i]) @ weights, _whole(seed, table, n, values.shape[1], precision)
        else:
            total, whole = in_precision_of(weights, np.stack([np.where(there, values[i], 0.0), there])) @ weights
        np.divide(total[start:], whole[start:], out=out[i, : n - start])
        np.divide(total[:start], whole[:start], out=out[i, n - start :])
    return out


def _read(calibration: Calibration, rows: Array, purpose: str, of: Callable[[int, str, int, int, np.dtype[Any]], Array]) -> Array:
    n, seed, precision = calibration.samples, calibration.identity.seed, calibration.precision
    out = np.empty((len(rows), n), precision)
    for i, (number, start) in enumerate(_places(calibration, rows, purpose)):
        out[i] = of(seed, purpose, number, n, precision)[start : start + n]
    return out.T


def _places(calibration: Calibration, rows: Array, purpose: str) -> list[tuple[int, int]]:
    """Which table each of some live tools reads, and from where on."""
    samples, before = calibration.samples, f"{calibration.identity.seed} {purpose} "
    tools = calibration.levels.tool[calibration.live.tool[rows]].tolist()
    digests = (blake2b(f"{before}{tool}".encode(), digest_size=8).digest() for tool in tools)
    return [divmod(int.from_bytes(digest) % (TABLES * samples), samples) for digest in digests]


@lru_cache(maxsize=4 * TABLES)
def _exponentials(seed: int, purpose: str, number: int, samples: int, precision: np.dtype[Any]) -> Array:
    """A table twice over, so that it is read round its end in one go."""
    rng = _generator(seed, purpose, number)
    return np.tile(-np.log((rng.permutation(samples) + rng.random(samples)) / samples).astype(precision), 2)


@lru_cache(maxsize=4 * TABLES)
def _normals(seed: int, purpose: str, number: int, samples: int, precision: np.dtype[Any]) -> Array:
    """A table twice over."""
    return np.tile(_generator(seed, purpose, number).standard_normal(samples).astype(precision), 2)


@lru_cache(maxsize=2 * TABLES)
def _weights(seed: int, number: int, samples: int, values: int, precision: np.dtype[Any]) -> Array:
    return _generator(seed, "level", number).standard_exponential((values, samples)).astype(precision)


@lru_cache(maxsize=2 * TABLES)
def _whole(seed: int, number: int, samples: int, values: int, precision: np.dtype[Any]) -> Array:
    """Sum of a table's weights in each draw."""
    return np.ones(values, precision) @ _weights(seed, number, samples, values, precision)


def _generator(seed: int, purpose: str, number: int) -> np.random.Generator:
    return np.random.default_rng([seed, zlib.crc32(purpose.encode()), number])
