"""Ranks of a truth among draws of its posterior, quantity by quantity (Talts et al. 2018, arXiv 1804.06788)."""

from dataclasses import dataclass
from math import exp

import numpy as np
from prior_chains import under_way
from prior_design import DESIGNS, MAKERS, PLANTS, RESINS
from prior_fleet import PriorFleet

from wearfit import law
from wearfit.exposures.covariates import PLANT_COVARIATES, columns, spreads
from wearfit.exposures.places import plant_levels
from wearfit.model.data import ModelData
from wearfit.model.flat_draws import Flat
from wearfit.model.layout import COEFFICIENTS, GROUPS, PLANT_SLOPES, SHARES, Layout
from wearfit.model.parameters import Parameters
from wearfit.model.posterior import summarise_rows

Array = np.ndarray

SPENT = 1.0  # [reference shots] a life under way has spent more
LEVELS = {"plant": PLANTS, "sudden_plant": PLANTS, "resin": RESINS, "design": DESIGNS, "maker": MAKERS}


@dataclass(frozen=True)
class Quantity:
    """One thing asked of the posterior, and what it truly is."""

    name: str
    draws: Array  # (draw,)
    truth: float

    def rank(self) -> int:
        """How many draws lie below the truth, 0 .. draws."""
        return int((self.draws < self.truth).sum())


def true_parameters(fleet: PriorFleet, layout: Layout) -> Parameters:
    """The truth as the model's own vector of parameters."""
    t, e = fleet.truth, fleet.exposures
    slots = np.zeros(len(COEFFICIENTS) + layout.size)
    slots[: len(COEFFICIENTS)] = [t.coefficient[name] for name in COEFFICIENTS]
    effects = {"plant": t.plant, "sudden_plant": t.sudden_plant, "resin": t.resin, "design": t.design, "maker": t.maker}
    for name, of_level in effects.items():
        slots[layout.parameter(name, np.arange(len(LEVELS[name])))] = [of_level[level] for level in LEVELS[name]]
    slots[layout.parameter("plant_error", np.arange(len(PLANTS) * len(PLANT_COVARIATES)))] = np.concatenate(
        [t.air_error[p] for p in PLANTS]
    )
    slots[layout.parameter("resin_error", np.arange(len(RESINS)))] = [t.resin_error[r] for r in RESINS]
    assert e.plant_ids == PLANTS and e.resins.resin_id == RESINS and e.tools.design_ids == DESIGNS and e.tools.maker_ids == MAKERS
    return Parameters(slots, np.array([t.share[name] for name in SHARES]))


def quantities(fleet: PriorFleet, flat: Flat, data: ModelData, layout: Layout, loc_sd: Array, seed: int) -> list[Quantity]:
    """Everything that is asked, in an order that does not hang on the history.

    Parameters
    ----------
    loc_sd : array, shape (coefficient,)
        Prior standard deviations; what has none is not asked.

    Notes
    -----
    Which tools are asked of is told by the history alone: a truth is then still like any draw of its posterior.
    """
    truth, e, rng = fleet.truth, fleet.exposures, np.random.default_rng([seed, 77])
    p, true = flat.parameters(data, layout), true_parameters(fleet, layout)
    asked = [Quantity(name, p.all[:, i], float(true.all[i])) for i, name in enumerate(COEFFICIENTS) if loc_sd[i] > 0.0]
    asked += [Quantity(f"share.{name}", p.share[:, i], float(true.share[i])) for i, name in enumerate(SHARES)]
    scales = flat.scales(data)
    asked += [Quantity(f"scale.{name}", scales[:, i], truth.scale[name]) for i, name in enumerate(GROUPS)]
    for name, levels in LEVELS.items():
        at = layout.parameter(name, np.arange(len(levels)))
        asked += [Quantity(f"{name}.{level}", p.all[:, i], float(true.all[i])) for i, level in zip(at, levels, strict=True)]
    asked += _airs(p, true, fleet, layout)

    tool, episode = under_way(e, [c.tool.tool_id for c in fleet.careers])
    rows = summarise_rows(flat, data, layout, e, tool, episode, seed)
    for i, feature in enumerate(e.readings.feature_ids):
        for part, draws, value in zip(("level", "growth", "noise"), (rows.features.level, rows.features.growth, rows.features.noise),
                                      truth.feature[feature], strict=True):  # fmt: skip
            asked.append(Quantity(f"reading.{feature}.{part}", draws[:, i], value))
    shape = np.exp(p.coefficient("log_shape"))[:, 0]
    known = {r.live: r.left for r in rows.reads}
    spent = rows.wear_spent.astype(float)
    used = spent.min(axis=0) > SPENT
    read = np.array([i in known for i in range(len(tool))])
    true_shape = exp(truth.coefficient["log_shape"])
    for what, which in (("unread", np.flatnonzero(used & ~read)), ("read", np.flatnonzero(used & read))):
        if not len(which):
            continue
        i = int(which[seed % len(which)])  # any of them
        career, eta, now = fleet.careers[i], rows.log_life[:, i].astype(float), spent[:, i]
        hazard = law.cumulative_hazard(now, eta, shape)
        rise = known[i].rise_at(rng.random(len(now))) if i in known else rng.standard_exponential(len(now))
        asked += [
            Quantity(f"tool effect, {what}", rows.tool[:, tool[i]], career.tool_effect),
            Quantity(f"log life, {what}", eta, career.log_life),
            Quantity(f"wear spent, {what}", now, career.age),
            Quantity(f"hazard now, {what}", hazard, float(law.cumulative_hazard(career.age, career.log_life, true_shape))),
            Quantity(f"capacity over wear spent, {what}", law.wear_at(hazard + rise, eta, shape) / now, career.capacity / career.age),
        ]
    return asked


def _airs(p: Parameters, true: Parameters, fleet: PriorFleet, layout: Layout) -> list[Quantity]:
    """What the air of each plant brings, its level known or not."""
    levels = plant_levels(fleet.exposures.climate)
    level, spread, n = columns(levels), spreads(levels), len(PLANT_COVARIATES)
    found = []
    for i, plant in enumerate(PLANTS):
        at = layout.parameter("plant_error", i * n + np.arange(n))

        def brought(of: Array, i: int = i, at: Array = at) -> Array:
            return np.asarray(((level[i] + spread[i] * of[..., at]) * of[..., PLANT_SLOPES]).sum(axis=-1))

        found.append(Quantity(f"air.{plant}", brought(p.all), float(brought(true.all))))
    return found
