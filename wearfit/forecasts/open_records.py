"""Which records of a live tool, its plant and its resins are missing, and what each draw takes them to say."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.air_known import AirRecord, lacking_air
from wearfit.exposures.covariates import PLANT_COVARIATES
from wearfit.forecasts.conditions import generator, position
from wearfit.forecasts.kind_drawn import class_drawn, steel_drawn

Array = np.ndarray

SWEATING, LOG_CORROSIVITY = (tuple(c.name for c in PLANT_COVARIATES).index(name) for name in ("sweating_between", "log_corrosivity"))
LEAST_SHARE_OF_RESIN: Final = 0.05  # of a tool's use, below which what a resin is matters little; judgement


@dataclass(frozen=True)
class OpenRecord:
    """A record that is missing.

    Parameters
    ----------
    record : str
        "opening", "steel", "class", "use" of a tool; "coolant", "hall_air", "climate", "deposits" of a plant; "description" of a resin.
    of : str
        The tool, the plant or the resin.
    says : array, shape (sample,)
        What each draw takes it to say, or what that does to the log wear per shot.
    """

    record: str
    of: str
    says: Array


def open_of_tool(calibration: Calibration, row: int) -> tuple[OpenRecord, ...]:
    """What is open of a live tool itself: its class, its steel, its age when its records begin."""
    live, tool = calibration.live, str(calibration.levels.tool[calibration.live.tool[row]])
    opening = np.asarray(calibration.draws.opening_shots[:, row], dtype=float)
    found = []
    if live.service_class[row] < 0:
        found.append(OpenRecord("class", tool, class_drawn(calibration, row)))
    elif live.moved_by_steel[row] != 0.0:
        found.append(OpenRecord("steel", tool, steel_drawn(calibration, row)))
    if live.moved_by_past[row] != 0.0 or np.ptp(opening) > 0.0:
        found.append(OpenRecord("opening", tool, opening))
    return tuple(found)


def open_use(calibration: Calibration, row: int, shots_a_month: Array) -> tuple[OpenRecord, ...]:
    """How much a live tool will be used beyond the plan, (sample,), where nobody states it."""
    live = calibration.live
    return (OpenRecord("use", str(calibration.levels.tool[live.tool[row]]), shots_a_month),) if np.isnan(live.shots_per_month[row]) else ()


def open_of_plant(calibration: Calibration, plant: int) -> tuple[OpenRecord, ...]:
    """What is not recorded of a plant's air and could be."""
    lacking = lacking_air(*(float(calibration.plants.spread[plant, c]) for c in (SWEATING, LOG_CORROSIVITY)))
    name = str(calibration.levels.plant[plant])
    return tuple(OpenRecord(record.name, name, _told_of_air(calibration, plant, record)) for record in lacking)


def open_of_resin(calibration: Calibration, resin: int) -> tuple[OpenRecord, ...]:
    """What a resin is, where no row of the resins table describes it: the log wear that filler and acid would account for."""
    if calibration.resins.described[resin]:
        return ()
    name, (middle, spread) = str(calibration.levels.resin[resin]), calibration.resins.unknown
    own = np.asarray(calibration.draws.scale[:, position(calibration.levels.group, "resin")], dtype=float)
    whole = np.asarray(calibration.draws.resin[:, resin], dtype=float) - middle
    parts = np.stack([np.full(calibration.samples, spread), own], axis=1)
    return (OpenRecord("description", name, _split(whole, parts, generator(calibration, "description", name))[:, 0]),)


def _told_of_air(calibration: Calibration, plant: int, record: AirRecord) -> Array:
    """Log wear per shot that a record of a plant's air would account for, what it leaves unsure taken off, shape (sample,)."""
    slopes = np.stack([calibration.coefficient(f"slope.{c.name}") for c in PLANT_COVARIATES], axis=1)
    spread = calibration.plants.spread[plant]
    kept = np.ones(len(PLANT_COVARIATES))
    kept[[SWEATING, LOG_CORROSIVITY]] = record.sweating_sd, record.log_corrosivity_sd
    kept = np.minimum(kept / np.maximum(spread, np.finfo(float).tiny), 1.0) ** 2  # of the variance
    whole = np.asarray(calibration.draws.plant_climate[:, plant], dtype=float) - slopes @ calibration.plants.level[plant]
    wide = np.abs(slopes) * spread
    rng = generator(calibration, record.name, str(calibration.levels.plant[plant]))
    parts = _split(whole, wide, rng)
    told = (1.0 - kept) * parts + np.sqrt(kept * (1.0 - kept)) * wide * rng.standard_normal(parts.shape)
    return np.asarray(told.sum(axis=1))


def _split(whole: Array, spreads: Array, rng: np.random.Generator) -> Array:
    """Parts of sums of independent normals given the sums, drawn; `spreads` and the parts have shape (sample, part)."""
    parts = spreads * rng.standard_normal(spreads.shape)
    share = spreads**2 / np.maximum((spreads**2).sum(axis=1, keepdims=True), np.finfo(float).tiny)
    return np.asarray(parts + share * (whole - parts.sum(axis=1))[:, None])


def resins_of(calibration: Calibration, row: int) -> Array:
    """Resins that make up a part of a live tool's use."""
    return np.flatnonzero(calibration.live.resin_share[row] >= LEAST_SHARE_OF_RESIN)
