"""The covariates of wear, one entry each: what is added to log wear per shot.

A covariate belongs to a plant (its yearly level, perhaps not known exactly), to a month at a plant (how far conditions
then lay from the level), or to a job (a resin in a cavity steel, on a tool modified so often, at such a speed). Priors
name it by `name`; screens and tables by `meaning`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np

from wearfit.exposures.classes import STEEL_GROUPS

Array = np.ndarray

STAINLESS = STEEL_GROUPS.index("stainless")
SOFT = [STEEL_GROUPS.index(name) for name in ("soft", "soft_plated")]
PLAIN = [STEEL_GROUPS.index(name) for name in ("soft", "hard")]
PLATED = [STEEL_GROUPS.index(name) for name in ("soft_plated", "hard_plated")]
IDLE_DAYS: Final = 60.0  # the usual pause between two orders counts nothing; how the wear clock is defined


@dataclass(frozen=True)
class PlantLevels:
    """Yearly conditions of the plants. Arrays of shape (plant,)."""

    sweating: Array  # share of press hours
    sweating_sd: Array
    log_corrosivity: Array  # natural log of the ratio to a conditioned hall
    log_corrosivity_sd: Array


@dataclass(frozen=True)
class Months:
    """Months at plants. Arrays of shape (place,)."""

    sweating: Array  # share of press hours, less the plant's yearly mean


@dataclass(frozen=True)
class Jobs:
    """Kinds of work: resin, steel group, modifications and speed. Arrays of shape (job,)."""

    resin: Array  # index, -1 for the reference resin
    steel_group: Array
    modifications: Array
    speed: Array  # log2
    filler: Array  # tens of per cent, glass equivalent
    corrosive: Array  # 0 or 1


@dataclass(frozen=True)
class Covariate:
    """One covariate.

    `values` gives its column from the table that `table` names; `spread`, for plants only, the standard deviation with
    which a level is known.
    """

    name: str
    table: Literal["plant", "month", "job"]
    per: str
    meaning: str
    values: Callable[[Any], Array]
    spread: Callable[[PlantLevels], Array] | None = None


COVARIATES: Final = (
    Covariate(
        "sweating_between", "plant", "share of press hours", "how much of the time the mould sweats, from plant to plant",
        lambda plants: plants.sweating, lambda plants: plants.sweating_sd,
    ),
    Covariate(
        "log_corrosivity", "plant", "natural log of the ratio to a conditioned hall", "how fast bare steel corrodes in the plant's air",
        lambda plants: plants.log_corrosivity, lambda plants: plants.log_corrosivity_sd,
    ),
    Covariate(
        "sweating_within", "month", "share of press hours", "how much of the time the mould sweats, from month to month",
        lambda months: months.sweating,
    ),
    Covariate(
        "filler_soft", "job", "10 % glass equivalent", "filler against soft or pre-hardened steel",
        lambda jobs: np.where(np.isin(jobs.steel_group, SOFT), jobs.filler, 0.0),
    ),
    Covariate(
        "filler_hard", "job", "10 % glass equivalent", "filler against hardened steel",
        lambda jobs: np.where(np.isin(jobs.steel_group, SOFT), 0.0, jobs.filler),
    ),
    Covariate(
        "corrosive_plain", "job", "yes or no", "a corrosive resin against bare steel that is not stainless",
        lambda jobs: np.where(np.isin(jobs.steel_group, PLAIN), jobs.corrosive, 0.0),
    ),
    Covariate(
        "corrosive_plated", "job", "yes or no", "a corrosive resin against steel under chrome or nickel",
        lambda jobs: np.where(np.isin(jobs.steel_group, PLATED), jobs.corrosive, 0.0),
    ),
    Covariate(
        "corrosive_stainless", "job", "yes or no", "a corrosive resin against stainless steel",
        lambda jobs: np.where(jobs.steel_group == STAINLESS, jobs.corrosive, 0.0),
    ),
    Covariate(
        "modification", "job", "one modification since the last retool", "modifications since the last retool",
        lambda jobs: jobs.modifications.astype(float),
    ),
    Covariate(
        "speed", "job", "one halving of the cycle time", "running faster than the tool's usual cycle",
        lambda jobs: jobs.speed,
    ),
)  # fmt: skip
PLANT_COVARIATES: Final = tuple(c for c in COVARIATES if c.table == "plant")
MONTH_COVARIATES: Final = tuple(c for c in COVARIATES if c.table == "month")
JOB_COVARIATES: Final = tuple(c for c in COVARIATES if c.table == "job")


def columns(table: PlantLevels | Months | Jobs) -> Array:
    """Covariate values of a table, shape (row, covariate of that table)."""
    wanted = PLANT_COVARIATES if isinstance(table, PlantLevels) else MONTH_COVARIATES if isinstance(table, Months) else JOB_COVARIATES
    return np.stack([np.asarray(c.values(table), dtype=float) for c in wanted], axis=1)


def spreads(plants: PlantLevels) -> Array:
    """Standard deviations with which the plants' levels are known, shape (plant, plant covariate)."""
    known = np.zeros(len(plants.sweating))
    return np.stack([known if c.spread is None else np.asarray(c.spread(plants), dtype=float) for c in PLANT_COVARIATES], axis=1)
