"""Plants compared: how long a tool lasts at each, and how much of that is climate."""

from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.exposures.covariates import MONTH_COVARIATES, PLANT_COVARIATES
from wearfit.forecasts.quantiles import as_numbers, finite, weighted_quantiles

Array = np.ndarray

# What a humidity measure is changed by to show its effect: (slope, step, in words).
STEPS = {
    "sweating_between": (0.25, "25 points more of press hours in which the mould sweats, from plant to plant"),
    "sweating_within": (0.25, "25 points more of press hours in which the mould sweats, from month to month"),
    "log_corrosivity": (float(np.log(2.0)), "twice the corrosivity of the air"),
}


@dataclass(frozen=True)
class PlantComparison:
    """Plants with runs, compared with their mean."""

    plants: tuple[dict[str, Any], ...]
    contrasts: tuple[dict[str, Any], ...]
    humidity_effect: tuple[dict[str, Any], ...]

    def as_json(self) -> dict[str, Any]:
        return {"plants": list(self.plants), "contrasts": list(self.contrasts), "humidity_effect": list(self.humidity_effect)}


def compare_plants(calibration: Calibration) -> PlantComparison:
    """Compare the plants that have runs.

    A life factor of 0.8 means that a tool lasts 0.8 times the shots that it would last at the mean of these plants; the
    factors of climate and of the rest multiply to it in every draw.

    Raises
    ------
    Refusal
        Where no plant has runs that the calibration rests on.
    """
    seen = np.flatnonzero(calibration.plants.seen)
    if not len(seen):
        raise Refusal("No plant has runs that the calibration rests on.", "Add runs with their plant and recalibrate.")
    climate = _life_factors(np.asarray(calibration.draws.plant_climate, dtype=float)[:, seen])
    unexplained = _life_factors(np.asarray(calibration.draws.plant, dtype=float)[:, seen])
    whole = climate * unexplained
    summaries = [_by_name(values) for values in (whole, climate, unexplained)]
    plants = tuple(
        _conditions(calibration, int(plant))
        | {"life_factor": summaries[0][i], "life_factor_climate": summaries[1][i], "life_factor_unexplained": summaries[2][i]}
        for i, plant in enumerate(seen)
    )
    names = [str(calibration.levels.plant[p]) for p in seen]
    contrasts = tuple(
        {"plant_a": names[a], "plant_b": names[b], "p_a_wears_faster": _p_less(whole[:, a], whole[:, b])}
        for a, b in combinations(range(len(seen)), 2)
    )
    return PlantComparison(plants, contrasts, _humidity_effects(calibration))


def _life_factors(log_wear: Array) -> Array:
    """Life at each plant over life at their mean, shape (sample, plant)."""
    return np.asarray(np.exp(log_wear.mean(axis=1, keepdims=True) - log_wear))


def _p_less(a: Array, b: Array) -> float:
    """Share of draws in which a is less than b; a tie counts half for each."""
    return float(np.mean(a < b) + 0.5 * np.mean(a == b))


def _by_name(values: Array) -> list[dict[str, float | None]]:
    quantiles = weighted_quantiles(values, np.ones_like(values))
    return [as_numbers(quantiles[:, i]) for i in range(values.shape[1])]


def _conditions(calibration: Calibration, plant: int) -> dict[str, Any]:
    table = calibration.plants
    return {
        "plant_id": str(calibration.levels.plant[plant]),
        "lives": int(table.lives[plant]),
        "wear_outs": int(table.wear_outs[plant]),
        "shots": float(table.shots[plant]),
        "rh_mean_pct": finite(table.rh_mean_pct[plant]),
        "sweating_share": finite(table.sweating_share[plant]),
        "wet_hours_per_year": finite(table.wet_hours_per_year[plant]),
        "corrosivity_um_per_year": finite(table.corrosivity_um_per_year[plant]),
        "corrosivity_category": str(table.corrosivity_category[plant]) or None,
    }


def _humidity_effects(calibration: Calibration) -> tuple[dict[str, Any], ...]:
    """Life factor of a step of each climate covariate, beside its prior."""
    effects = []
    for covariate in (*PLANT_COVARIATES, *MONTH_COVARIATES):
        index = calibration.coefficient_index(f"slope.{covariate.name}")
        step, per = STEPS[covariate.name]
        posterior, prior = (
            _by_name(np.exp(-step * np.asarray(draws[:, [index]], dtype=float)))[0]
            for draws in (calibration.draws.coefficient, calibration.prior.coefficient)
        )
        effects.append({"measure": covariate.name, "meaning": covariate.meaning, "per": per, "life_factor": posterior, "prior": prior})
    return tuple(effects)
