"""How life follows a measure of the air, as it was fitted and as it was believed beforehand."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.covariates import PLANT_COVARIATES
from wearfit.forecasts.quantiles import weighted_quantiles

Array = np.ndarray

POINTS: Final = 41
BAND: Final = (0.05, 0.50, 0.95)


@dataclass(frozen=True)
class Relation:
    """A fitted relation beside its prior. Arrays of shape (point,).

    Parameters
    ----------
    level : array
        Of the covariate.
    low, likely, high : array
        Life over what it is at the mean level of the plants with runs, everything else the same: 5, 50 and 95 % of the draws.
    prior_low, prior_likely, prior_high : array
        The same before any record was seen.
    """

    level: Array
    low: Array
    likely: Array
    high: Array
    prior_low: Array
    prior_likely: Array
    prior_high: Array


def relation(calibration: Calibration, covariate: str, first: float, last: float) -> Relation:
    """How life follows one yearly measure of a plant's climate.

    Parameters
    ----------
    covariate : str
        Name of a covariate of plants.
    first, last : float
        Levels between which it is wanted.
    """
    place = [c.name for c in PLANT_COVARIATES].index(covariate)
    level = np.linspace(first, last, POINTS)
    from_mean = level - calibration.plants.level[calibration.plants.seen == 1, place].mean()
    index = calibration.coefficient_index(f"slope.{covariate}")
    bands: list[Array] = []
    for draws in (calibration.draws.coefficient, calibration.prior.coefficient):
        life = np.exp(-np.asarray(draws[:, index], dtype=float)[:, None] * from_mean[None, :])
        bands.extend(weighted_quantiles(life, np.ones_like(life), BAND))
    return Relation(level, *bands)
