"""What another air would give at each plant: a hall that is dried, one that is conditioned, a coolant that is warmer.

The plant stays what it is in everything else: what the climate does not explain of it is left alone.
"""

from dataclasses import dataclass

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.conditioned import conditioned_hall
from wearfit.exposures.covariates import MONTH_COVARIATES, PLANT_COVARIATES, columns, spreads
from wearfit.forecasts.conditions import generator
from wearfit.forecasts.quantiles import Quantiles, as_numbers, weighted_quantiles

Array = np.ndarray

SWEATING = [c.name for c in PLANT_COVARIATES].index("sweating_between")
CORROSIVITY = [c.name for c in PLANT_COVARIATES].index("log_corrosivity")
SWEATING_MONTH = [c.name for c in MONTH_COVARIATES].index("sweating_within")


@dataclass(frozen=True)
class Gain:
    """What a change gives at one plant.

    Parameters
    ----------
    plant_id : str
    life : Quantiles
        Life with the change over life without it, at even use over the year.
    p_longer : float
        Chance that tools last longer with it; a tie counts half.
    sweating_before, sweating_after : float
        Share of press hours in which the mould sweats, over the year.
    """

    plant_id: str
    life: Quantiles
    p_longer: float
    sweating_before: float
    sweating_after: float


def dried(calibration: Calibration) -> tuple[Gain, ...]:
    """Every hall kept so dry that no mould sweats; what the air corrodes stays."""
    parts = climate_parts(calibration)
    parts[:, :, SWEATING] = _conditioned_parts(calibration)[:, :, SWEATING]
    return _gains(calibration, parts.sum(axis=2), np.zeros_like(_season(calibration)), np.zeros(len(calibration.levels.plant)))


def conditioned(calibration: Calibration) -> tuple[Gain, ...]:
    """Every hall closed and conditioned: no mould sweats, and the air corrodes as a conditioned hall's does."""
    level = _conditioned_parts(calibration).sum(axis=2)
    return _gains(calibration, level, np.zeros_like(_season(calibration)), np.zeros(len(calibration.levels.plant)))


def warmer(calibration: Calibration, before: Array, after: Array) -> tuple[Gain, ...]:
    """Every coolant so much warmer that moulds sweat less.

    Parameters
    ----------
    before, after : arrays, shape (plant, 12)
        Share of press hours in which the mould sweats in each calendar month, with the coolant as it is and with the warmer one; NaN for
        a plant whose climate is not recorded, which is left out.
    """
    less = after.mean(axis=1) - before.mean(axis=1)
    slope = calibration.coefficient("slope.sweating_between")
    level = np.asarray(calibration.draws.plant_climate, dtype=float) + slope[:, None] * np.nan_to_num(less)
    departures = (after - after.mean(axis=1, keepdims=True)) - (before - before.mean(axis=1, keepdims=True))
    gains = _gains(calibration, level, _season(calibration) + np.nan_to_num(departures), calibration.plants.sweating_share + less)
    return tuple(gain for gain in gains if np.isfinite(gain.sweating_after))


def climate_parts(calibration: Calibration) -> Array:
    """What each yearly measure of a plant's climate brings to its log wear, shape (sample, plant, plant covariate).

    Notes
    -----
    A calibration keeps the sum over the measures k of slope_k (level_k + spread_k e_k), e_k standard normal. Data tell of the e_k of a
    plant through that sum alone, so that given it they are what the prior makes of them: normal, with mean a_k T / a.a and the covariance
    of the identity less a a' / a.a, where a_k = slope_k spread_k and T is the sum less that of slope_k level_k.
    """
    return np.asarray(_slopes(calibration) * (calibration.plants.level + calibration.plants.spread * _errors(calibration)))


def _errors(calibration: Calibration) -> Array:
    """Draws of e, shape (sample, plant, plant covariate)."""
    slopes = _slopes(calibration)
    a = slopes * calibration.plants.spread
    total = np.asarray(calibration.draws.plant_climate, dtype=float) - (slopes * calibration.plants.level).sum(axis=2)
    squared = np.maximum((a * a).sum(axis=2), np.finfo(float).tiny)
    free = generator(calibration, "climate parts").standard_normal(a.shape)
    return np.asarray(free + a * ((total - (a * free).sum(axis=2)) / squared)[:, :, None])


def _conditioned_parts(calibration: Calibration) -> Array:
    """The same in a conditioned hall; one that is conditioned already stays as much better or worse than the others as it is."""
    hall = conditioned_hall()
    anew = generator(calibration, "conditioned hall").standard_normal((calibration.samples, *calibration.plants.level.shape))
    already = calibration.plants.level[:, CORROSIVITY] == columns(hall)[0, CORROSIVITY]
    error = np.where(already[None, :, None], _errors(calibration), anew)
    return np.asarray(_slopes(calibration) * (columns(hall)[0] + spreads(hall)[0] * error))


def _slopes(calibration: Calibration) -> Array:
    return np.stack([calibration.coefficient(f"slope.{c.name}") for c in PLANT_COVARIATES], axis=1)[:, None, :]


def _season(calibration: Calibration) -> Array:
    return np.asarray(calibration.plants.season[:, :, SWEATING_MONTH], dtype=float)


def _gains(calibration: Calibration, level: Array, season: Array, sweating: Array) -> tuple[Gain, ...]:
    """Gains at the plants that have runs.

    Parameters
    ----------
    level : array, shape (sample, plant)
        Log wear per shot that the yearly conditions bring after the change.
    season : array, shape (plant, 12)
        Departures of sweating from the yearly mean after it.
    sweating : array, shape (plant,)
        Yearly share after it.
    """
    slope = calibration.coefficient("slope.sweating_within")
    before = np.asarray(calibration.draws.plant_climate, dtype=float) + _log_year(slope, _season(calibration))
    gained = np.exp(before - level - _log_year(slope, season))
    quantiles = weighted_quantiles(gained, np.ones_like(gained))
    return tuple(
        Gain(
            str(calibration.levels.plant[plant]),
            as_numbers(quantiles[:, plant]),
            float(np.mean(gained[:, plant] > 1.0) + 0.5 * np.mean(gained[:, plant] == 1.0)),
            float(calibration.plants.sweating_share[plant]),
            float(sweating[plant]),
        )
        for plant in np.flatnonzero(calibration.plants.seen)
    )


def _log_year(slope: Array, season: Array) -> Array:
    """Log of the mean over the calendar months of the factor on wear that a month's departure brings, shape (sample, plant)."""
    return np.asarray(np.log(np.exp(slope[:, None, None] * season).mean(axis=2)))
