"""From exposures and priors to the arrays of the compiled model."""

from dataclasses import fields
from types import SimpleNamespace
from typing import Any

import numpy as np
from scipy.linalg import block_diag

from wearfit.errors import Refusal
from wearfit.exposures.classes import CLASSES, STEELS, setup_share
from wearfit.exposures.covariates import JOB_COVARIATES, PLANT_COVARIATES, columns, spreads
from wearfit.exposures.lives import EXACT
from wearfit.exposures.places import plant_levels
from wearfit.exposures.table import Exposures
from wearfit.model.bands import BandOffsets, band_offsets, log_band
from wearfit.model.clock import log_job, log_place
from wearfit.model.data import ModelData, check_bounds
from wearfit.model.layout import CLASS_OFFSET, COEFFICIENTS, GROUPS, Layout, coefficient_index
from wearfit.model.levels_seen import contrasts, levels_seen, mirror_of
from wearfit.model.parameters import Parameters
from wearfit.model.past import opening_ages
from wearfit.model.priors import Priors
from wearfit.model.read_lives import read_episodes, read_tables
from wearfit.model.scale_coordinates import NOWHERE
from wearfit.model.start import start_by_prior
from wearfit.model.storage import storage_amount, with_storage
from wearfit.model.unknown_class import candidate_log_weights, sudden_share
from wearfit.records.coatings import COATINGS

Array = np.ndarray


def layout_of(exposures: Exposures) -> Layout:
    """The smallest layout that holds a history's levels."""
    tools = exposures.tools
    return Layout.fitting(
        len(exposures.plant_ids),
        len(exposures.resins.resin_id),
        len(tools.design_ids),
        len(tools.maker_ids),
        len(exposures.readings.feature_ids),
        len(read_episodes(exposures)),
    )


def prepare(exposures: Exposures, priors: Priors, layout: Layout) -> ModelData:
    """Arrays for the compiled model, its coordinates along the prior's own axes: `Compiled.laid` turns them for sampling.


    Raises
    ------
    Refusal
        Where the records hold no shot that a life made whose age is known or can be reckoned.
    ValueError
        Where the layout is too small or an index is out of bounds; a compiled model would corrupt memory.
    """
    if not (exposures.cells.years == 0).any():
        raise Refusal(
            "No run belongs to a life whose age is known, so there is nothing to learn from.",
            "Add runs, or the opening_life_shots of the tools.",
        )
    _refuse_too_small(layout, layout_of(exposures))
    seen = levels_seen(exposures)
    offsets = band_offsets(priors)
    bands = log_band(exposures, priors, offsets)
    cells, read, candidate_of = exposures.cells, read_tables(exposures), exposures.history.candidate[exposures.cells.episode]
    setups_counted = setup_share(bands)[candidate_of]
    place = _places(exposures, layout)
    plant, job = _plants(exposures, layout), _jobs(exposures, priors, layout)
    opening, log_weight = _openings(exposures, priors, bands, offsets, SimpleNamespace(plant=plant, place=place, job=job), layout)
    shots = cells.shots * np.where(cells.part == 0, opening[candidate_of], 1.0) + storage_amount(exposures, bands)
    sudden = _sudden(exposures, sudden_share(exposures, priors, log_weight, bands, offsets), bands, layout)
    share_prior = np.stack([priors.share_a, priors.share_b, priors.share_on])
    data = ModelData(
        coefficient_loc=priors.loc,
        root=block_diag(priors.root, np.eye(layout.unscaled)),
        share_prior=share_prior,
        group_prior=np.stack([priors.scale, priors.group_on]),
        log_from=np.full(len(GROUPS), NOWHERE),
        lean=np.zeros((len(COEFFICIENTS) + layout.unscaled, layout.scaled)),
        lean_on_air=np.zeros((len(COEFFICIENTS) + layout.unscaled, layout.plants)),
        slot_told=np.zeros(layout.scaled),
        plant_told=np.zeros((2, layout.plants)),
        slot_score=np.zeros(layout.scaled),
        likely=np.zeros(len(COEFFICIENTS) + layout.size),
        contrast=contrasts(layout, seen),
        mirror=mirror_of(layout, seen),
        start=start_by_prior(share_prior, layout),
        plant=plant,
        place=place,
        job=with_storage(job, exposures),
        candidate=_candidates(exposures, bands, log_weight, layout),
        cell=np.stack([cells.place, cells.job, shots, cells.setups * setups_counted], axis=1).astype(float),
        row=np.column_stack([_rows(exposures), read.of_row]),
        ended=read.ended,
        path=read.path,
        reading=read.reading,
        feature_loc=np.repeat(priors.feature_loc[:, None], layout.features, axis=1),
        feature_root=_feature_roots(priors, len(exposures.readings.feature_ids), layout.features),
        unread=(np.arange(layout.reads) >= len(read_episodes(exposures))).astype(float),
        sudden=sudden,
        causes=_causes(exposures, priors, float(sudden[1].sum())),
    )
    check_bounds(data, layout)
    return data


def _refuse_too_small(layout: Layout, least: Layout) -> None:
    """Raise ValueError where a bucket is too small: a level beyond it would be taken for one of the next group."""
    for f in fields(Layout):
        if getattr(layout, f.name) < getattr(least, f.name):
            raise ValueError(f"{f.name}: {getattr(layout, f.name)} slots, {getattr(least, f.name)} are needed")


def _plants(exposures: Exposures, layout: Layout) -> Array:
    levels = plant_levels(exposures.climate)
    n = len(PLANT_COVARIATES)
    slots = np.arange(layout.plants)
    known = np.zeros((layout.plants, 2 * n))
    known[: len(exposures.plant_ids)] = np.concatenate([columns(levels), spreads(levels)], axis=1)
    error = layout.parameter("plant_error", slots[:, None] * n + np.arange(n))
    return np.concatenate([layout.parameter("plant", slots)[:, None], error, known], axis=1).astype(float)


def _places(exposures: Exposures, layout: Layout) -> Array:
    places = exposures.places
    plant = np.where(places.plant < 0, layout.plants - 1, places.plant)  # the last slot never holds a plant: no effect, no conditions
    return np.concatenate([plant[:, None], columns(places.months)], axis=1).astype(float)


def _jobs(exposures: Exposures, priors: Priors, layout: Layout) -> Array:
    jobs = exposures.jobs
    slopes = np.array([coefficient_index(f"slope.{c.name}") for c in JOB_COVARIATES])
    unknown = np.append(~exposures.resins.described, False)[jobs.resin].astype(float)
    index = np.concatenate(
        [
            np.broadcast_to(slopes, (len(jobs.resin), len(slopes))),
            layout.parameter("resin", jobs.resin)[:, None],
            layout.parameter("resin_error", jobs.resin)[:, None],
        ],
        axis=1,
    )
    weight = np.concatenate([columns(jobs), np.ones((len(unknown), 1)), (priors.undescribed_sd * unknown)[:, None]], axis=1)
    return np.concatenate([(priors.undescribed_loc * unknown)[:, None], index, weight], axis=1).astype(float)


def _openings(
    exposures: Exposures, priors: Priors, bands: Array, offsets: BandOffsets, conditions: Any, layout: Layout
) -> tuple[Array, Array]:
    """Shots of each candidate's unknown opening, one where it is known, and the log weight of all that the candidate stands for."""
    cells, candidates = exposures.cells, exposures.candidates
    centre = Parameters(np.concatenate([priors.loc, np.zeros(layout.size)]), np.array([]))
    wear = np.zeros(len(bands))
    of_opening = np.flatnonzero(cells.part == 0)
    wear[exposures.history.candidate[cells.episode[of_opening]]] = (
        log_place(centre, conditions)[cells.place[of_opening]] + log_job(centre, conditions)[cells.job[of_opening]]
    )
    steels = priors.loc[[coefficient_index(f"steel.{s}") for s in STEELS]]
    coatings = np.append(priors.loc[[coefficient_index(f"coating.{c}") for c in COATINGS]], 0.0)
    life = bands + steels[candidates.steel] - steels[candidates.usual_steel] + coatings[candidates.coating]
    shots, of_age = opening_ages(exposures, priors, life, offsets, wear)
    return shots, candidate_log_weights(exposures, priors, of_age)


def _candidates(exposures: Exposures, bands: Array, log_weight: Array, layout: Layout) -> Array:
    candidates, tools = exposures.candidates, exposures.tools
    steels = np.array([coefficient_index(f"steel.{s}") for s in STEELS])
    coatings = np.array([coefficient_index(f"coating.{c}") for c in COATINGS])
    coated = candidates.coating >= 0
    index = np.stack(
        [
            CLASS_OFFSET.start + candidates.service_class,
            steels[candidates.steel],
            steels[candidates.usual_steel],
            np.where(coated, coatings[candidates.coating], 0),
            layout.parameter("design", tools.design[candidates.tool]),
            layout.parameter("maker", tools.maker[candidates.tool]),
        ],
        axis=1,
    )
    weight = np.tile(np.array([1.0, 1.0, -1.0, 0.0, 1.0, 1.0]), (len(index), 1))
    weight[:, 3] = coated
    counted = np.stack([candidates.tool, log_weight], axis=1)
    return np.concatenate([bands[:, None], index, weight, counted], axis=1).astype(float)


def _feature_roots(priors: Priors, seen: int, slots: int) -> Array:
    """Roots of the prior covariances of level, log growth and log noise between features, those not seen alone; (3, slots, slots).

    What all features have in common is no coordinate of its own: with a handful of features it would trade off with theirs.
    """
    roots = np.zeros((3, slots, slots))
    for root, common, own in zip(roots, *priors.feature_sd, strict=True):
        np.fill_diagonal(root, np.hypot(common, own))
        if common > 0.0 and own > 0.0:
            root[:seen, :seen] = np.linalg.cholesky(common**2 + own**2 * np.eye(seen))
        elif common > 0.0:
            root[:seen, :seen] = 0.0
            root[:seen, :1] = common
    return roots


def _rows(exposures: Exposures) -> Array:
    h = exposures.history
    return np.stack(
        [
            h.candidate,
            h.chain,
            h.cell_start,
            h.cell_entry,
            np.where(h.ending == EXACT, h.cell_stop, h.cell_good),
            h.cell_stop,
            np.maximum(h.last_place, 0),
            np.maximum(h.last_job, 0),
            h.repeat,
            h.kept,
        ],
        axis=1,
    ).astype(float)


def _causes(exposures: Exposures, priors: Priors, lives: float) -> Array:
    """What the renewals tell of the rate of those for other causes than wear, as `cause_log_likelihood` takes it, shape (3,).

    Parameters
    ----------
    lives : float
        Characteristic lives, by their bands, whose shots the records hold.
    """
    h = exposures.history
    unstated, other = len(np.unique(h.source[h.unstated & (h.ending == EXACT)])), exposures.stated_other
    return np.array([-(unstated + other), other, lives * np.exp(priors.loc[coefficient_index("log_shape")])], dtype=float)


def _sudden(exposures: Exposures, share: Array, bands: Array, layout: Layout) -> Array:
    """Stops and exposures by class and plant."""
    candidates, pairs = exposures.candidates, exposures.sudden
    first = np.searchsorted(candidates.tool, pairs.tool, side="left")
    count = np.searchsorted(candidates.tool, pairs.tool, side="right") - first
    pair = np.repeat(np.arange(len(first)), count)
    candidate = first[pair] + np.arange(len(pair)) - np.repeat(np.cumsum(count) - count, count)
    table = np.zeros((3, len(CLASSES), layout.plants))
    lives = pairs.shots[pair] / np.exp(bands[candidate])
    for layer, amount in enumerate((pairs.stops[pair], lives, pairs.handlings[pair])):
        np.add.at(table[layer], (candidates.service_class[candidate], pairs.plant[pair]), amount * share[candidate])
    return table
