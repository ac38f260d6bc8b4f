"""Wear per shot under given conditions, draw by draw."""

import zlib

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.classes import STEEL_GROUPS
from wearfit.exposures.covariates import JOB_COVARIATES, MONTH_COVARIATES, PLANT_COVARIATES, Jobs, columns

Array = np.ndarray


def generator(calibration: Calibration, *parts: str) -> np.random.Generator:
    """A generator of its own for each named thing: answers do not depend on what else is asked."""
    return np.random.default_rng([calibration.identity.seed, *(zlib.crc32(p.encode()) for p in parts)])


def _slopes(calibration: Calibration, names: tuple[str, ...]) -> Array:
    return np.stack([calibration.coefficient(f"slope.{name}") for name in names], axis=1)


def position(names: Array, wanted: str) -> int:
    """Index of a name, -1 where it is not there."""
    found = np.flatnonzero(names == wanted)
    return int(found[0]) if len(found) else -1


def log_plant_wear(calibration: Calibration) -> Array:
    """Log wear per shot that each plant brings in each calendar month, shape (sample, plant, 12)."""
    level = np.asarray(calibration.draws.plant + calibration.draws.plant_climate, dtype=float)
    slopes = _slopes(calibration, tuple(c.name for c in MONTH_COVARIATES))
    return level[:, :, None] + np.einsum("sk,pmk->spm", slopes, calibration.plants.season)


def log_new_plant_wear(calibration: Calibration, plant_id: str) -> Array:
    """The same for a plant never heard of, drawn from the population of plants, shape (sample, 12)."""
    rng = generator(calibration, "plant", plant_id)
    slopes = _slopes(calibration, tuple(c.name for c in PLANT_COVARIATES))
    conditions = calibration.plants.unknown_level + calibration.plants.unknown_spread * rng.standard_normal(slopes.shape)
    own = group_scale(calibration, "plant", int(calibration.plants.seen.sum())) * rng.standard_normal(calibration.samples)
    return np.repeat((own + (slopes * conditions).sum(axis=1))[:, None], 12, axis=1)


def group_scale(calibration: Calibration, group: str, seen: int) -> Array:
    """Standard deviation of a level never seen about the mean of those seen, shape (sample,)."""
    scale = np.asarray(calibration.draws.scale[:, position(calibration.levels.group, group)], dtype=float)
    return scale * np.sqrt(1.0 + 1.0 / max(seen, 1))


def log_resin_wear(calibration: Calibration) -> Array:
    """Log wear per shot that each resin brings in each steel group, unmodified, shape (sample, resin, steel group)."""
    resins, groups = len(calibration.levels.resin), len(STEEL_GROUPS)
    index, group = np.repeat(np.arange(resins), groups), np.tile(np.arange(groups), resins)
    by_covariate = _job_wear(calibration, index, group, np.zeros(resins * groups))
    return np.asarray(calibration.draws.resin, dtype=float)[:, :, None] + by_covariate.reshape(-1, resins, groups)


def log_new_resin_wear(calibration: Calibration, resin_id: str) -> Array:
    """The same for a resin never heard of and not described, shape (sample, steel group)."""
    rng = generator(calibration, "resin", resin_id)
    own = group_scale(calibration, "resin", int(calibration.resins.seen.sum())) * rng.standard_normal(calibration.samples)
    unknown = calibration.resins.unknown[0] + calibration.resins.unknown[1] * rng.standard_normal(calibration.samples)
    return np.repeat((own + unknown)[:, None], len(STEEL_GROUPS), axis=1)


def log_modification_wear(calibration: Calibration, modifications: Array) -> Array:
    """Log wear per shot that modifications bring, shape (sample, tool)."""
    return calibration.coefficient("slope.modification")[:, None] * modifications[None, :]


def _job_wear(calibration: Calibration, resin: Array, group: Array, modifications: Array) -> Array:
    jobs = Jobs(
        resin=resin,
        steel_group=group,
        modifications=modifications,
        speed=np.zeros(len(resin)),
        filler=calibration.resins.filler[resin],
        corrosive=calibration.resins.corrosive[resin],
    )
    return _slopes(calibration, tuple(c.name for c in JOB_COVARIATES)) @ columns(jobs).T


def sudden_rates(calibration: Calibration, rows: Array, plant: Array) -> Array:
    """Expected sudden stops per shot and per set-up of some live tools at given plants, shape (sample, tool, 2).

    A plant of -1 is one never heard of: the mean rate over plants stands for it.
    """
    live = calibration.live
    offsets = np.stack([calibration.coefficient(f"class_offset.{c}") for c in calibration.levels.service_class], axis=1)
    offsets = np.concatenate([offsets, np.zeros((len(offsets), 1))], axis=1)[:, live.service_class[rows]]
    per_shot = np.exp(calibration.coefficient("log_sudden_per_life"))[:, None] / np.exp(live.log_band[rows][None, :] + offsets)
    per_setup = np.broadcast_to(np.exp(calibration.coefficient("log_sudden_per_handling"))[:, None], per_shot.shape)
    at_plant = np.exp(np.concatenate([calibration.draws.sudden_plant, np.zeros((calibration.samples, 1))], axis=1)[:, plant])
    return np.asarray(np.stack([at_plant * per_shot, at_plant * per_setup], axis=2), dtype=float)
