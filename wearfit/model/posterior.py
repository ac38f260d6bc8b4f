"""From the sampler's coordinates to draws of everything an answer needs. NumPy only, in chunks of draws."""

import zlib
from dataclasses import dataclass, replace
from itertools import batched
from typing import TYPE_CHECKING, Final

import numpy as np

from wearfit import law
from wearfit.exposures.covariates import PLANT_COVARIATES
from wearfit.exposures.lives import CENSORED
from wearfit.exposures.table import Exposures
from wearfit.model.clock import PLANT_SLOPES, Clock, log_life, run_clock
from wearfit.model.data import ModelData
from wearfit.model.layout import COEFFICIENTS, GROUPS, Layout, unseen_scale
from wearfit.model.levels_seen import levels_seen
from wearfit.model.likelihood import Levels, Terms, gains, history_levels, history_terms, tool_spread
from wearfit.model.live_rows import LiveDraws, entry_shots
from wearfit.model.mixture import joint_log_likelihood, tool_log_likelihood
from wearfit.model.moved import OPEN, Left
from wearfit.model.noted import NotedDraws, asked_of_clock
from wearfit.model.observed_rows import Observed
from wearfit.model.parameters import Parameters, build_parameters, group_scales
from wearfit.model.priors import Priors
from wearfit.model.read_capacity import LiveRead, PathDraws, live_read
from wearfit.model.readings import Told, told_by_readings
from wearfit.model.storage import only_storage, storage_spent
from wearfit.model.tool_draws import Luck, draw_tool_effects
from wearfit.processors import at_once, processors

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
    chunk_size: int = CHUNK,
    explained: bool = True,
) -> Rows:
    """Effects of tools; given them, pointwise log-likelihood, and wear spent and characteristic life of the live tools.

    `known_effects` (sample, tool) are kept where they are numbers.
    `scored` (tool,) are those whose measured lives get a pointwise likelihood, which takes an integral each; all by default.
    What is open of a live tool (class, steel, age at entry) is drawn anew in every draw, by its weight given the tool's history;
    with `luck_by_name` it does not depend on which other tools there are. `chunk_size` draws are handled together,
    and as many chunks at once as there are processors.
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

    def fill(piece: tuple[slice, Luck, dict[int, Array]]) -> None:
        chunk, of_tools, of_live = piece
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

    # Luck is drawn in order of the draws, and so not by whoever works on them.
    for chunks in batched((slice(start, min(start + chunk_size, n)) for start in range(0, n, chunk_size)), processors()):
        at_once(fill, [drawn_in(chunk) for chunk in chunks])
    under_way = [i for i in np.flatnonzero(live.told) if h.ending[live.row[i, 0]] == CENSORED and observed.path[live.row[i, 0]] > 0]
    reads = tuple(at_once(lambda i: live_read(int(i), drawn, d, live.path[:, i]), under_way))
    seen_now = (drawn.base == drawn.end).all(axis=0)
    left_of = {int(live.path[0, r.live]): r.left for r in reads if live.count[r.live] == 1 and seen_now[live.path[0, r.live]]}
    wanted = np.ones(len(out_tool.T), dtype=bool) if scored is None else scored
    measured = observed.measured[wanted[observed.tool[observed.measured]]]

    def of_measured(row: int) -> Array:
        path = int(observed.path[row])
        return drawn.log_likelihood(left_of.get(path) or drawn.left(d, path), exposures, d, path)

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
        rise[:, read.live] = read.left.rise_at(np.full(len(rise), 0.5))
    known = ~np.isnan(spent[0])
    reached = law.cumulative_hazard(spent, eta, shape[:, None]) + rise
    return np.asarray(np.log(law.wear_at(reached, eta, shape[:, None])))[:, known]
