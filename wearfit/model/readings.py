"""What readings tell of the capacity of lives, given their clocks: on NumPy and PyTensor, as all of the likelihood."""

from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

from wearfit.growth import Growth, Readings
from wearfit.model.data import PathColumns, ReadingColumns
from wearfit.model.growth_batch import paths_log_likelihood
from wearfit.model.growth_op import path_values
from wearfit.model.layout import COEFFICIENTS, FEATURE_BLOCKS, Layout

Array = Any

NORMAL_ODDS = (1.5957691216, 0.0713548162)  # of v and v^3 in the log-odds of F(v)
LEAST = 1e-6  # [reference shots] stands for no wear, where a logarithm is taken


@dataclass(frozen=True)
class Told:
    """Paths: lives whose readings are held against a capacity. Arrays of shape (path,)."""

    capacity: Array  # [reference shots]
    log_stretch: Array  # log of how fast the capacity moves with its coordinate; nothing where it is the row's end
    log_likelihood: Array  # of the readings


def nothing_told(xp: ModuleType = np) -> Told:
    """Where a history has no readings: the first path, which stands for none."""
    nothing = xp.zeros((1,))
    return Told(xp.ones((1,)), nothing, nothing)


def growth_law(p: Any, d: Any, layout: Layout, xp: ModuleType = np) -> tuple[Array, Array, Array, Array]:
    """Level, growth and noise of each feature, shapes (feature,), and the standard deviations between lives, (2,)."""
    effect = []
    for i, block in enumerate(FEATURE_BLOCKS):
        span = layout.block(block)
        slots = p.all[..., len(COEFFICIENTS) + span.start : len(COEFFICIENTS) + span.stop]
        effect.append(d.feature_loc[i] + slots @ d.feature_root[i].T)
    life = COEFFICIENTS.index("reading.log_life_sd")
    return (
        effect[0],
        xp.exp(effect[1]),
        xp.exp(effect[2]),
        xp.exp(p.all[..., life : life + 2]),
    )


def capacities(clock: Any, read: Array, wear_share: Array, d: Any, xp: ModuleType = np) -> tuple[Array, Array]:
    """Capacity of each path by its coordinate v, and `Told.log_stretch`.

    Beyond the wear B at which a life was last good C = B (1 - log(1 - F(v))); between B and the end C = B + (end - B) F(v). F is all
    but the standard normal distribution function (Page 1977, Appl. Stat. 26, from memory): so v is about normal where C is even
    over the interval, or beyond B exponential, and has no long tail towards B, where readings make a life out to be nearly spent.
    Where a capacity on either side of the end counts by another cause, the log-odds of F(v) are moved as `across` has it.
    """
    c = PathColumns
    row = d.path[:, c.row].astype("int64")
    end, good = clock.end[..., row], clock.good[..., row]
    base = xp.maximum(xp.where(d.path[:, c.from_good] > 0, good, end), LEAST)
    width, split = xp.maximum(end - good, LEAST), d.path[:, c.split] > 0
    v = read[..., d.path[:, c.latent].astype("int64")]
    of_normal = NORMAL_ODDS[0] * v + NORMAL_ODDS[1] * v**3
    log_pace = xp.log(NORMAL_ODDS[0] + 3.0 * NORMAL_ODDS[1] * v**2)
    border = width / base + xp.log(-xp.expm1(-width / base))  # at which C is the end
    moved, log_moved = across(of_normal, border, xp.log(wear_share) - xp.log1p(-wear_share), xp)
    odds, log_pace = xp.where(split, moved, of_normal), log_pace + xp.where(split, log_moved, 0.0)
    near = xp.log1p(xp.exp(-xp.abs(odds)))
    log_below, log_above = xp.minimum(odds, 0.0) - near, -xp.maximum(odds, 0.0) - near  # log F, log(1 - F)
    open_, at_end = d.path[:, c.open] > 0, d.path[:, c.at_end] > 0
    beyond, inside = base * (1.0 - log_above), good + width * xp.exp(log_below)
    capacity = xp.where(at_end, xp.maximum(end, LEAST), xp.where(open_, beyond, inside))
    log_stretch = log_pace + log_below + xp.where(open_, xp.log(base), xp.log(width) + log_above)
    return capacity, xp.where(at_end, 0.0, log_stretch)


def across(coordinate: Array, border: Array, log_odds: Array, xp: ModuleType = np) -> tuple[Array, Array]:
    """Where a coordinate comes to that passes a border faster on one side than on the other, and log of its pace there.

    A density that counts with a weight w before the border and 1 - w beyond it falls or rises there by the log of the odds, all at
    once. A sampler that follows gradients does not see such a step: it runs into it however short its own steps are, and shortens
    them to nothing for that. Before the border the pace is e^(-log odds / 2), beyond it e^(log odds / 2), so that density times
    pace has no step; away from the border it becomes one within a unit or two, so that little moves with the odds.
    """
    side, away = xp.where(coordinate < border, -1.0, 1.0), xp.abs(coordinate - border)
    faster, near = xp.exp(0.5 * side * log_odds) - 1.0, xp.exp(-away)
    return border + side * (away + faster * (1.0 - near)), xp.log1p(faster * near)


def told_by_readings(p: Any, clock: Any, read: Array, d: Any, layout: Layout, xp: ModuleType = np) -> Told:
    """What the readings of all paths tell, given the coordinates `read` (read,)."""
    capacity, log_stretch = capacities(clock, read, p.share_of("wear_share"), d, xp)
    law = growth_law(p, d, layout, xp)
    spent = xp.log(xp.maximum(clock.at_reading, LEAST))
    if xp is np:
        return Told(capacity, log_stretch, paths_log_likelihood(spent, np.log(capacity), law, d.reading))
    return Told(capacity, log_stretch, path_values(spent, xp.log(capacity), law, d))


def of_path(d: Any, path: int) -> slice:
    """Where the readings of a path lie, which are in order of (path, feature)."""
    low, high = np.searchsorted(d.reading[:, ReadingColumns.path], [path, path + 1])
    return slice(int(low), int(high))


def by_feature(d: Any, path: int) -> list[tuple[int, slice]]:
    """Features of which a path has readings, and where these lie."""
    span = of_path(d, path)
    feature = d.reading[span, ReadingColumns.feature]
    starts = [0, *(np.flatnonzero(np.diff(feature)) + 1).tolist()] if len(feature) else []
    stops = [*starts[1:], len(feature)]
    return [(int(feature[a]), slice(span.start + a, span.start + b)) for a, b in zip(starts, stops, strict=True)]


def readings_in(d: Any, span: slice) -> Readings:
    """The readings of one group."""
    c = ReadingColumns
    return Readings(d.reading[span, c.log_way], d.reading[span, c.below], d.reading[span, c.rounding])


def growth_of(law: tuple[Array, Array, Array, Array], feature: int) -> Growth:
    """Growth of one feature, shapes (...)."""
    level, growth, noise, life = law
    return Growth(level[..., feature], growth[..., feature], noise[..., feature], life[..., 0], life[..., 1])
