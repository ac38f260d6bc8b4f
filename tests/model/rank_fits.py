"""One refit after the other of the one compiled model, each of a fleet of its own, and the ranks of the truth in each."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from prior_careers import RIGHT, Wrong
from prior_design import DESIGNS, FEATURES, MAKERS, PLANTS, RESINS
from prior_fleet import simulate
from ranks import quantities

from wearfit.model.agreement import agreement
from wearfit.model.data import ModelData
from wearfit.model.flat_draws import flatten
from wearfit.model.gate import MOST_DIVERGENT
from wearfit.model.layout import COEFFICIENTS, Layout
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import Priors
from wearfit.model.sampler import CHAINS, Chains, Compiled, compile_model, sample

Array = np.ndarray

MOST_READ: Final = 40  # lives whose capacity is a coordinate of the sampler's
MOST_RHAT: Final = 1.05  # of the worst of some fifty parameters, by chains as short as these
LEAST_EFFECTIVE: Final = 3.0  # effective draws for each that is kept


@dataclass(frozen=True)
class Effort:
    """How large the fleets are, and how long they are sampled."""

    tools: int
    months: int
    tune: int
    draws: int  # a chain
    kept: int  # of all chains, thinned evenly: ranks lie in 0 .. kept


@dataclass(frozen=True)
class Mixing:
    """How well the chains agree on the top-level parameters, by all draws."""

    rhat: float  # the greatest
    effective: float  # the least effective number of draws, of the bulk
    divergences: int

    def passed(self, effort: Effort) -> bool:
        """Whether the draws kept are all but independent draws of the posterior; shorter chains than the gate of calibrations wants."""
        enough = self.rhat <= MOST_RHAT and self.effective >= LEAST_EFFECTIVE * effort.kept
        return enough and self.divergences <= MOST_DIVERGENT * CHAINS * effort.draws


@dataclass(frozen=True)
class Fit:
    """What one fleet gave."""

    seed: int
    passed: bool
    mixing: Mixing
    wear_outs: int
    ranks: dict[str, int]


def compiled_for_all(priors: Priors, effort: Effort, most_read: int = MOST_READ) -> Compiled:
    """The model compiled for the layout that every fleet is put into, none of which may have more lives with readings than that."""
    layout = Layout.fitting(len(PLANTS), len(RESINS), len(DESIGNS), len(MAKERS), len(FEATURES), most_read)
    exposures = simulate(priors, 0, effort.tools, effort.months).exposures
    return compile_model(prepare(exposures, priors, layout), layout)


def fit(compiled: Compiled, priors: Priors, seed: int, effort: Effort, wrong: Wrong = RIGHT, cores: int | None = None) -> Fit:
    """Simulate a fleet, sample its posterior, rank its truth."""
    fleet = simulate(priors, seed, effort.tools, effort.months, wrong)
    layout = compiled.layout
    if layout_of(fleet.exposures).reads > layout.reads:
        raise ValueError(f"seed {seed}: too many lives with readings for the layout")
    data = compiled.laid(prepare(fleet.exposures, priors, layout))
    chains = sample(compiled, data, seed, effort.draws, effort.tune, cores)
    flat = flatten(chains, effort.kept)
    mixing = _mixing(chains, data, layout)
    sds = np.sqrt(np.diag(priors.root @ priors.root.T))
    asked = quantities(fleet, flat, data, layout, sds, seed)
    return Fit(seed, mixing.passed(effort), mixing, fleet.exposures.wear_outs, {q.name: q.rank() for q in asked})


def _mixing(chains: Chains, data: ModelData, layout: Layout) -> Mixing:
    full = flatten(chains, chains.diverging.size)
    parameters = full.parameters(data, layout)
    top = np.concatenate([parameters.all[:, : len(COEFFICIENTS)], parameters.share, full.scales(data)], axis=1)
    each = agreement(top[:, top.std(axis=0) > 1e-12].reshape(CHAINS, len(top) // CHAINS, -1))
    return Mixing(float(each.rhat.max()), float(each.bulk.min()), int(chains.diverging.sum()))
