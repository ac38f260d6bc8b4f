"""From the sampler's coordinates to draws of everything an answer needs. NumPy only, in chunks of draws."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit import law
from wearfit.exposures.classes import BANDED
from wearfit.exposures.covariates import PLANT_COVARIATES
from wearfit.exposures.table import Exposures
from wearfit.model.data import EndedColumns, ModelData
from wearfit.model.layout import COEFFICIENTS, GROUPS, Layout, unseen_scale
from wearfit.model.likelihood import (
    PLANT_SLOPES,
    Parameters,
    build_parameters,
    candidate_log_likelihood,
    gains,
    group_scales,
    history_terms,
    log_life,
    mixture_joint,
    mixture_log_likelihood,
    run_clock,
    tool_spread,
)
from wearfit.model.prepare import levels_seen
from wearfit.model.priors import Priors
from wearfit.model.sampler import Chains
from wearfit.model.storage import only_storage, storage_spent
from wearfit.model.tool_draws import draw_tool_effects

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

    def parameters(self, d: ModelData, layout: Layout, chunk: slice = slice(None)) -> Parameters:
        """Parameters of these draws, by the very function that the graph uses."""
        return build_parameters(self.z[chunk], self.share[chunk], self.w[chunk], self.slot[chunk], d, layout)

    def scales(self, d: ModelData) -> Array:
        """Scales of the groups, zero where a group is switched off, shape (sample, group)."""
        return np.asarray(group_scales(self.w, d) * d.group_prior[1])

    @property
    def samples(self) -> int:
        return len(self.z)


def flatten(chains: Chains, most: int) -> Flat:
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
    flat: Flat, d: ModelData, layout: Layout, exposures: Exposures, priors: Priors, levels: Array, spreads: Array, seed: int
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
    observation: Array  # (observation, 2) tool, life; life -1 for a tool of unknown class
    wear_spent: Array  # (sample, live) NaN where the age is unknown
    storage_spent: Array  # (sample, live) part of the wear spent that came in store or idle
    log_life: Array  # (sample, live)
    candidate: Array  # (live,) what the tool is; where its class is unknown, what it is in most draws


def summarise_rows(
    flat: Flat, d: ModelData, layout: Layout, exposures: Exposures, live_tool: Array, live_episode: Array, seed: int
) -> Rows:
    """Effects of tools; given them, pointwise log-likelihood, and wear spent and characteristic life of the live tools.

    A live tool of unknown class has its class drawn anew in every draw, by the class's weight given its history.
    """
    rng = np.random.default_rng([seed, SALT + 1])
    h, candidates = exposures.history, exposures.candidates
    tool_of_row = candidates.tool[h.candidate]
    known_row = candidates.known[h.candidate]
    life_of_row = exposures.episodes.life[h.source]
    pairs, observation_of_row = np.unique(np.stack([tool_of_row[known_row], life_of_row[known_row]], axis=1), axis=0, return_inverse=True)
    # A tool of unknown class has a mixture, after the first; one without a row in the likelihood is no observation.
    mixed = np.unique(candidates.tool[~candidates.known])
    observed = np.isin(mixed, tool_of_row)
    observation = np.concatenate([pairs.reshape(-1, 2), np.stack([mixed[observed], np.full(observed.sum(), -1)], axis=1)])
    mixture_of_live = np.where(np.isin(live_tool, mixed), 1 + np.searchsorted(mixed, live_tool), 0)
    # Rows of the episode under way; BANDED of them where the class is unknown, none where the age is.
    rows_of_live = [np.flatnonzero(h.source == e) for e in live_episode]
    n = flat.samples
    out_ll = np.zeros((n, len(observation)), dtype=np.float32)
    spent, stood, eta = (np.full((n, len(live_tool)), np.nan, dtype=np.float32) for _ in range(3))
    standing = only_storage(d, exposures)
    class_draws = np.zeros((len(live_tool), BANDED), dtype=np.int64)
    first_candidate = np.searchsorted(candidates.tool, live_tool, side="left")
    ended_row = d.ended[:, EndedColumns.row].astype(np.int64)
    ended_known = known_row[ended_row]
    out_tool = np.zeros((n, len(exposures.tools.tool_id)))
    # Apart from what is drawn of the live tools, so that effects do not depend on which tools those are.
    luck = np.random.default_rng([seed, SALT + 2])
    observation_of_known = np.full(len(h.source), -1)
    observation_of_known[known_row] = observation_of_row.ravel()
    observation_of_ended = observation_of_known[ended_row[ended_known]]
    for start in range(0, n, CHUNK):
        chunk = slice(start, min(start + CHUNK, n))
        p = flat.parameters(d, layout, chunk)
        clock, lives = run_clock(p, d), log_life(p, d)
        of_storage = storage_spent(p, standing)
        spread = tool_spread(p, flat.w[chunk], d)
        scale = spread / np.exp(p.coefficient("log_shape"))
        alike = history_terms(p, clock, lives, d)
        out_tool[chunk] = draw_tool_effects(alike, p.share_of("wear_share"), spread, scale, d, candidates.tool, luck)
        lives = lives + out_tool[chunk][:, candidates.tool]
        terms = history_terms(p, clock, lives, d)
        block = np.zeros((len(terms.survived), len(observation)))
        np.add.at(block.T, observation_of_row.ravel(), terms.survived[:, known_row].T)
        np.add.at(block.T, observation_of_ended, gains(terms, p, d)[:, ended_known].T)
        joint = mixture_joint(candidate_log_likelihood(terms, p, d), d)
        block[:, len(pairs) :] = mixture_log_likelihood(joint)[:, 1:][:, observed]
        out_ll[chunk] = block
        for i, rows in enumerate(rows_of_live):
            draws, choice = np.arange(len(block)), np.zeros(len(block), dtype=np.int64)
            if mixture_of_live[i]:
                log_weight = joint[:, mixture_of_live[i]]
                choice = np.argmax(log_weight + rng.gumbel(size=log_weight.shape), axis=1)
            class_draws[i] += np.bincount(choice, minlength=BANDED)
            eta[chunk, i] = lives[draws, first_candidate[i] + choice]
            if len(rows):
                spent[chunk, i] = clock.end[draws, rows[choice]]
                stood[chunk, i] = of_storage[draws, rows[choice]]
    return Rows(out_tool, out_ll, observation, spent, stood, eta, first_candidate + class_draws.argmax(axis=1))


def log_median_capacity(rows: Rows, shape: Array) -> Array:
    """Log of the wear at which a live tool has an even chance to be worn, shape (sample, live): what forecasts rest on."""
    known = ~np.isnan(rows.wear_spent[0])
    spent, eta = rows.wear_spent[:, known].astype(float), rows.log_life[:, known].astype(float)
    reached = law.cumulative_hazard(spent, eta, shape[:, None])
    return np.asarray(np.log(law.wear_at(reached + np.log(2.0), eta, shape[:, None])))
