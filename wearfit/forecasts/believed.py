"""What was believed before any record was seen, beside what the records made of it."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit import law
from wearfit.calibration import Calibration
from wearfit.exposures.classes import BANDED
from wearfit.exposures.covariates import COVARIATES
from wearfit.forecasts.conditions import generator, position
from wearfit.forecasts.quantiles import weighted_quantiles

Array = np.ndarray

BAND: Final = (0.05, 0.50, 0.95)


@dataclass(frozen=True)
class Belief:
    """One quantity: 5, 50 and 95 % of its draws.

    Parameters
    ----------
    name : str
        A service class, or the name of a covariate.
    short : str
        The same for a reader.
    meaning : str
        Of a covariate, and per how much of it; "" of a class.
    before, after : tuple of three floats
        By the priors, and by the calibration.
    """

    name: str
    short: str
    meaning: str
    before: tuple[float, float, float]
    after: tuple[float, float, float]

    @property
    def narrowed(self) -> float:
        """Share of the logarithmic width before that is gone, in (-inf, 1]."""
        wide, left = (np.log(q[2] / q[0]) for q in (self.before, self.after))
        return float(1.0 - left / wide) if wide > 0.0 else 0.0


def class_lives(calibration: Calibration) -> tuple[Belief, ...]:
    """Life of a new tool of each service class at the reference conditions, its own luck counted. [machine shots]"""
    samples = calibration.samples
    rng = generator(calibration, "class lives")
    own = np.zeros(samples)
    for group in ("design", "maker", "tool"):
        scale = np.asarray(calibration.draws.scale[:, position(calibration.levels.group, group)], dtype=float)
        own += scale * rng.standard_normal(samples)
    luck = law.ratio_at(rng.standard_exponential(samples), calibration.shape)
    found = []
    for place in range(BANDED):
        name = str(calibration.levels.service_class[place])
        after = calibration.identity.log_band[place] + calibration.coefficient(f"class_offset.{name}") + own + luck
        found.append(Belief(name, name, "", _band(np.exp(calibration.prior.log_life[:, place])), _band(np.exp(after))))
    return tuple(found)


def wear_factors(calibration: Calibration) -> tuple[Belief, ...]:
    """What each covariate multiplies the wear of a shot by, for so much of it as its own entry says."""
    found = []
    for covariate in COVARIATES:
        index = calibration.coefficient_index(f"slope.{covariate.name}")
        before, after = (
            np.asarray(draws[:, index], dtype=float) for draws in (calibration.prior.coefficient, calibration.draws.coefficient)
        )
        if np.ptp(before) > 0.0:  # else the owner has switched it off
            per = "" if covariate.per == "yes or no" else f", for each {covariate.per.removeprefix('one ')}"
            meaning = f"{covariate.meaning}{per}"
            found.append(Belief(covariate.name, covariate.meaning, meaning, _band(np.exp(before)), _band(np.exp(after))))
    return tuple(found)


def _band(draws: Array) -> tuple[float, float, float]:
    values = np.asarray(draws, dtype=float)[:, None]
    low, likely, high = weighted_quantiles(values, np.ones_like(values), BAND)[:, 0]
    return float(low), float(likely), float(high)
