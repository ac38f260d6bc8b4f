"""What draws come to, row by row of the likelihood and live tool by live tool. NumPy only, in chunks of draws."""

import zlib
from dataclasses import dataclass, replace
from threading import Lock
from typing import Final

import numpy as np

from wearfit import law
from wearfit.exposures.lives import CENSORED
from wearfit.exposures.table import Exposures
from wearfit.model.clock import Clock, log_life, run_clock
from wearfit.model.data import ModelData
from wearfit.model.flat_draws import CHUNK, SALT, TOOLS, Flat, Laid
from wearfit.model.layout import Layout
from wearfit.model.likelihood import Levels, Terms, gains, history_levels, history_terms, tool_spread
from wearfit.model.live_rows import LiveDraws, entry_shots
from wearfit.model.mixture import joint_log_likelihood, tool_log_likelihood
from wearfit.model.moved import OPEN, Left
from wearfit.model.noted import NotedDraws, asked_of_clock
from wearfit.model.observed_rows import Observed
from wearfit.model.parameters import Parameters
from wearfit.model.read_capacity import LiveRead, PathDraws, live_read
from wearfit.model.readings import Told, told_by_readings
from wearfit.model.storage import only_storage, storage_spent
from wearfit.model.tool_draws import Luck, draw_tool_effects
from wearfit.processors import at_once, parts

Array = np.ndarray

TOGETHER: Final = 2_000_000  # draws times rows handled at once: some thirty arrays of as many numbers are there at a time


@dataclass(frozen=True)
class Rows:
    """What each row of the likelihood comes to, for every draw. Arrays of shape (sample, ...)."""

    tool: Array  # (sample, tool) effects on log life
    log_likelihood: Array  # (sample, observation)
    observation: Array  # (observation, 2) tool, life; life -1 for a tool that may be several things
    wear_spent: Array  # (sample, live) NaN where the age is unknown
    recorded_share: Array  # (sample, live) of it that came since the records of the episode begin; 0 where the age is unknown
    storage_spent: Array  # (sample, live) part of the wear spent that came in store or idle
    log_life: Array  # (sample, live)
    opening: Array  # (sample, live) shots that the life under way had behind it at entry, where that is reckoned; else 0
    candidate: Array  # (live,) what the tool is; where that is open, what it is in most draws
    reads: tuple[LiveRead, ...]  # live tools with readings in the life under way
    features: PathDraws
    noted: NotedDraws
    moved: dict[str, Array]  # (live,) by what is open ("steel", "past"): how far that moved the log of what is left of the life


def summarise_rows(
    flat: Flat | Laid,
    d: ModelData,
    layout: Layout,
    exposures: Exposures,
    live_tool: Array,
    live_episode: Array,
    seed: int,
    wear_law: int = law.WEIBULL,
    known_effects: Array | None = None,
    scored: Array | None = None,
    *,
    luck_by_name: bool = False,
    chunk_size: int | None = None,
    explained: bool = True,
) -> Rows:
    """Effects of tools; given them, pointwise log-likelihood, and wear spent and characteristic life of the live tools.

    `known_effects` (sample, tool) are kept where they are numbers.
    `scored` (tool,) are those whose measured lives get a pointwise likelihood, which takes an integral each; all by default.
    What is open of a live tool (class, steel, age at entry) is drawn anew in every draw, by its weight given the tool's history;
    with `luck_by_name` it does not depend on which other tools there are. `chunk_size` draws are handled together, by default fewer of
    a large history, and as many chunks at once as there are processors.
    Only where it is `explained` is it told what came of storage, and of what is open: `storage_spent` and `moved`.
    """
    rng = np.random.default_rng([seed, SALT + 1])
    luck_of_live = [_own_luck(exposures.tools.tool_id[t], seed) if luck_by_name else rng for t in live_tool]
    n, h, candidates = flat.samples, exposures.history, exposures.candidates
    observed = Observed.of(exposures, d)
    live = LiveDraws.empty(n, exposures, live_tool, live_episode)
    out_ll, out_tool = np.zeros((n, len(observed.observation)), dtype=np.float32), np.zeros((n, len(exposures.tools.tool_id)))
    standing, opening = only_storage(d, exposures) if explained else None, entry_shots(exposures, d)
    undecided = Left(exposures, d, live_tool if explained else live_tool[:0], live.row, n)
    # Apart from what is drawn of the live tools, so that effects do not depend on which tools those are.
    luck = np.random.default_rng([seed, SALT + 2])
    # Rows whose capacity is a coordinate have it integrated out, all draws at once, after the others.
    drawn = PathDraws.empty(n, d, layout.features, wear_law)
    noted, asked = NotedDraws.empty(n, exposures.noted, len(h.source)), replace(d, reading=asked_of_clock(exposures.noted, d))
    noted_live = np.flatnonzero(np.isin(live_tool, exposures.noted.tool) & live.told)

    def drawn_in(chunk: slice) -> tuple[slice, Luck, dict[int, Array]]:
        draws = chunk.stop - chunk.start
        anew = known_effects is None or bool(np.isnan(known_effects[chunk]).any())
        return chunk, Luck.of(luck, draws if anew else 0, d), live.luck(luck_of_live, draws)

    def fill(_: int) -> None:
        with taken:  # luck is drawn in order of the draws, and so not by whoever works on them
            chunk, of_tools, of_live = drawn_in(next(chunks))
        p = flat.parameters(d, layout, chunk)
        clock, lives = run_clock(p, asked), log_life(p, d)
        at_noted = clock.at_reading[:, len(d.reading) :]
        clock = replace(clock, at_reading=clock.at_reading[:, : len(d.reading)])
        of_storage = None if standing is None else storage_spent(p, standing)
        spread = tool_spread(p, flat.w[chunk], d)
        shape = law.Shape(np.exp(p.coefficient("log_shape")), wear_law)
        told = told_by_readings(p, clock, flat.read[chunk], d, layout)
        known = np.full((len(spread), out_tool.shape[1]), np.nan) if known_effects is None else known_effects[chunk]
        out_tool[chunk] = known
        if len(of_tools.place):
            alike = terms_alike(p, clock, lives, d, told, wear_law)
            drawn_now = draw_tool_effects(alike, p.share_of("wear_share"), spread, spread / shape.k, d, of_tools, wear_law)
            out_tool[chunk] = np.where(np.isnan(known), drawn_now, known)
        lives = lives + out_tool[chunk][:, candidates.tool]
        terms = history_terms(p, clock, lives, d, told=told, wear_law=wear_law)
        drawn.fill(chunk, p, clock, told, lives, terms, d, layout)
        gained = gains(terms, p, d)
        joint = joint_log_likelihood(observed.by_candidate(terms.survived, gained), d)
        out_ll[chunk] = observed.log_likelihood(terms.survived, gained, tool_log_likelihood(joint, d))
        row = live.fill(chunk, joint, of_live, lives, clock, of_storage, opening, d)
        for i in noted_live:
            noted.fill(chunk, int(live_tool[i]), row[:, i], at_noted, clock.end)
        undecided.add(chunk, joint, clock.end, lives, shape)

    size = chunk_size or max(1, min(CHUNK, TOGETHER // max(len(d.row), 1)))
    every, taken = parts(n, size), Lock()
    chunks = iter(every)
    at_once(fill, range(len(every)))
    under_way = [i for i in np.flatnonzero(live.told) if h.ending[live.row[i, 0]] == CENSORED and observed.path[live.row[i, 0]] > 0]
    reads = tuple(at_once(lambda i: live_read(int(i), drawn, d, live.path[:, i]), under_way))
    seen_now = (drawn.base == drawn.end).all(axis=0)
    left_of = {int(live.path[0, r.live]): r.left for r in reads if live.count[r.live] == 1 and seen_now[live.path[0, r.live]]}
    wanted = np.ones(len(out_tool.T), dtype=bool) if scored is None else scored
    measured = observed.measured[wanted[observed.tool[observed.measured]]]

    def of_measured(row: int) -> Array:
        path = int(observed.path[row])
        # Of thousands of lives what is summed for an answer is not kept.
        left = replace(left_of[path]) if path in left_of else drawn.left(d, path)
        return drawn.log_likelihood(left, exposures, d, path)

    for row, log_likelihood in zip(measured, at_once(of_measured, measured), strict=True):
        out_ll[:, observed.of_row[row]] += log_likelihood
    moved = undecided.moved() if explained else {name: np.zeros(len(live_tool)) for name in OPEN}
    return Rows(
        out_tool, out_ll, observed.observation, live.wear_spent, live.recorded_share, live.storage_spent, live.log_life, live.opening,
        live.usual_candidate(), reads, drawn, noted, moved,
    )  # fmt: skip


def _own_luck(tool: str, seed: int) -> np.random.Generator:
    return np.random.default_rng([seed, SALT + 3, zlib.crc32(tool.encode())])


def terms_alike(p: Parameters, clock: Clock, lives: Array, d: ModelData, told: Told, wear_law: int) -> Terms | Levels:
    """What the likelihood of a history is made of were all tools of a kind alike, as `draw_tool_effects` takes it for the law."""
    if wear_law == law.WEIBULL:
        return history_terms(p, clock, lives, d, told=told)
    return history_levels(p, clock, lives, d, told=told)


def log_median_capacity(rows: Rows, shape: law.Shape) -> Array:
    """Log of the wear at which a live tool has an even chance to be worn, shape (sample, live): what forecasts rest on.

    `shape` (sample,).
    """
    spent, eta = rows.wear_spent.astype(float), rows.log_life.astype(float)
    rise = np.full(spent.shape, np.log(2.0))
    for read in rows.reads:
        rise[:, read.live] = read.median_rise
    known = ~np.isnan(spent[0])

    def capacity(tools: slice) -> Array:
        reached = law.cumulative_hazard(spent[:, tools], eta[:, tools], shape[:, None]) + rise[:, tools]
        return np.asarray(np.log(law.wear_at(reached, eta[:, tools], shape[:, None])))

    return np.concatenate(at_once(capacity, parts(spent.shape[1], TOOLS)), axis=1)[:, known]
