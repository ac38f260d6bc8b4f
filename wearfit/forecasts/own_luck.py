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
from typing import Final

import numpy as np

from wearfit.calibration import Calibration

Array = np.ndarray

TABLES: Final = 16  # of each kind


def exponential_draws(calibration: Calibration, rows: Array, purpose: str) -> Array:
    """Standard exponential draws for some live tools, stratified over the samples, shape (sample, tool)."""
    return _read(calibration, rows, purpose, _exponentials)


def normal_draws(calibration: Calibration, rows: Array, purpose: str) -> Array:
    """Standard normal draws for some live tools, shape (sample, tool)."""
    return _read(calibration, rows, purpose, _normals)


def bootstrap_mean(calibration: Calibration, row: int, values: Array, out: Array) -> None:
    """Draw the mean of some values of a live tool by the Bayesian bootstrap into `out`, shape (sample,).

    Parameters
    ----------
    values : array, shape (value,)
        NaN where there is none; one at least.
    """
    table, start = _place(calibration, row, "level", calibration.samples)
    weights = _weights(calibration.identity.seed, table, calibration.samples, len(values))
    there = ~np.isnan(values)
    total, whole = np.stack([np.where(there, values, 0.0), there]) @ weights
    total /= whole
    out[: len(total) - start], out[len(total) - start :] = total[start:], total[:start]


def _read(calibration: Calibration, rows: Array, purpose: str, of: Callable[[int, str, int, int], Array]) -> Array:
    n, seed = calibration.samples, calibration.identity.seed
    out = np.empty((len(rows), n))
    for i, row in enumerate(rows.tolist()):
        number, start = _place(calibration, row, purpose, n)
        out[i] = of(seed, purpose, number, n)[start : start + n]
    return out.T


def _place(calibration: Calibration, row: int, purpose: str, samples: int) -> tuple[int, int]:
    """Which table a live tool reads, and from where on."""
    tool = calibration.levels.tool[calibration.live.tool[row]]
    digest = blake2b(f"{calibration.identity.seed} {purpose} {tool}".encode(), digest_size=8).digest()
    return divmod(int.from_bytes(digest) % (TABLES * samples), samples)


@lru_cache(maxsize=4 * TABLES)
def _exponentials(seed: int, purpose: str, number: int, samples: int) -> Array:
    """A table twice over, so that it is read round its end in one go."""
    rng = _generator(seed, purpose, number)
    return np.tile(-np.log((rng.permutation(samples) + rng.random(samples)) / samples), 2)


@lru_cache(maxsize=4 * TABLES)
def _normals(seed: int, purpose: str, number: int, samples: int) -> Array:
    """A table twice over."""
    return np.tile(_generator(seed, purpose, number).standard_normal(samples), 2)


@lru_cache(maxsize=2 * TABLES)
def _weights(seed: int, number: int, samples: int, values: int) -> Array:
    return _generator(seed, "level", number).standard_exponential((values, samples))


def _generator(seed: int, purpose: str, number: int) -> np.random.Generator:
    return np.random.default_rng([seed, zlib.crc32(purpose.encode()), number])
