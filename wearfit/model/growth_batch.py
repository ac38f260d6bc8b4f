"""Likelihoods of readings for many draws at once, compiled: what `growth` gives, at the cost that a calibration can bear."""

from collections.abc import Sequence
from dataclasses import fields

import numpy as np

from wearfit.growth import Growth
from wearfit.model.bare_arrays import bare, hold
from wearfit.model.data import ReadingColumns
from wearfit.model.growth_kernel import NODE_ROWS, NODES, log_integral
from wearfit.model.growth_mode import GROWTH, GROWTH_SD, LEVEL, LIFE_COLUMNS, LIFE_SD, LOG_WAY, NOISE, ROUNDING, WAS_BELOW
from wearfit.model.growth_together import LANE_ROWS, LANES, log_integrals
from wearfit.model.kept_loops import by_draws, kept
from wearfit.remaining import Track

Array = np.ndarray

_COLUMNS = ReadingColumns.rounding + 1
PATH, FEATURE = ReadingColumns.path, ReadingColumns.feature
_log_integral, _log_integrals = kept(log_integral), kept(log_integrals)


def tracks_log_likelihood(log_left: Array, draws: int, tracks: Sequence[Track]) -> Array:
    """`remaining.log_likelihood`, shape (draw, node)."""
    total = np.zeros((draws, len(log_left)))
    for track in tracks:
        table = np.zeros((len(track.readings.log_way), _COLUMNS))
        readings = track.readings
        table[:, LOG_WAY], table[:, WAS_BELOW], table[:, ROUNDING] = readings.log_way, readings.below, readings.rounding
        law = np.ascontiguousarray(np.stack([getattr(track.law, f.name) for f in fields(Growth)], axis=1))
        share = np.ascontiguousarray(track.log_share)

        def fill(part: slice, table: Array = table, share: Array = share, law: Array = law) -> None:
            total[part] += _on_nodes(table, share[part], log_left, law[part])

        by_draws(draws, fill)
    return total


def paths_log_likelihood(log_spent: Array, log_capacity: Array, law: tuple[Array, Array, Array, Array], reading: Array) -> Array:
    """Log-likelihood of the readings of each path, shape (..., path), by the arguments of `path_marginals`, (..., of each)."""
    if not log_spent.size:
        return np.zeros(log_capacity.shape)

    def flat(values: Array) -> Array:
        return np.ascontiguousarray(values.reshape(-1, values.shape[-1]), dtype=float)

    by_draw = [flat(values) for values in (log_spent, log_capacity, *law)]
    total = np.empty(by_draw[1].shape)

    def fill(part: slice) -> None:
        total[part] = _of_paths(*(values[part] for values in by_draw), reading)

    by_draws(len(total), fill)
    return total.reshape(log_capacity.shape)


@kept
def _on_nodes(readings: Array, log_shares: Array, log_lefts: Array, laws: Array) -> Array:
    draws, n = log_shares.shape
    out, shares, rows, at_nodes = np.empty((draws, len(log_lefts))), np.empty(n), np.empty((n, LIFE_COLUMNS)), np.empty((NODE_ROWS, NODES))
    side_by_side = np.empty(LANE_ROWS * LANES)
    reading, law, log_share, log_left, told = bare(readings), bare(laws), bare(log_shares), bare(log_lefts), bare(out)
    share, life, nodes, lanes = bare(shares), bare(rows), bare(at_nodes), bare(side_by_side)
    for draw in range(draws):
        _log_integrals(reading, log_share[draw], law[draw], log_left, life, share, nodes, lanes, told[draw])
    hold(readings, laws, log_shares, log_lefts, out, shares, rows, at_nodes, side_by_side)
    return out


@kept
def _of_paths(log_spent: Array, log_capacity: Array, level: Array, growth: Array, noise: Array, life: Array, readings: Array) -> Array:
    draws, n = log_spent.shape
    out, shares, laws = np.zeros(log_capacity.shape), np.empty(n), np.empty(5)
    rows, at_nodes = np.empty((n, LIFE_COLUMNS)), np.empty((NODE_ROWS, NODES))
    reading, share, law, table, nodes = bare(readings), bare(shares), bare(laws), bare(rows), bare(at_nodes)
    for draw in range(draws):
        law[LIFE_SD], law[GROWTH_SD] = life[draw, 0], life[draw, 1]
        low = 0
        while low < n:
            path, feature = int(reading[low, PATH]), int(reading[low, FEATURE])
            high = low
            while high < n and int(reading[high, PATH]) == path and int(reading[high, FEATURE]) == feature:
                share[high] = log_spent[draw, high] - log_capacity[draw, path]
                high += 1
            law[LEVEL], law[GROWTH], law[NOISE] = level[draw, feature], growth[draw, feature], noise[draw, feature]
            out[draw, path] += _log_integral(reading[low:high], share[low:high], law, table[low:high], nodes)
            low = high
    hold(readings, shares, laws, rows, at_nodes)
    return out
