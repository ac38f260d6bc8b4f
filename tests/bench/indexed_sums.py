"""Sums by index and their transpose, `table[index]`, each the other's gradient, in JAX without a scatter.

A compiler turns the gradient of a gather into a scatter, which is a slow loop on a processor and a fight for few addresses on an
accelerator. Which values add up to what is known beforehand: so they are gathered into rows of even width and summed, and what still
has several rows is gathered again.
"""

from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np

Array = Any


class Owners(NamedTuple):
    """Which owner each value belongs to, and how to add up the values of each."""

    index: Array  # (value,)
    levels: tuple[Array, ...] | None  # (row, width) places among the values, then among the level's before; None: by a scatter
    found: Array  # (owner,) where each sum lies among the rows of all levels, and a last zero


def owners(index: np.ndarray, size: int, scatter: bool = False) -> Owners:
    """How to sum by an index in 0..size."""
    if scatter:
        return Owners(index, None, np.zeros(size, np.int32))
    width = int(np.clip(2.0 ** np.round(np.log2(max(len(index), 1) / max(len(np.unique(index)), 1))), 2, 16))
    item = np.argsort(index, kind="stable")
    owner, none = index[item], len(index)
    found, levels, before = np.full(size, -1), [], 0
    while len(item):
        _, first, count = np.unique(owner, return_index=True, return_counts=True)
        rows = -(-count // width)
        start = np.repeat(np.cumsum(rows) - rows, count)
        rank = np.arange(len(item)) - np.repeat(first, count)
        table = np.full((rows.sum(), width), none)
        table[start + rank // width, rank % width] = item
        owner_of_row, alone = np.repeat(owner[first], rows), np.repeat(rows == 1, rows)
        found[owner_of_row[alone]] = before + np.flatnonzero(alone)
        levels.append(table.astype(np.int32))
        item, owner, none, before = np.flatnonzero(~alone), owner_of_row[~alone], len(table), before + len(table)
    found[found < 0] = before
    return Owners(index, tuple(levels), found.astype(np.int32))


def _sums(values: Array, by: Owners) -> Array:
    if by.levels is None:
        return jnp.zeros((*by.found.shape, *values.shape[1:])).at[by.index].add(values)
    zero, rows = jnp.zeros((1, *values.shape[1:])), []
    for table in by.levels:
        values = jnp.concatenate([values, zero])[table].sum(axis=1)
        rows.append(values)
    return jnp.concatenate([*rows, zero])[by.found]


@jax.custom_vjp
def total(values: Array, by: Owners) -> Array:
    """Sum of each owner's values (value, ...), shape (owner, ...)."""
    return _sums(values, by)


@jax.custom_vjp
def take(table: Array, by: Owners) -> Array:
    """The owner's entry of a table (owner, ...) for each value, shape (value, ...)."""
    return table[by.index]


total.defvjp(lambda values, by: (_sums(values, by), by), lambda by, back: (back[by.index], None))
take.defvjp(lambda table, by: (table[by.index], by), lambda by, back: (_sums(back, by), None))
