"""A saved calibration's draws laid out as the likelihood's parameters are, for its own history or one with levels never seen before."""

from collections.abc import Sequence

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.covariates import columns
from wearfit.exposures.places import plant_levels
from wearfit.exposures.table import Exposures
from wearfit.model.layout import COEFFICIENTS, GROUPS, PLANT_SLOPES, Layout
from wearfit.model.priors import Priors

Array = np.ndarray


def effects_by_name(
    calibration: Calibration, kept: Array, rng: np.random.Generator, group: str, names: Sequence[object], old: Array, values: Array
) -> Array:
    """Effects of the draws `kept` by name, shape (sample, level); those of names not seen before drawn from their population.

    Parameters
    ----------
    names : sequence
        Of the levels that are asked for.
    old, values : arrays, shapes (known,), (draw, known)
        Names and effects that the calibration has.
    """
    place = {str(name): i for i, name in enumerate(old)}
    at = np.array([place.get(str(name), -1) for name in names], dtype=np.int64)
    scale = np.asarray(calibration.draws.scale[kept], dtype=float)[:, [GROUPS.index(group)]]
    out = np.asarray(scale * rng.standard_normal((len(kept), len(at))))
    out[:, at >= 0] = values[kept][:, at[at >= 0]]
    return out


def laid_out(
    calibration: Calibration, exposures: Exposures, priors: Priors, layout: Layout, kept: Array, rng: np.random.Generator
) -> Array:
    """Coefficients and group effects of the draws `kept`, in order of `likelihood.Parameters.all`; zero where features have theirs.

    Notes
    -----
    What a plant's air brings is saved as one figure with what its unknown conditions add, and so is a resin of which nothing is
    known: here they stand in the effect of the plant and of the resin, and their errors are nought.
    """
    drawn, levels, n = calibration.draws, calibration.levels, len(COEFFICIENTS)
    slots = np.zeros((len(kept), n + layout.size))
    slots[:, :n] = drawn.coefficient[kept]

    def known(group: str, names: Sequence[object], old: Array, values: Array) -> Array:
        return effects_by_name(calibration, kept, rng, group, names, old, values)

    def put(group: str, values: Array) -> None:
        slots[:, layout.parameter(group, np.arange(values.shape[1]))] = values

    tools, resins = exposures.tools, exposures.resins
    air = slots[:, PLANT_SLOPES] @ columns(plant_levels(exposures.climate)).T
    plant = known("plant", exposures.plant_ids, levels.plant, np.asarray(drawn.plant, dtype=float) + drawn.plant_climate)
    put("plant", plant - air * np.isin(exposures.plant_ids, levels.plant))
    put("resin", known("resin", resins.resin_id, levels.resin, drawn.resin) - ~resins.described * priors.undescribed_loc)
    put("design", known("design", tools.design_ids, levels.design, drawn.design))
    put("maker", known("maker", tools.maker_ids, levels.maker, drawn.maker))
    put("sudden_plant", known("sudden_plant", exposures.plant_ids, levels.plant, drawn.sudden_plant))
    return slots
