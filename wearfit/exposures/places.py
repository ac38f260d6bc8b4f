"""Places: a plant in one month, and the conditions there."""

from dataclasses import dataclass

import numpy as np

from wearfit.exposures.air_known import LOG_CORROSIVITY_SD_UNKNOWN, SWEATING_SD_UNKNOWN
from wearfit.exposures.covariates import Months, PlantLevels, columns
from wearfit.exposures.plant_climate import LOG_CORROSIVITY_UNKNOWN, SWEATING_UNKNOWN, PlantClimate

Array = np.ndarray

SWEATING_STEP = 0.02  # [share of press hours] a month's departure is kept to this step, a third of what a level is unsure by
YEARLY_MEAN = np.iinfo(np.int64).min  # stands in for a month where the time of year is not known


@dataclass(frozen=True)
class Places:
    """Plants under the conditions of some month in which something ran."""

    plant: Array  # (place,)
    months: Months


def plant_levels(climate: PlantClimate) -> PlantLevels:
    """Yearly conditions of every plant."""
    return PlantLevels(climate.sweating_season.mean(axis=1), climate.sweating_sd, climate.log_corrosivity, climate.log_corrosivity_sd)


def unknown_plant() -> PlantLevels:
    """Conditions of a plant of which nothing is known."""
    return PlantLevels(
        np.array([SWEATING_UNKNOWN]),
        np.array([SWEATING_SD_UNKNOWN]),
        np.array([LOG_CORROSIVITY_UNKNOWN]),
        np.array([LOG_CORROSIVITY_SD_UNKNOWN]),
    )


def recorded_places(plant: Array, month: Array, climate: PlantClimate) -> Places:
    """Conditions of plants in months since 1970-01, or YEARLY_MEAN. Arrays of shape (place,)."""
    index = np.clip(month - climate.months[0].astype(np.int64), 0, len(climate.months) - 1)
    departure = climate.sweating[plant, index] - climate.sweating_season.mean(axis=1)[plant]
    departure = np.round(departure / SWEATING_STEP) * SWEATING_STEP
    return Places(plant, Months(np.where(month == YEARLY_MEAN, 0.0, departure)))


def merge_alike(places: Places) -> tuple[Places, Array]:
    """Places without repeats, and the position among them of each place given, shape (place,)."""
    conditions = np.concatenate([places.plant[:, None], columns(places.months)], axis=1)
    _, first, where = np.unique(conditions, axis=0, return_index=True, return_inverse=True)
    return Places(places.plant[first], Months(places.months.sweating[first])), where.ravel()


def calendar_months(climate: PlantClimate) -> Months:
    """Conditions to be expected in each calendar month of each plant, shape (plant * 12,)."""
    return Months((climate.sweating_season - climate.sweating_season.mean(axis=1, keepdims=True)).reshape(-1))
