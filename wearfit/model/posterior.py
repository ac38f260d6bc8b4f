"""From the sampler's coordinates to draws of everything an answer needs. NumPy only, in chunks of draws."""

import zlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from wearfit import law
from wearfit.exposures.covariates import PLANT_COVARIATES
from wearfit.exposures.lives import CENSORED
from wearfit.exposures.table import Exposures
from wearfit.model.clock import PLANT_SLOPES, Clock, log_life, run_clock
from wearfit.model.data import CellColumns, EndedColumns, ModelData, RowColumns
from wearfit.model.layout import COEFFICIENTS, GROUPS, Layout, unseen_scale
from wearfit.model.likelihood import Levels, Terms, candidate_log_likelihood, gains, history_levels, history_terms, tool_spread
from wearfit.model.mixture import joint_log_likelihood, tool_log_likelihood
from wearfit.model.moved import OPEN, Left
from wearfit.model.noted import NotedDraws, asked_of_clock
from wearfit.model.parameters import Parameters, build_parameters, group_scales
from wearfit.model.prepare import levels_seen
from wearfit.model.priors import Priors
from wearfit.model.read_capacity import LiveRead, PathDraws, live_read
from wearfit.model.readings import LEAST, Told, told_by_readings
from wearfit.model.storage import only_storage, storage_spent
from wearfit.model.tool_draws import draw_tool_effects

if TYPE_CHECKING:
    from wearfit.model.sampler import Chains

Array = np.ndarray

CHUNK: Final = 100  # draws handled at once: bounds the memory at chunk x cells
SALT: Final = 1  # keeps draws made here apart from the sampler's


@dataclass(frozen=True)
class Flat:
    """Draws laid end to end, thinned alike in every chain. Arrays have shape (sample, ...)."""

    z: Array
    share: Array
    w: Array
    slot: Array
    read: Array

    def parameters(self, d: ModelData, layout: Layout, chunk: slice = slice(None)) -> Parameters:
        """Parameters of these draws, by the very function that the graph uses."""
        return build_parameters(self.z[chunk], self.share[chunk], self.w[chunk], self.slot[chunk], d, layout)

    def scales(self, d: ModelData) -> Array:
        """Scales of the groups, zero where a group is switched off, shape (sample, group)."""
        return np.asarray(group_scales(self.w, d) * d.group_prior[1])

    @property
    def samples(self) -> int:
        return len(self.z)


@dataclass(frozen=True)
class Laid:
    """Draws of parameters themselves, for which nobody knows the sampler's coordinates. Arrays have shape (sample, ...)."""

    values: Parameters
    w: Array
    read: Array  # coordinates of capacities: of no consequence where the effects of their tools are known

    def parameters(self, d: ModelData, layout: Layout, chunk: slice = slice(None)) -> Parameters:
        return Parameters(self.values.all[chunk], self.values.share[chunk])

    def scales(self, d: ModelData) -> Array:
        """As `Flat.scales`."""
        return np.asarray(group_scales(self.w, d) * d.group_prior[1])

    @property
    def samples(self) -> int:
        return len(self.w)


def flatten(chains: "Chains", most: int) -> Flat:
    """Thin each chain evenly so that at most `most` draws are kept, then lay the chains end to end."""
    n_chains, n_draws = chains.coordinates["z"].shape[:2]
    keep = np.linspace(0, n_draws - 1, min(n_draws, most // n_chains)).round().astype(int)
    return Flat(**{name: values[:, keep].reshape(n_chains * len(keep), -1) for name, values in chains.coordinates.items()})


@dataclass(frozen=True)
class Effects:
    """Effects by group, unseen levels drawn from their population. Arrays of shape (sample, level)."""

    plant: Array
    plant_climate: Array
    resin: Array
    design: Array
    maker: Array
    sudden_plant: Array


def group_effects(
    flat: Flat | Laid, d: ModelData, layout: Layout, exposures: Exposures, priors: Priors, levels: Array, spreads: Array, seed: int
) -> Effects:
    """Effects of every level.

    Parameters
    ----------
    levels, spreads : arrays, shape (plant, plant covariate)
        Yearly mean conditions of each plant, and how unsure they are.
    """
    rng = np.random.default_rng([seed, SALT])
    seen = levels_seen(exposures)
    p = flat.parameters(d, layout)
    scale = flat.scales(d)

    def of(name: str, count: int) -> Array:
        span = layout.block(name)
        return p.all[:, len(COEFFICIENTS) + span.start : len(COEFFICIENTS) + span.stop][:, :count]

    def filled(name: str, known: Array) -> Array:
        effect = of(name, len(known)).copy()
        spread = scale[:, GROUPS.index(name)] * unseen_scale(int(known.sum()))
        effect[:, ~known] = spread[:, None] * rng.standard_normal((flat.samples, int((~known).sum())))
        return effect

    n_plants = len(exposures.plant_ids)
    slopes = p.all[:, PLANT_SLOPES]
    error = of("plant_error", n_plants * len(PLANT_COVARIATES)).reshape(flat.samples, n_plants, len(PLANT_COVARIATES))
    resin_ids = len(exposures.resins.resin_id)
    undescribed = ~exposures.resins.described
    return Effects(
        plant=filled("plant", seen.plant),
        plant_climate=((levels + spreads * error) * slopes[:, None, :]).sum(axis=-1),
        resin=filled("resin", seen.resin) + undescribed * (priors.undescribed_loc + priors.undescribed_sd * of("resin_error", resin_ids)),
        design=filled("design", seen.design),
        maker=filled("maker", seen.maker),
        sudden_plant=of("sudden_plant", n_plants),
    )


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
    at_once: int = CHUNK,
    explained: bool = True,
) -> Rows:
    """Effects of tools; given them, pointwise log-likelihood, and wear spent and characteristic life of the live tools.

    `known_effects` (sample, tool) are kept where they are numbers.
    `scored` (tool,) are those whose measured lives get a pointwise likelihood, which takes an integral each; all by default.
    What is open of a live tool (class, steel, age at entry) is drawn anew in every draw, by its weight given the tool's history;
    with `luck_by_name` it does not depend on which other tools there are. `at_once` draws are handled together.
    Only where it is `explained` is it told what came of storage, and of what is open: `storage_spent` and `moved`.
    """
    rng = np.random.default_rng([seed, SALT + 1])
    luck_of_live = [_own_luck(exposures.tools.tool_id[t], seed) if luck_by_name else rng for t in live_tool]
    h, candidates = exposures.history, exposures.candidates
    tool_of_row = candidates.tool[h.candidate]
    known_row = candidates.known[h.candidate]
    life_of_row = exposures.episodes.life[h.source]
    pairs, observation_of_row = np.unique(np.stack([tool_of_row[known_row], life_of_row[known_row]], axis=1), axis=0, return_inverse=True)
    # A tool that may be several things is one observation; one without a row in the likelihood is none.
    mixed = np.unique(candidates.tool[~candidates.known])
    mixed = mixed[np.isin(mixed, tool_of_row)]
    observation = np.concatenate([pairs.reshape(-1, 2), np.stack([mixed, np.full(len(mixed), -1)], axis=1)])
    # Rows of the episode under way: one for each candidate, none where the age cannot be told.
    rows_of_live = [np.flatnonzero(h.source == e) for e in live_episode]
    n = flat.samples
    out_ll = np.zeros((n, len(observation)), dtype=np.float32)
    spent, stood, eta = (np.full((n, len(live_tool)), np.nan, dtype=np.float32) for _ in range(3))
    opening, recorded = (np.zeros((n, len(live_tool)), dtype=np.float32) for _ in range(2))
    standing = only_storage(d, exposures) if explained else None
    first_candidate = np.searchsorted(candidates.tool, live_tool, side="left")
    count = np.searchsorted(candidates.tool, live_tool, side="right") - first_candidate
    choices = [np.zeros(c, dtype=np.int64) for c in count]
    entry_shots = _entry_shots(exposures, d)
    undecided = Left(exposures, d, live_tool if explained else live_tool[:0], n)
    ended_row = d.ended[:, EndedColumns.row].astype(np.int64)
    ended_known = known_row[ended_row]
    out_tool = np.zeros((n, len(exposures.tools.tool_id)))
    # Apart from what is drawn of the live tools, so that effects do not depend on which tools those are.
    luck = np.random.default_rng([seed, SALT + 2])
    observation_of_known = np.full(len(h.source), -1)
    observation_of_known[known_row] = observation_of_row.ravel()
    # Rows whose capacity is a coordinate have it integrated out, all draws at once, after the others.
    path_of_row = d.row[:, RowColumns.path].astype(np.int64)
    plain_row, plain_ended = known_row & (path_of_row == 0), ended_known & (path_of_row[ended_row] == 0)
    drawn, chosen = PathDraws.empty(n, d, layout.features, wear_law), np.zeros((n, len(live_tool)), dtype=np.int64)
    noted, asked = NotedDraws.empty(n, exposures.noted, len(h.source)), replace(d, reading=asked_of_clock(exposures.noted, d))
    for start in range(0, n, at_once):
        chunk = slice(start, min(start + at_once, n))
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
        if np.isnan(known).any():
            alike = terms_alike(p, clock, lives, d, told, wear_law)
            drawn_now = draw_tool_effects(alike, p.share_of("wear_share"), spread, spread / shape.k, d, luck, wear_law)
            out_tool[chunk] = np.where(np.isnan(known), drawn_now, known)
        lives = lives + out_tool[chunk][:, candidates.tool]
        terms = history_terms(p, clock, lives, d, told=told, wear_law=wear_law)
        drawn.fill(chunk, p, clock, told, lives, terms, d, layout)
        block = np.zeros((len(terms.survived), len(observation)))
        np.add.at(block.T, observation_of_known[plain_row], terms.survived[:, plain_row].T)
        np.add.at(block.T, observation_of_known[ended_row[plain_ended]], gains(terms, p, d)[:, plain_ended].T)
        joint = joint_log_likelihood(candidate_log_likelihood(terms, p, d), d)
        block[:, len(pairs) :] = tool_log_likelihood(joint, d)[:, mixed]
        out_ll[chunk] = block
        draws = np.arange(len(block))
        for i, rows in enumerate(rows_of_live):
            own = slice(first_candidate[i], first_candidate[i] + count[i])
            choice = np.zeros(len(block), dtype=np.int64)
            if count[i] > 1:
                choice = np.argmax(joint[:, own] + luck_of_live[i].gumbel(size=(len(block), count[i])), axis=1)
            choices[i] += np.bincount(choice, minlength=count[i])
            eta[chunk, i] = lives[draws, first_candidate[i] + choice]
            if len(rows):
                spent[chunk, i] = clock.end[draws, rows[choice]]
                recorded[chunk, i] = 1.0 - clock.entry[draws, rows[choice]] / np.maximum(spent[chunk, i], LEAST)
                chosen[chunk, i] = path_of_row[rows[choice]]
                if of_storage is not None:
                    stood[chunk, i] = of_storage[draws, rows[choice]]
                opening[chunk, i] = entry_shots[rows[choice]]
                noted.fill(chunk, int(live_tool[i]), rows[choice], at_noted, clock.end)
                undecided.add(i, chunk, joint[:, own], clock.end[:, rows], lives[:, own], shape)
    candidate = first_candidate + np.array([c.argmax() for c in choices], dtype=np.int64)
    under_way = np.flatnonzero([len(rows) > 0 and h.ending[rows[0]] == CENSORED and path_of_row[rows[0]] > 0 for rows in rows_of_live])
    reads = tuple(live_read(int(i), drawn, d, chosen[:, i]) for i in under_way)
    seen_now = (drawn.base == drawn.end).all(axis=0)
    left_of = {int(chosen[0, r.live]): r.left for r in reads if count[r.live] == 1 and seen_now[chosen[0, r.live]]}
    wanted = np.ones(len(out_tool.T), dtype=bool) if scored is None else scored
    for row in np.flatnonzero(known_row & (path_of_row > 0) & wanted[tool_of_row]):
        path = int(path_of_row[row])
        left = left_of.get(path) or drawn.left(d, path)
        out_ll[:, observation_of_known[row]] += drawn.log_likelihood(left, exposures, d, path)
    moved = undecided.moved() if explained else {name: np.zeros(len(live_tool)) for name in OPEN}
    return Rows(out_tool, out_ll, observation, spent, recorded, stood, eta, opening, candidate, reads, drawn, noted, moved)


def _own_luck(tool: str, seed: int) -> np.random.Generator:
    return np.random.default_rng([seed, SALT + 3, zlib.crc32(tool.encode())])


def terms_alike(p: Parameters, clock: Clock, lives: Array, d: ModelData, told: Told, wear_law: int) -> Terms | Levels:
    """What the likelihood of a history is made of were all tools of a kind alike, as `draw_tool_effects` takes it for the law."""
    if wear_law == law.WEIBULL:
        return history_terms(p, clock, lives, d, told=told)
    return history_levels(p, clock, lives, d, told=told)


def _entry_shots(exposures: Exposures, d: ModelData) -> Array:
    """Shots that each row's life had behind it at entry, where that is reckoned, else 0; shape (row,)."""
    h, cells = exposures.history, exposures.cells
    reckoned = (cells.part == 0) & (exposures.candidates.opening >= 0)[h.candidate[cells.episode]]
    shots = np.zeros(len(h.source))
    np.add.at(shots, cells.episode[reckoned], d.cell[reckoned, CellColumns.shots])
    return shots


def log_median_capacity(rows: Rows, shape: law.Shape) -> Array:
    """Log of the wear at which a live tool has an even chance to be worn, shape (sample, live): what forecasts rest on.

    `shape` (sample,).
    """
    spent, eta = rows.wear_spent.astype(float), rows.log_life.astype(float)
    rise = np.full(spent.shape, np.log(2.0))
    for read in rows.reads:
        rise[:, read.live] = read.left.rise_at(np.full(len(rise), 0.5))
    known = ~np.isnan(spent[0])
    reached = law.cumulative_hazard(spent, eta, shape[:, None]) + rise
    return np.asarray(np.log(law.wear_at(reached, eta, shape[:, None])))[:, known]
