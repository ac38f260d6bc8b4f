"""A truth drawn from the model's own priors: every coefficient, share, scale and effect of a group."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wearfit.exposures.covariates import PLANT_COVARIATES
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES
from wearfit.model.priors import Priors

Array = np.ndarray


@dataclass(frozen=True)
class Truth:
    """What the lives of a simulated fleet follow, by name."""

    coefficient: dict[str, float]
    share: dict[str, float]
    scale: dict[str, float]
    plant: dict[str, float]  # what is left of a plant beyond its air
    sudden_plant: dict[str, float]
    resin: dict[str, float]
    design: dict[str, float]
    maker: dict[str, float]
    air_error: dict[str, Array]  # (plant covariate,) how far its level lies from the one recorded, in standard deviations
    resin_error: dict[str, float]
    feature: dict[str, tuple[float, float, float]]  # level, growth and noise of its readings


def draw_truth(
    priors: Priors,
    rng: np.random.Generator,
    plants: Sequence[str],
    resins: Sequence[str],
    designs: Sequence[str],
    makers: Sequence[str],
    features: Sequence[str],
) -> Truth:
    """Draw a truth. Effects of plants, resins, designs and makers are those about the mean of the levels, all of which are seen."""
    coefficient = priors.loc + priors.root @ rng.standard_normal(len(COEFFICIENTS))
    scale = dict(zip(GROUPS, np.abs(rng.standard_normal(len(GROUPS))) * priors.scale, strict=True))

    def effects(group: str, levels: Sequence[str], about_mean: bool) -> dict[str, float]:
        drawn = scale[group] * rng.standard_normal(len(levels))
        return dict(zip(levels, drawn - drawn.mean() * about_mean, strict=True))

    common, own = priors.feature_sd
    of_all = priors.feature_loc + common * rng.standard_normal(3)
    feature = {}
    for name in features:
        level, log_growth, log_noise = of_all + own * rng.standard_normal(3)
        feature[name] = (float(level), float(np.exp(log_growth)), float(np.exp(log_noise)))
    return Truth(
        coefficient=dict(zip(COEFFICIENTS, map(float, coefficient), strict=True)),
        share=dict(zip(SHARES, map(float, rng.beta(priors.share_a, priors.share_b)), strict=True)),
        scale={group: float(s) for group, s in scale.items()},
        plant=effects("plant", plants, True),
        sudden_plant=effects("sudden_plant", plants, False),
        resin=effects("resin", resins, True),
        design=effects("design", designs, True),
        maker=effects("maker", makers, True),
        air_error={plant: rng.standard_normal(len(PLANT_COVARIATES)) for plant in plants},
        resin_error={resin: float(rng.standard_normal()) for resin in resins},
        feature=feature,
    )
