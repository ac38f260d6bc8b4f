"""What the history of each tool tells of draws: its likelihood, the tool's effect integrated out, or given it.

Some tools may be taken alone: each tool's luck is its own, and its numbers do not depend on which others there are.
"""

import zlib
from dataclasses import replace
from typing import Final

import numpy as np

from wearfit.exposures.live import LiveTools
from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import CandidateColumns, PathColumns
from wearfit.model.likelihood import tool_spread
from wearfit.model.mixture import first_of_tools, joint_log_likelihood, tool_log_likelihood
from wearfit.model.posterior import Rows, summarise_rows, terms_alike
from wearfit.model.readings import Told
from wearfit.model.some_tools import of_tools
from wearfit.model.subject import Subject
from wearfit.model.tool_draws import NODES, effect_grid
from wearfit.processors import parts

Array = np.ndarray

MOST_CELLS: Final = 2_000_000  # of all draws that are handled together, which bounds the memory


def integrated(of: Subject, seed: int) -> tuple[Array, Array]:
    """Log-likelihood of each tool's history, its effect and what it may be integrated out, and an effect drawn from it.

    Shapes (sample, tool). Each tool's luck is its own, whichever others there are.
    """
    n, d = of.drawn.samples, of.data
    told, effects = np.zeros((n, len(of.names))), np.zeros((n, len(of.names)))
    kind, uniform = _luck(of, seed)
    for chunk in parts(n, _at_once(of)):
        p = of.drawn.parameters(d, of.layout, chunk)
        clock = run_clock(p, d)
        # Of lives with readings nothing is told here, for their tools are weighed otherwise.
        capacity = clock.end[:, d.path[:, PathColumns.row].astype(np.int64)]
        told_nothing = Told(capacity, 0.0 * capacity, 0.0 * capacity)
        terms = terms_alike(p, clock, log_life(p, d), d, told_nothing, of.wear_law)
        spread = tool_spread(p, of.drawn.w[chunk], d)
        grid = effect_grid(terms, p.share_of("wear_share"), spread, d, of.wear_law)
        joint = joint_log_likelihood(grid.log_mass(np.arange(len(d.candidate))), d)
        told[chunk] = tool_log_likelihood(joint, d)
        scale = np.abs(spread) / np.exp(p.coefficient("log_shape"))
        effects[chunk] = -scale * grid.drawn(_chosen(joint + kind[chunk], d.candidate), uniform[chunk])
    return told, effects


def _luck(of: Subject, seed: int) -> tuple[Array, Array]:
    """Gumbel draws for each candidate, (sample, candidate), and uniform ones for each tool, (sample, tool)."""
    n, candidate = of.drawn.samples, of.data.candidate
    count = np.bincount(candidate[:, CandidateColumns.tool].astype(np.int64), minlength=len(of.names))
    kind, uniform = np.zeros((len(candidate), n)), np.zeros((len(count), n))
    for i, (name, first) in enumerate(zip(of.names, np.cumsum(count) - count, strict=True)):
        rng = np.random.default_rng([seed, 67, zlib.crc32(name.encode())])
        uniform[i] = rng.random(n)
        kind[first : first + count[i]] = rng.gumbel(size=(count[i], n)) if count[i] > 1 else 0.0
    return kind.T, uniform.T


def _chosen(luck: Array, candidate: Array) -> Array:
    """The candidate of each tool with most luck, shape (draw, tool)."""
    first = first_of_tools(candidate)
    stop = np.append(first[1:], len(candidate))
    return np.stack([a + luck[:, a:b].argmax(axis=1) for a, b in zip(first, stop, strict=True)], axis=1)


def given_effect(of: Subject, effects: Array, tool: int, seed: int) -> Array:
    """Log-likelihood of one tool's history given the effects of all, shape (sample,); a measured life takes an integral."""
    chosen = np.arange(len(of.names)) == tool
    if not chosen[of.exposures.candidates.tool[of.exposures.history.candidate]].any():
        return np.zeros(len(effects))
    some = some_of(of, chosen)
    nobody = np.zeros(0, dtype=np.int64)
    rows = summarise_rows(
        of.drawn, some.data, of.layout, some.exposures, nobody, nobody, seed, of.wear_law, effects[:, chosen], chunk_size=_at_once(some)
    )
    return np.asarray(rows.log_likelihood.sum(axis=1, dtype=float))


def rows_of(of: Subject, live: LiveTools, effects: Array, seed: int) -> Rows:
    """What live tools come to given the effects of all, (sample, tool)."""
    scored = np.zeros(len(of.names), dtype=bool)
    return summarise_rows(
        of.drawn, of.data, of.layout, of.exposures, live.tool, live.episode, seed, of.wear_law, effects, scored, luck_by_name=True,
        chunk_size=_at_once(of), explained=False,
    )  # fmt: skip


def some_of(of: Subject, chosen: Array) -> Subject:
    """The same of some tools alone; `chosen` (tool,)."""
    exposures, data = of_tools(of.exposures, of.data, chosen)
    names = exposures.tools.tool_id
    return replace(
        of, exposures=exposures, data=data, names=names, tool=of.tool[:, chosen], measured=of.measured[chosen], open=of.open[chosen]
    )


def _at_once(of: Subject) -> int:
    """Draws that are handled together."""
    return max(1, MOST_CELLS // max(len(of.data.cell), len(of.data.candidate) * NODES))
