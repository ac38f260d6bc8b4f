"""Wear per shot and sudden stops under given conditions, draw by draw."""

import zlib
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.classes import STEEL_GROUPS
from wearfit.exposures.covariates import JOB_COVARIATES, MONTH_COVARIATES, PLANT_COVARIATES, Jobs, columns

Array = np.ndarray

OF_CONDITIONS: Final = ("coefficient", "plant", "plant_climate", "resin", "sudden_plant", "scale")  # draws that are asked for


@dataclass(frozen=True)
class Conditions:
    """What the plants and resins of a calibration bring. The last plant stands for one that is not known: the mean of the others."""

    plant_wear: Array  # (12, sample, plant + 1) factor on wear per shot in each calendar month
    resin_wear: Array  # (sample, resin, steel group) wear per shot of an unmodified tool at the plant whose factor is one
    plant_sudden: Array  # (sample, plant + 1) factor on sudden stops


def read_conditions(calibration: Calibration) -> Conditions:
    """Conditions at every plant and in every resin of a calibration; draws of one lie side by side in memory."""
    log_plant = _with_mean(log_plant_wear(calibration))
    log_sudden = np.concatenate([calibration.draws.sudden_plant, np.zeros((calibration.samples, 1))], axis=1)
    plant_wear, resin_wear, plant_sudden = (
        np.exp(log.T, order="C", dtype=calibration.precision, casting="same_kind")
        for log in (log_plant, log_resin_wear(calibration), log_sudden)
    )
    return Conditions(np.swapaxes(plant_wear, 1, 2), resin_wear.T, plant_sudden.T)


def of_tools(values: Array, index: Array) -> Array:
    """Columns of a table (sample, level), each tool's draws side by side in memory, shape (sample, tool)."""
    return np.ascontiguousarray(values.T[index]).T


def by_draw_and_tool(by_draw: Array, by_tool: Array) -> Array:
    """Products of (sample,) and (tool,), each tool's draws side by side in memory, shape (sample, tool)."""
    return np.multiply.outer(in_precision_of(by_draw, by_tool), by_draw).T


def in_precision_of(draws: Array, values: Array | float) -> Array:
    """Values of tools or runs in the precision of draws, in which products of the two then stay."""
    return np.asarray(values, dtype=draws.dtype)


def _with_mean(by_plant: Array) -> Array:
    n, plants, months = by_plant.shape
    mean = by_plant.mean(axis=1, keepdims=True) if plants else np.zeros((n, 1, months))
    return np.concatenate([by_plant, mean], axis=1)


def generator(calibration: Calibration, *parts: str) -> np.random.Generator:
    """A generator of its own for each named thing: answers do not depend on what else is asked."""
    return np.random.default_rng([calibration.identity.seed, *(zlib.crc32(p.encode()) for p in parts)])


def position(names: Array, wanted: str) -> int:
    """Index of a name, -1 where it is not there."""
    found = np.flatnonzero(names == wanted)
    return int(found[0]) if len(found) else -1


def log_plant_wear(calibration: Calibration) -> Array:
    """Log wear per shot that each plant brings in each calendar month, shape (sample, plant, 12)."""
    level = np.asarray(calibration.draws.plant, dtype=float) + np.asarray(calibration.draws.plant_climate, dtype=float)
    slopes = _slopes(calibration, tuple(c.name for c in MONTH_COVARIATES))
    return level[:, :, None] + np.einsum("sk,pmk->spm", slopes, calibration.plants.season)


def new_plant_wear(calibration: Calibration, plant_id: str) -> Array:
    """Wear per shot at a plant never heard of, drawn from the population of plants, shape (sample,)."""
    rng = generator(calibration, "plant", plant_id)
    slopes = _slopes(calibration, tuple(c.name for c in PLANT_COVARIATES))
    conditions = calibration.plants.unknown_level + calibration.plants.unknown_spread * rng.standard_normal(slopes.shape)
    own = _new_level_scale(calibration, "plant", calibration.plants.seen) * rng.standard_normal(calibration.samples)
    return np.exp(own + (slopes * conditions).sum(axis=1))


def new_plant_sudden(calibration: Calibration, plant_id: str) -> Array:
    """Factor on sudden stops at a plant never heard of, drawn from the population of plants, shape (sample,)."""
    rng = generator(calibration, "sudden plant", plant_id)
    return np.exp(_scale(calibration, "sudden_plant") * rng.standard_normal(calibration.samples))


def log_resin_wear(calibration: Calibration) -> Array:
    """Log wear per shot that each resin brings in each steel group, unmodified, shape (sample, resin, steel group)."""
    resins, groups = len(calibration.levels.resin), len(STEEL_GROUPS)
    index = np.repeat(np.arange(resins), groups)
    jobs = Jobs(
        resin=index,
        steel_group=np.tile(np.arange(groups), resins),
        modifications=np.zeros(resins * groups),
        speed=np.zeros(resins * groups),
        filler=calibration.resins.filler[index],
        corrosive=calibration.resins.corrosive[index],
    )
    by_covariate = _slopes(calibration, tuple(c.name for c in JOB_COVARIATES)) @ columns(jobs).T
    return np.asarray(calibration.draws.resin, dtype=float)[:, :, None] + by_covariate.reshape(calibration.samples, resins, groups)


def new_resin_wear(calibration: Calibration, resin_id: str) -> Array:
    """Wear per shot in a resin never heard of and not described, drawn from the population of resins, shape (sample,)."""
    rng = generator(calibration, "resin", resin_id)
    own = _new_level_scale(calibration, "resin", calibration.resins.seen) * rng.standard_normal(calibration.samples)
    unknown = calibration.resins.unknown[0] + calibration.resins.unknown[1] * rng.standard_normal(calibration.samples)
    return np.exp(own + unknown)


def modification_wear(calibration: Calibration, modifications: Array) -> Array:
    """Factor on wear per shot that modifications bring, shape (sample, tool)."""
    counts, which = np.unique(modifications, return_inverse=True)
    slope = calibration.coefficient("slope.modification")
    return of_tools(np.exp(by_draw_and_tool(slope, counts)), which)


def sudden_rates(calibration: Calibration, rows: Array) -> tuple[Array, Array]:
    """Expected sudden stops of some live tools at the mean plant: per shot, shape (sample, tool), and per handling, shape (sample, 1).

    A set-up is a handling, and so is a move.
    """
    live = calibration.live
    offsets = np.stack([calibration.coefficient(f"class_offset.{c}") for c in calibration.levels.service_class], axis=1)
    of_class = np.concatenate([offsets, np.zeros_like(offsets[:, :1])], axis=1)  # the last, -1, of an unknown class
    per_band = np.exp(calibration.coefficient("log_sudden_per_life")[:, None] - of_class)
    per_shot = of_tools(per_band, live.service_class[rows])
    per_shot /= in_precision_of(per_shot, np.exp(live.log_band[rows]))
    return per_shot, np.exp(calibration.coefficient("log_sudden_per_handling"))[:, None]


def _slopes(calibration: Calibration, names: tuple[str, ...]) -> Array:
    return np.stack([calibration.coefficient(f"slope.{name}") for name in names], axis=1)


def _scale(calibration: Calibration, group: str) -> Array:
    return np.asarray(calibration.draws.scale[:, position(calibration.levels.group, group)], dtype=float)


def _new_level_scale(calibration: Calibration, group: str, seen: Array) -> Array:
    """Standard deviation of a level never seen about the mean of those seen, shape (sample,)."""
    return _scale(calibration, group) * np.sqrt(1.0 + 1.0 / max(int(seen.sum()), 1))
