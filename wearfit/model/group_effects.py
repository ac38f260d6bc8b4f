"""Effects of plants, resins, designs and makers, draw by draw; levels that the likelihood does not see drawn from their population."""

from dataclasses import dataclass

import numpy as np

from wearfit.exposures.covariates import PLANT_COVARIATES
from wearfit.exposures.table import Exposures
from wearfit.model.flat_draws import SALT
from wearfit.model.layout import COEFFICIENTS, GROUPS, PLANT_SLOPES, Layout, unseen_scale
from wearfit.model.levels_seen import levels_seen
from wearfit.model.parameters import Parameters
from wearfit.model.priors import Priors

Array = np.ndarray


@dataclass(frozen=True)
class Effects:
    """Effects by group, unseen levels drawn from their population. Arrays of shape (sample, level)."""

    plant: Array
    plant_climate: Array
    resin: Array
    design: Array
    maker: Array
    sudden_plant: Array


def group_effects(
    p: Parameters, scale: Array, layout: Layout, exposures: Exposures, priors: Priors, levels: Array, spreads: Array, seed: int
) -> Effects:
    """Effects of every level.

    Parameters
    ----------
    p : Parameters
        Of all draws.
    scale : array, shape (sample, group)
        Scales of the groups, zero where one is switched off.
    levels, spreads : arrays, shape (plant, plant covariate)
        Yearly mean conditions of each plant, and how unsure they are.
    """
    rng = np.random.default_rng([seed, SALT])
    seen = levels_seen(exposures)
    samples = len(p.all)

    def of(name: str, count: int) -> Array:
        span = layout.block(name)
        return p.all[:, len(COEFFICIENTS) + span.start : len(COEFFICIENTS) + span.stop][:, :count]

    def filled(name: str, known: Array) -> Array:
        effect = of(name, len(known)).copy()
        spread = scale[:, GROUPS.index(name)] * unseen_scale(int(known.sum()))
        effect[:, ~known] = spread[:, None] * rng.standard_normal((samples, int((~known).sum())))
        return effect

    n_plants = len(exposures.plant_ids)
    slopes = p.all[:, PLANT_SLOPES]
    error = of("plant_error", n_plants * len(PLANT_COVARIATES)).reshape(samples, n_plants, len(PLANT_COVARIATES))
    resin_ids = len(exposures.resins.resin_id)
    undescribed = ~exposures.resins.described
    return Effects(
        plant=filled("plant", seen.plant),
        plant_climate=((levels + spreads * error) * slopes[:, None, :]).sum(axis=-1),
        resin=filled("resin", seen.resin) + undescribed * (priors.undescribed_loc + priors.undescribed_sd * of("resin_error", resin_ids)),
        design=filled("design", seen.design),
        maker=filled("maker", seen.maker),
        sudden_plant=of("sudden_plant", n_plants),
    )
