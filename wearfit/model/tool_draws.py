"""Tool effects, drawn after sampling from their distribution given all else.

The sampler has them integrated out (`tool_marginal`, whose letters are used here). Given a draw of the parameters, the effects of
different tools are independent: each is drawn by inverting its distribution function on a grid, after what the tool is
where that is not known. Without a graph.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, Protocol

import numpy as np
from scipy.special import wrightomega

from wearfit import law
from wearfit.model.data import CandidateColumns, EndedColumns, ModelData, RowColumns, whole
from wearfit.model.effect_nodes import drawn_of_nodes, drawn_of_terms, masses_of_nodes, masses_of_terms
from wearfit.model.kept_loops import by_draws, kept
from wearfit.model.likelihood import Levels, Terms
from wearfit.model.mixture import draw_candidates, single
from wearfit.model.place_sums import summed
from wearfit.model.rows_marginal import row_grids

Array = np.ndarray

NODES: Final = 40  # steps of a fifth of a standard deviation, or less, at which the density is all but straight
REACH: Final = 4.2  # standard deviations of u from its mode, beyond which lies 1e-4 of the mass or less
LEAST: Final = 1e-300

_row_grids = kept(row_grids)
_masses_of_terms, _drawn_of_terms = kept(masses_of_terms), kept(drawn_of_terms)
_masses_of_nodes, _drawn_of_nodes = kept(masses_of_nodes), kept(drawn_of_nodes)


class Grid(Protocol):
    """Density of u = x / s of each candidate, with the mass that makes it the candidate's likelihood, at evenly spaced nodes."""

    def log_mass(self, candidates: Array) -> Array:
        """Log-likelihood of some candidates, the tool's effect integrated out, shape (draw, candidate)."""
        ...

    def drawn(self, chosen: Array, probability: Array) -> Array:
        """u of which a part `probability` of the mass lies below, the density taken as straight between nodes.

        Shapes (draw, tool), `chosen` the candidate that a tool is.
        """
        ...


@dataclass(frozen=True)
class NodeGrid:
    """A `Grid` whose nodes are all there."""

    start: Array  # (draw, candidate)
    step: Array  # (draw, candidate)
    log_density: Array  # (draw, candidate, node)

    def log_mass(self, candidates: Array) -> Array:
        """As `Grid` has it."""
        return _filled(
            (len(self.step), len(candidates)),
            lambda part: _masses_of_nodes(self.start[part], self.step[part], self.log_density[part], candidates),
        )

    def drawn(self, chosen: Array, probability: Array) -> Array:
        """As `Grid` has it."""
        return _filled(
            chosen.shape,
            lambda part: _drawn_of_nodes(self.start[part], self.step[part], self.log_density[part], chosen[part], probability[part]),
        )


@dataclass(frozen=True)
class TermGrid:
    """A `Grid` by a Weibull law, whose nodes are reckoned where they are asked for: see `effect_nodes`."""

    worn: Array  # (candidate,) wear-outs that are sure
    hazard: Array  # (draw, candidate) survived
    known: Array  # (draw, candidate) sum of the log hazards of the sure ones
    spread: Array  # (draw,)
    share: Array  # (draw,)
    start: Array  # (draw, candidate)
    step: Array  # (draw, candidate)
    rate: Array  # (draw, doubt)
    doubts: tuple[Array, Array, Array]  # interval, perhaps (doubt,), and where those of each candidate begin (candidate + 1,)

    def log_mass(self, candidates: Array) -> Array:
        """As `Grid` has it."""
        return _filled((len(self.step), len(candidates)), lambda part: _masses_of_terms(*self._given(part), candidates))

    def drawn(self, chosen: Array, probability: Array) -> Array:
        """As `Grid` has it."""
        return _filled(chosen.shape, lambda part: _drawn_of_terms(*self._given(part), chosen[part], probability[part]))

    def _given(self, part: slice) -> tuple[Any, ...]:
        by_draw = (self.hazard, self.known, self.spread, self.share, self.start, self.step, self.rate)
        return (self.worn, *(values[part] for values in by_draw), *self.doubts, NODES)


def _filled(shape: tuple[int, ...], of: Callable[[slice], Array]) -> Array:
    """What `of` gives for parts of the draws, laid together."""
    out = np.empty(shape)

    def fill(part: slice) -> None:
        out[part] = of(part)

    by_draws(shape[0], fill)
    return out


@dataclass(frozen=True)
class Luck:
    """What decides draws of tool effects."""

    kind: Array  # (draw, candidate of a tool that may be several things) Gumbel
    place: Array  # (draw, tool) uniform

    @classmethod
    def of(cls, rng: np.random.Generator, draws: int, d: ModelData) -> "Luck":
        """For so many draws of a history's tools."""
        several, tools = np.count_nonzero(~single(d.candidate)), int(d.candidate[-1, CandidateColumns.tool]) + 1
        return cls(rng.gumbel(size=(draws, several)), rng.random((draws, tools)))


def draw_tool_effects(
    terms: Terms | Levels, share: Array, spread: Array, scale: Array, d: ModelData, luck: Luck, wear_law: int = law.WEIBULL
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
    several = np.flatnonzero(~single(d.candidate))
    joint = grid.log_mass(several) + d.candidate[several, CandidateColumns.log_weight]
    chosen = draw_candidates(joint + luck.kind, d)
    return np.asarray(-np.abs(scale) * grid.drawn(chosen, luck.place))


def effect_grid(terms: Terms | Levels, share: Array, spread: Array, d: ModelData, wear_law: int) -> Grid:
    """Density of the effect of each candidate's tool under any law; arguments as `draw_tool_effects` takes them."""
    if isinstance(terms, Levels):
        return level_grid(terms, share, np.abs(spread), d, wear_law)
    return term_grid(terms, share, np.abs(spread), d)


def term_grid(terms: Terms, share: Array, spread: Array, d: ModelData) -> TermGrid:
    """The integrand of `tool_marginal` and its constant, on nodes that hold all but next to none of its mass; `spread` >= 0."""
    candidate, last = whole(d.row[:, RowColumns.candidate]), whole(d.ended[:, EndedColumns.row])
    of_ended, n = candidate[last], len(d.candidate)
    interval, perhaps = d.ended[:, EndedColumns.interval] > 0.0, d.ended[:, EndedColumns.perhaps] > 0.0
    doubtful, sure = np.flatnonzero(interval | perhaps), np.flatnonzero(~interval & ~perhaps)
    hazard, worn = summed(-terms.survived, candidate, n), np.bincount(of_ended[sure], minlength=n).astype(float)
    # Doubtful rows pull the mode between these two: the integrand rises to the one and falls from the other at least as fast.
    through = np.flatnonzero(interval & perhaps)  # survived too, should the cause have been another
    low = _mode(worn, hazard + summed(terms.rise[:, through], of_ended[through], n), spread)
    doubts = np.bincount(of_ended[doubtful], minlength=n)
    high, open_ = low.copy(), np.flatnonzero(doubts)
    high[:, open_] = _mode((worn + doubts)[open_], hazard[:, open_], spread)
    start = low - REACH
    return TermGrid(
        worn=worn,
        hazard=hazard,
        known=summed(terms.exact[:, sure], of_ended[sure], n),
        spread=spread[:, 0].copy(),
        share=share[:, 0].copy(),
        start=start,
        step=(high + _reach_right(high, hazard, spread) - start) / (NODES - 1),
        rate=np.where(interval[doubtful], terms.rise[:, doubtful], np.exp(np.where(interval[doubtful], 0.0, terms.exact[:, doubtful]))),
        doubts=(interval[doubtful], perhaps[doubtful], np.concatenate([[0], np.cumsum(doubts)])),
    )


def level_grid(levels: Levels, share: Array, spread: Array, d: ModelData, wear_law: int) -> NodeGrid:
    """The integrand of `rows_marginal` under any law, as `term_grid` has that of a Weibull law."""
    parts = (np.ascontiguousarray(a, dtype=float) for a in (levels.entry, levels.last, levels.exact, levels.at, levels.end))
    return NodeGrid(*_row_grids(*parts, share[:, 0].copy(), spread[:, 0].copy(), wear_law, d.candidate, d.row, d.ended, NODES))


def _mode(worn: Array, hazard: Array, spread: Array) -> Array:
    """u where exp(n x - S e^x) N(u; 0, 1) is highest, shape (draw, candidate); Wright's omega function solves for it."""
    variance = np.maximum(spread * spread, 1e-100)
    omega = np.real(wrightomega(np.log(np.maximum(variance * hazard, LEAST)) + worn * variance))
    return np.asarray((worn * variance - omega) / np.where(spread == 0.0, 1e-50, spread))


def _reach_right(mode: Array, hazard: Array, spread: Array) -> Array:
    """How far above its mode it may count: the hazard's curvature only grows there."""
    return np.asarray(REACH / np.sqrt(1.0 + spread * spread * hazard * np.exp(spread * mode)))
