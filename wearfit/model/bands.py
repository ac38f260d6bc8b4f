"""From a shot-life band to the prior of the characteristic life.

A band fixes one quantile of the life of a new tool at reference conditions. Log life of such a tool is
mu + class offset + design + maker + tool + log(E) / k with E ~ Exp(1); mu is the band's log life less that quantile of
the rest, so that the prior predictive keeps the band whatever spreads an owner chooses. It is that of the Weibull law under the
others too, which share its median and spread: their lives at a band lie within 6 % of its own (a test holds them to that).
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from wearfit import law
from wearfit.exposures.classes import OWN_BAND
from wearfit.exposures.table import Exposures
from wearfit.model.layout import CLASS_OFFSET, COEFFICIENTS, GROUPS
from wearfit.model.priors import Priors

Array = np.ndarray

DRAWS: Final = 1 << 16
SEED: Final = 20200229  # the table of offsets is a constant of the priors, not of a calibration


@dataclass(frozen=True, eq=False)
class BandOffsets:
    """Sorted draws of what is added to mu, by class. `spread` has shape (class, draw)."""

    spread: Array

    def quantile(self, service_class: int, probability: float) -> float:
        """Quantile of log life less mu, at reference conditions."""
        return _quantile(self, service_class, probability)

    def survival(self, service_class: int, log_life: float) -> float:
        """Probability that log life less mu, at reference conditions, exceeds `log_life`; above zero, below one."""
        return float(self.survivals(service_class, np.array([log_life]))[0])

    def survivals(self, service_class: int, log_lives: Array) -> Array:
        """The same at several log lives, shape as given."""
        draws = self.spread.shape[1]
        return np.asarray((draws - np.searchsorted(self.spread[service_class], log_lives) + 0.5) / (draws + 1.0))


@lru_cache(maxsize=64)  # the same few are asked for whenever a history is prepared
def _quantile(offsets: BandOffsets, service_class: int, probability: float) -> float:
    return float(np.quantile(offsets.spread[service_class], probability))


def life_spread(priors: Priors, draws: int, seed: int, wear_law: int = law.WEIBULL) -> Array:
    """Draws of log life less mu for a new tool of each class at reference conditions, shape (class, draw)."""
    rng = np.random.default_rng(seed)
    coefficients = priors.loc[:, None] + priors.root @ rng.standard_normal((len(COEFFICIENTS), draws))
    shape = np.exp(coefficients[COEFFICIENTS.index("log_shape")])
    scales = np.abs(rng.standard_normal((len(GROUPS), draws))) * (priors.scale * priors.group_on)[:, None]
    own = np.zeros(draws)
    for group in ("design", "maker", "tool"):
        own += scales[GROUPS.index(group)] * rng.standard_normal(draws)
    return coefficients[CLASS_OFFSET] + own + law.ratio_at(rng.standard_exponential(draws), law.Shape(shape, wear_law))


@lru_cache(maxsize=4)  # a calibration asks before and after it samples, and each refit of a backtest again
def band_offsets(priors: Priors) -> BandOffsets:
    """The offsets that turn quantiles of life into mu, from DRAWS draws (Monte Carlo error of a median below .005)."""
    return BandOffsets(np.sort(life_spread(priors, DRAWS, SEED), axis=1))


def class_log_band(priors: Priors, offsets: BandOffsets) -> Array:
    """mu of the service classes, shape (BANDED,)."""
    return np.array([np.log(b.life) - offsets.quantile(c, b.probability) for c, b in enumerate(priors.bands)])


def log_band(exposures: Exposures, priors: Priors, offsets: BandOffsets) -> Array:
    """mu of each candidate: its class's, or that of the band written for the tool. Shape (candidate,)."""
    by_class = class_log_band(priors, offsets)
    tools, candidates = exposures.tools, exposures.candidates
    out = np.empty(len(candidates.tool))
    median, floor = offsets.quantile(OWN_BAND, 0.5), offsets.quantile(OWN_BAND, priors.own_floor_probability)
    for i, (tool, service_class) in enumerate(zip(candidates.tool, candidates.service_class, strict=True)):
        if service_class != OWN_BAND:
            out[i] = by_class[service_class]
            continue
        low, high = tools.band_low[tool], tools.band_high[tool]
        if np.isnan(high):
            out[i] = np.log(low) - floor
        elif np.isnan(low):
            out[i] = np.log(priors.own_cap_share * high) - median
        else:
            out[i] = 0.5 * (np.log(low) + np.log(high)) - median
    return out
