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


@jax.custom_batching.custom_vmap
def _at(values: Array, places: Array) -> Array:
    """values[places]; of several chains one after another, because what compilers make of all at once is slow on a processor."""
    return values[places]


@_at.def_vmap
def _at_of_chains(chains: int, batched: tuple[bool, bool], values: Array, places: Array) -> tuple[Array, bool]:
    assert batched[0] and not batched[1]
    return jnp.stack([_at(values[i], places) for i in range(chains)]), True


def _folded(values: Array, by: Owners, highest: bool) -> Array:
    if by.levels is None:
        start = jnp.full((*by.found.shape, *values.shape[1:]), -jnp.inf if highest else 0.0)
        return start.at[by.index].max(values) if highest else start.at[by.index].add(values)
    none, rows = jnp.full((1, *values.shape[1:]), -jnp.inf if highest else 0.0), []
    for table in by.levels:
        parts = _at(jnp.concatenate([values, none]), table)
        values = parts.max(axis=1) if highest else parts.sum(axis=1)
        rows.append(values)
    return _at(jnp.concatenate([*rows, none]), by.found)


def highest(values: Array, by: Owners) -> Array:
    """Highest of each owner's values (value,), shape (owner,); it has no gradient."""
    return jax.lax.stop_gradient(_folded(jax.lax.stop_gradient(values), by, highest=True))


@jax.custom_vjp
def total(values: Array, by: Owners) -> Array:
    """Sum of each owner's values (value, ...), shape (owner, ...)."""
    return _folded(values, by, highest=False)


@jax.custom_vjp
def take(table: Array, by: Owners) -> Array:
    """The owner's entry of a table (owner, ...) for each value, shape (value, ...)."""
    return _at(table, by.index)


total.defvjp(lambda values, by: (total(values, by), by), lambda by, back: (_at(back, by.index), None))
take.defvjp(lambda table, by: (take(table, by), by), lambda by, back: (_folded(back, by, highest=False), None))
