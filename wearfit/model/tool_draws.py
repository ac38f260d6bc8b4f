"""Tool effects, drawn after sampling from their distribution given all else.

The sampler has them integrated out (`tool_marginal`, whose letters are used here). Given a draw of the parameters, the effects of
different tools are independent: each is drawn by inverting its distribution function on a grid, after what the tool is
where that is not known. NumPy only.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import wrightomega

from wearfit import law
from wearfit.even_nodes import part_of_step
from wearfit.model.data import CandidateColumns, EndedColumns, ModelData, RowColumns
from wearfit.model.kept_loops import kept
from wearfit.model.likelihood import Levels, Terms, wear_out_gain
from wearfit.model.mixture import draw_candidates, single
from wearfit.model.rows_marginal import row_grids

Array = np.ndarray

NODES: Final = 40  # steps of a fifth of a standard deviation, or less, at which the density is all but straight
REACH: Final = 4.2  # standard deviations of u from its mode, beyond which lies 1e-4 of the mass or less
LEAST: Final = 1e-300

_row_grids = kept(row_grids)


@dataclass(frozen=True)
class Grid:
    """Density of u = x / s of each candidate at evenly spaced nodes."""

    start: Array  # (draw, candidate)
    step: Array  # (draw, candidate)
    log_density: Array  # (draw, candidate, node) with the mass that makes it the candidate's likelihood

    def log_mass(self, candidates: Array) -> Array:
        """Log-likelihood of some candidates, the tool's effect integrated out, shape (draw, candidate)."""
        log_density = self.log_density[:, candidates]
        top = log_density.max(axis=-1)
        return np.asarray(top + np.log(np.exp(log_density - top[..., None]).sum(axis=-1) * self.step[:, candidates]))

    def drawn(self, chosen: Array, probability: Array) -> Array:
        """u of which a part `probability` of the mass lies below, the density taken as straight between nodes.

        Shapes (draw, tool), `chosen` the candidate that a tool is.
        """
        draw = np.arange(len(chosen))[:, None]
        density = self.log_density[draw, chosen]
        density = np.exp(density - density.max(axis=-1, keepdims=True))
        below = np.cumsum(0.5 * (density[..., 1:] + density[..., :-1]), axis=-1)
        wanted = probability * below[..., -1]
        i = (below < wanted[..., None]).sum(axis=-1)[..., None]
        left, right = (np.take_along_axis(density, j, axis=-1)[..., 0] for j in (i, i + 1))
        before = np.where(i > 0, np.take_along_axis(below, np.maximum(i - 1, 0), axis=-1), 0.0)[..., 0]
        part = part_of_step(left, right, wanted - before)
        return np.asarray(self.start[draw, chosen] + self.step[draw, chosen] * (i[..., 0] + part))


def draw_tool_effects(
    terms: Terms | Levels, share: Array, spread: Array, scale: Array, d: ModelData, rng: np.random.Generator, wear_law: int = law.WEIBULL
) -> Array:
    """Draw an effect on log life for each tool, shape (draw, tool).

    Parameters
    ----------
    terms : Terms or Levels
        Without tool effects, shapes (draw, ...): terms of a Weibull law, else levels.
    share, spread : (draw, 1)
        Of renewals of unstated cause, those by wear; `likelihood.tool_spread`.
    scale : (draw, 1)
        Standard deviation of the effects. The sign of either changes nothing.
    wear_law : int
        Place in `law.LAWS`.
    """
    grid = effect_grid(terms, share, spread, d, wear_law)
    joint = np.zeros((len(spread), len(d.candidate)))
    several = np.flatnonzero(~single(d.candidate))
    if len(several):
        joint[:, several] = grid.log_mass(several) + d.candidate[several, CandidateColumns.log_weight]
    chosen = draw_candidates(joint, d, rng)
    return np.asarray(-np.abs(scale) * grid.drawn(chosen, rng.random(chosen.shape)))


def effect_grid(terms: Terms | Levels, share: Array, spread: Array, d: ModelData, wear_law: int) -> Grid:
    """Density of the effect of each candidate's tool under any law; arguments as `draw_tool_effects` takes them."""
    if isinstance(terms, Levels):
        return level_grid(terms, share, np.abs(spread), d, wear_law)
    return density_grid(terms, share, np.abs(spread), d)


def density_grid(terms: Terms, share: Array, spread: Array, d: ModelData) -> Grid:
    """The integrand of `tool_marginal` and its constant, on nodes that hold all but next to none of its mass; `spread` >= 0."""
    candidate, last = d.row[:, RowColumns.candidate].astype(int), d.ended[:, EndedColumns.row].astype(int)
    of_ended, n = candidate[last], len(d.candidate)
    interval, perhaps = d.ended[:, EndedColumns.interval] > 0.0, d.ended[:, EndedColumns.perhaps] > 0.0
    doubtful, sure = np.flatnonzero(interval | perhaps), np.flatnonzero(~interval & ~perhaps)
    hazard, worn = _summed(-terms.survived, candidate, n), np.bincount(of_ended[sure], minlength=n).astype(float)
    # Doubtful rows pull the mode between these two: the integrand rises to the one and falls from the other at least as fast.
    through = np.where(interval & perhaps, terms.rise, 0.0)  # survived too, should the cause have been another
    low = _mode(worn, hazard + _summed(through, of_ended, n), spread)
    high = _mode(worn + np.bincount(of_ended[doubtful], minlength=n), hazard, spread)
    start = low - REACH
    step = (high + _reach_right(high, hazard, spread) - start) / (NODES - 1)
    u = start[..., None] + step[..., None] * np.arange(NODES)
    x = spread[..., None] * u
    factor = np.exp(x)
    log_density = worn[:, None] * x
    log_density -= hazard[..., None] * factor
    u *= u
    log_density -= 0.5 * u
    log_density += (_summed(terms.exact[:, sure], of_ended[sure], n) - 0.5 * np.log(2.0 * np.pi))[..., None]
    for rows in (np.flatnonzero(interval & ~perhaps), np.flatnonzero(perhaps)):
        at = of_ended[rows]
        rise = np.maximum(terms.rise[:, rows, None] * factor[:, at], LEAST)
        if perhaps[rows].any():
            exact = terms.exact[:, rows, None] + x[:, at]
            gain = wear_out_gain(exact, rise, share[..., None], interval[rows, None], perhaps[rows, None])
        else:
            gain = law.log1mexp(rise)
        for i, c in enumerate(at):
            log_density[:, c] += gain[:, i]
    return Grid(start, step, log_density)


def level_grid(levels: Levels, share: Array, spread: Array, d: ModelData, wear_law: int) -> Grid:
    """The integrand of `rows_marginal` under any law, as `density_grid` has that of a Weibull law."""
    parts = (np.ascontiguousarray(a, dtype=float) for a in (levels.entry, levels.last, levels.exact, levels.at, levels.end))
    return Grid(*_row_grids(*parts, share[:, 0].copy(), spread[:, 0].copy(), wear_law, d.candidate, d.row, d.ended, NODES))


def _summed(values: Array, place: Array, n: int) -> Array:
    """Values, shape (draw, row), summed by place, shape (draw, n)."""
    total = np.zeros((len(values), n))
    for i, c in enumerate(place):
        total[:, c] += values[:, i]
    return total


def _mode(worn: Array, hazard: Array, spread: Array) -> Array:
    """u where exp(n x - S e^x) N(u; 0, 1) is highest, shape (draw, candidate); Wright's omega function solves for it."""
    variance = np.maximum(spread * spread, 1e-100)
    omega = np.real(wrightomega(np.log(np.maximum(variance * hazard, LEAST)) + worn * variance))
    return np.asarray((worn * variance - omega) / np.where(spread == 0.0, 1e-50, spread))


def _reach_right(mode: Array, hazard: Array, spread: Array) -> Array:
    """How far above its mode it may count: the hazard's curvature only grows there."""
    return np.asarray(REACH / np.sqrt(1.0 + spread * spread * hazard * np.exp(spread * mode)))
