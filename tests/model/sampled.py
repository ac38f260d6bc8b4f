"""Posteriors of small fleets by the one compiled model."""

from dataclasses import dataclass

import numpy as np
from arviz_stats.base import array_stats

from wearfit.exposures.table import Exposures
from wearfit.model.data import ModelData
from wearfit.model.flat_draws import Flat, flatten
from wearfit.model.layout import COEFFICIENTS, GROUPS, Layout
from wearfit.model.parameters import Parameters
from wearfit.model.prepare import prepare
from wearfit.model.priors import Priors
from wearfit.model.sampler import CHAINS, Compiled, sample_by_trees

Array = np.ndarray


@dataclass(frozen=True)
class Sampled:
    """A posterior and how to ask it."""

    exposures: Exposures
    priors: Priors
    layout: Layout
    data: ModelData
    flat: Flat
    parameters: Parameters

    def coefficient(self, name: str) -> Array:
        """Draws, shape (sample,)."""
        return np.asarray(self.parameters.all[:, COEFFICIENTS.index(name)])

    def scale(self, group: str) -> Array:
        return self.flat.scales(self.data)[:, GROUPS.index(group)]


def sampled(compiled: Compiled, exposures: Exposures, priors: Priors, seed: int, draws: int = 1000) -> Sampled:
    """By trees, in small steps: a handful of lives makes a posterior with cliffs."""
    data = compiled.laid(prepare(exposures, priors, compiled.layout))
    chains = sample_by_trees(compiled, data, seed, draws=draws, tune=400)
    assert chains.diverging.mean() <= 0.001
    flat = flatten(chains, CHAINS * draws)
    return Sampled(exposures, priors, compiled.layout, data, flat, flat.parameters(data, compiled.layout))


def mcse(draws: Array, of: str = "mean") -> float:
    """Monte Carlo standard error of the mean, sd or median of draws laid end to end, shape (sample,)."""
    return float(array_stats.mcse(draws.reshape(CHAINS, -1), chain_axis=0, draw_axis=1, method=of))


def interval_width(draws: Array) -> tuple[float, float]:
    """Width of the central 90 % interval, and its Monte Carlo standard error."""
    low, high = (
        float(array_stats.mcse(draws.reshape(CHAINS, -1), chain_axis=0, draw_axis=1, method="quantile", prob=q)) for q in (0.05, 0.95)
    )
    return float(np.subtract(*np.quantile(draws, [0.95, 0.05]))), float(np.hypot(low, high))
