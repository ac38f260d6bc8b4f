"""What each life adds to what the rest of the records tell, draw by draw: the pointwise likelihood by which laws are compared.

A tool's effect, what the tool may be, its age at entry and the capacity of a life with readings are integrated out: given the parameters
that all tools share, a life is worth log L(all of its tool) - log L(its tool without the life). Nothing that a draw has drawn for the
tool alone is looked at, so that the weights of a posterior without the life vary with shared parameters alone.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from wearfit import law
from wearfit.exposures.lives import EXACT, INTERVAL
from wearfit.exposures.table import Exposures
from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import CandidateColumns, EndedColumns, ModelData, PathColumns, ReadingColumns, RowColumns
from wearfit.model.flat_draws import Flat
from wearfit.model.kept_loops import kept
from wearfit.model.law_kernel import log_rise_and_slope, total_rise_slope
from wearfit.model.layout import Layout
from wearfit.model.likelihood import gains, history_terms, tool_spread
from wearfit.model.read_capacity import LEAST_BASE, PathDraws
from wearfit.model.readings import told_by_readings
from wearfit.processors import parts
from wearfit.remaining import between_nodes, left_nodes

Array = np.ndarray

CHUNK: Final = 50  # draws at once
REACH: Final = 6.0  # standard deviations of a tool's effect on either side
WIDEST: Final = 0.5  # even steps of it
STEP: Final = 0.75  # .. and of the level
NODES: Final = 41  # of log(C / base), more than of `remaining`, for a wider reach
FINE: Final = 201  # of q, over which the density is summed
WIDER: Final = 3.0  # of q on either side, for tools that are not as their draw has them
LEAST: Final = 1e-300

_total_rise_slope: Any = kept(total_rise_slope)
_log_rise_and_slope: Any = kept(log_rise_and_slope)


@dataclass(frozen=True)
class LivesTold:
    """Lives, and what each adds.

    Parameters
    ----------
    life : array, shape (life,)
        Which life each is, counted over the fleet, in order; those whose likelihood is a ratio and no density are left out.
    log_likelihood : array, shape (draw, life)
        Exact days by density a machine shot, all else by probability.
    """

    life: Array
    log_likelihood: Array


def compared_lives(exposures: Exposures) -> Array:
    """Lives with a row in the likelihood, without those renewed on a known day for a cause that nobody stated."""
    h = exposures.history
    life = exposures.episodes.life[h.source]
    return np.setdiff1d(life, life[h.unstated & (h.ending == EXACT)])


def lives_told(
    flat: Flat, d: ModelData, layout: Layout, exposures: Exposures, wear_law: int, wanted: Array | None = None,
    told: Callable[[float], None] = lambda share: None,
) -> LivesTold:  # fmt: skip
    """What each life adds, or some of them: `wanted` are lives; `told` hears the share of the draws that is done."""
    lives = compared_lives(exposures) if wanted is None else wanted
    e, h = exposures.episodes, exposures.history
    life_of_row = e.life[h.source]
    touched = np.isin(e.tool[h.source], e.tool[np.isin(e.life, lives)])
    by_row = _RowNodes(flat, d, layout, exposures, wear_law, touched)
    out = np.zeros((flat.samples, len(lives)))
    for chunk in parts(flat.samples, CHUNK):
        out[chunk] = _added(by_row.of(chunk), by_row.node, d, life_of_row, lives)
        told(chunk.stop / flat.samples)
    return LivesTold(lives, out)


def without_lives(d: ModelData, exposures: Exposures, lives: Array) -> ModelData:
    """The arrays of a history in which nobody knows how some lives went: what they wore stays, for it is behind later ones."""
    gone = np.isin(exposures.episodes.life[exposures.history.source], lives)
    row = d.row.copy()
    entry, good = RowColumns.boundaries.start + 1, RowColumns.boundaries.start + 2
    row[gone, entry] = row[gone, good]
    row[gone, RowColumns.path] = 0.0
    of_gone = np.flatnonzero(np.isin(d.path[:, PathColumns.row].astype(int), np.flatnonzero(gone)) & (np.arange(len(d.path)) > 0))
    unread = d.unread.copy()
    unread[d.path[of_gone, PathColumns.latent].astype(int)[d.path[of_gone, PathColumns.at_end] == 0]] = 1.0
    reading = d.reading[~np.isin(d.reading[:, ReadingColumns.path].astype(int), of_gone)]
    return replace(d, row=row, ended=d.ended[~gone[d.ended[:, EndedColumns.row].astype(int)]], reading=reading, unread=unread)


def _added(by_row: Array, node: Array, d: ModelData, life_of_row: Array, lives: Array) -> Array:
    """`by_row` (node, draw, row): log-likelihoods; shape (draw, life)."""
    prior = -0.5 * node**2
    out = np.zeros((by_row.shape[1], len(lives)))
    place = {int(life): i for i, life in enumerate(lives)}
    candidate, weight = d.row[:, RowColumns.candidate].astype(int), d.candidate[:, CandidateColumns.log_weight]
    tool_of_row = d.candidate[candidate, CandidateColumns.tool].astype(int)
    first = np.searchsorted(tool_of_row, np.unique(tool_of_row))
    for rows in np.split(np.arange(len(candidate)), first[1:]):
        own = np.unique(life_of_row[rows])
        if not any(int(life) in place for life in own):
            continue
        kinds = np.unique(candidate[rows])
        given = np.zeros((len(own), len(kinds), len(node), by_row.shape[1]))
        for row in rows:
            given[np.searchsorted(own, life_of_row[row]), np.searchsorted(kinds, candidate[row])] += by_row[:, :, row]
        total = given.sum(axis=0)
        offset = weight[kinds][:, None, None] + prior[:, None]
        whole = _log_sum(total + offset)
        for i, life in enumerate(own):
            if int(life) in place:
                out[:, place[int(life)]] = whole - _log_sum(total - given[i] + offset)
    return out


def _log_sum(log_density: Array) -> Array:
    """Over candidates and nodes, shape (draw,)."""
    top = log_density.max(axis=(0, 1))
    return np.asarray(top + np.log(np.exp(log_density - top).sum(axis=(0, 1))))


class _RowNodes:
    """Log-likelihoods of rows at the nodes of their tools' effects, by chunks of draws."""

    def __init__(self, flat: Flat, d: ModelData, layout: Layout, exposures: Exposures, wear_law: int, wanted: Array) -> None:
        self._flat, self._d, self._layout, self._exposures, self._law = flat, d, layout, exposures, wear_law
        p = flat.all_parameters(d, layout)
        self._k = np.exp(p.coefficient("log_shape"))
        spread = np.abs(tool_spread(p, flat.w, d))
        self._scale = spread / self._k
        step = min(WIDEST, STEP / max(float(spread.max()), 1e-9))
        self.node = np.linspace(-REACH, REACH, 2 * int(np.ceil(REACH / step)) + 1)
        path = d.row[:, RowColumns.path].astype(int)
        self._read = np.flatnonzero((path > 0) & wanted)
        self._path = path
        self._drawn = PathDraws.empty(flat.samples, d, layout.features, wear_law)
        for chunk in parts(flat.samples, CHUNK):
            p = flat.parameters(d, layout, chunk)
            clock, lives = run_clock(p, d), log_life(p, d)
            told = told_by_readings(p, clock, flat.read[chunk], d, layout)
            terms = history_terms(p, clock, lives, d, told=told, wear_law=wear_law)
            self._drawn.fill(chunk, p, clock, told, lives, terms, d, layout)
        self._masses = {int(path[row]): _Capacity(self._drawn, d, int(path[row])) for row in self._read}

    def of(self, chunk: slice) -> Array:
        """Shape (node, draw, row)."""
        d, h = self._d, self._exposures.history
        p = self._flat.parameters(d, self._layout, chunk)
        clock, usual = run_clock(p, d), log_life(p, d)
        told = told_by_readings(p, clock, self._flat.read[chunk], d, self._layout)
        shape, share = law.Shape(self._k[chunk], self._law), p.share_of("wear_share")[:, 0]
        ended = d.ended[:, EndedColumns.row].astype(int)
        loss = d.ended[:, EndedColumns.loss].astype(int)
        out = np.zeros((len(self.node), len(usual), len(d.row)))
        for i, u in enumerate(self.node):
            effect = self._scale[chunk] * u
            terms = history_terms(p, clock, usual + effect, d, told=told, wear_law=self._law)
            np.add.at(out[i].T, np.arange(len(d.row)), terms.survived.T)
            np.add.at(out[i].T, ended, gains(terms, p, d).T)
            here = {int(path): terms.exact[:, e] + told.log_likelihood[:, path] for e, path in enumerate(loss) if path}
            for row in self._read:
                path = int(self._path[row])
                eta = (usual + effect)[:, d.row[row, RowColumns.candidate].astype(int)]
                out[i, :, row] = self._read_row(chunk, path, eta, shape[:, 0], share, here, int(h.ending[row]), bool(h.unstated[row]))
        return out

    def _read_row(
        self, chunk: slice, path: int, eta: Array, shape: law.Shape, share: Array, here: dict[int, Array], ending: int, unstated: bool
    ) -> Array:
        """As `PathDraws.log_likelihood`, at one node; shape (draw,)."""
        drawn = self._drawn
        base = drawn.base[chunk, path]
        came = law.cumulative_hazard(drawn.entry[chunk, path], eta, shape) - law.cumulative_hazard(base, eta, shape)
        mass, within = self._masses[path].at(chunk, law.level(base, eta, shape), shape)
        if ending == EXACT:
            return np.asarray(came + np.logaddexp(np.log(share) + here[path], np.log1p(-share) + mass))
        if ending != INTERVAL:
            return np.asarray(came + mass)
        if unstated:
            within = share * within + (1.0 - share) * (1.0 - within)
        return np.asarray(came + mass + np.log(np.maximum(within, LEAST)))


class _Capacity:
    """The likelihood of a path's readings over its capacity, which is the same whatever the tool's effect is."""

    def __init__(self, drawn: PathDraws, d: ModelData, path: int) -> None:
        low, high = drawn.reach(d, path)
        known_end = d.path[path, PathColumns.open] == 0
        low, high = low - WIDER, high + (0.0 if known_end else WIDER)
        self._q = np.linspace(low, high, FINE)
        told = drawn.likelihood_of_readings(d, path, left_nodes(low, high, NODES))
        self._told = told @ between_nodes(low, high, NODES, FINE).T
        ratio = drawn.end[:, path] / drawn.base[:, path] - 1.0
        self._until = np.log(np.maximum(ratio, LEAST)) if known_end or (ratio > LEAST_BASE).any() else np.full(len(ratio), -np.inf)

    def at(self, chunk: slice, level: Array, shape: law.Shape) -> tuple[Array, Array]:
        """Log of the mass over all capacities, and the share of it up to the row's end, shapes (draw,)."""
        return _masses(self._q, self._told[chunk], level, shape.k, int(shape.law), self._until[chunk])


@kept
def _masses(q: Array, told: Array, level: Array, k: Array, code: int, until: Array) -> tuple[Array, Array]:
    draws, n = told.shape
    mass, within, value = np.empty(draws), np.empty(draws), np.empty(n)
    step = q[1] - q[0]
    for draw in range(draws):
        start = _total_rise_slope(code, level[draw])[0]
        top = -np.inf
        for i in range(n):
            left = max(q[i], 0.0) + np.log1p(np.exp(-abs(q[i])))
            at = level[draw] + k[draw] * left
            rise = max(_total_rise_slope(code, at)[0] - start, 0.0)
            value[i] = told[draw, i] + np.log(k[draw]) + _log_rise_and_slope(code, at)[0] - (left - q[i]) - rise
            top = max(top, value[i])
        all_, part = 0.0, 0.0
        for i in range(n):
            density = np.exp(value[i] - top)
            all_ += density
            part += density * min(max((until[draw] - q[i]) / step + 0.5, 0.0), 1.0)
        mass[draw], within[draw] = top + np.log(all_ * step), part / all_
    return mass, within
