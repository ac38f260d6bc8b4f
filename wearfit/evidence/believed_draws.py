"""What a saved calibration believes of a history, in the terms of the likelihood: its draws laid out as the sampler's vector was."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit import law
from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.exposures.covariates import PLANT_COVARIATES, columns, spreads
from wearfit.exposures.places import plant_levels
from wearfit.exposures.table import Exposures
from wearfit.model.bands import band_offsets, log_band
from wearfit.model.data import ModelData
from wearfit.model.laid_out import laid_out
from wearfit.model.layout import COEFFICIENTS, GROUPS, PLANT_SLOPES, Layout
from wearfit.model.parameters import Parameters
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import Priors, parse_priors

Array = np.ndarray

MOST_DRAWS: Final = 400  # that a look at the fit takes: chances of one in a thousand are means over them, not shares of them
MOST_NUMBERS: Final = 30_000_000  # of one table of draws by pieces of lives, which bounds the memory


@dataclass(frozen=True)
class Believed:
    """A history as the model takes it, and draws of what is believed of it.

    Parameters
    ----------
    parameters : Parameters
        With a leading axis of draws.
    tool_scale : array, shape (draw, 1)
        Standard deviation of tool effects on log life.
    wear_law : int or array, shape (draw,)
        As `law.Shape` takes it.
    """

    exposures: Exposures
    priors: Priors
    layout: Layout
    data: ModelData
    parameters: Parameters
    tool_scale: Array
    wear_law: Any = law.WEIBULL

    @property
    def shape(self) -> law.Shape:
        """Of the law of each draw, shape (draw, 1)."""
        return law.Shape(np.exp(self.parameters.coefficient("log_shape")), self.wear_law)

    @property
    def log_band(self) -> Array:
        """Of the first thing that each tool may be, shape (tool,)."""
        bands = log_band(self.exposures, self.priors, band_offsets(self.priors))
        return bands[np.searchsorted(self.exposures.candidates.tool, np.arange(len(self.exposures.tools.tool_id)), side="left")]


@dataclass(frozen=True)
class MeanWear:
    """What wear is weighed by where a share of it is enough: means of the posterior."""

    coefficient: Array  # (coefficient,)
    plant: Array  # (plant,) log wear per shot, its yearly air counted
    resin: Array  # (resin,) log wear per shot


def mean_wear(b: Believed) -> MeanWear:
    """What is believed of plants and resins in the middle."""
    middle, e = b.parameters.all.mean(axis=0), b.exposures

    def effect(group: str, count: int) -> Array:
        return np.asarray(middle[b.layout.parameter(group, np.arange(count))])

    levels, plants, n = plant_levels(e.climate), len(e.plant_ids), len(PLANT_COVARIATES)
    air = columns(levels) + spreads(levels) * effect("plant_error", plants * n).reshape(plants, n)
    resins = len(e.resins.resin_id)
    unknown = ~e.resins.described * (b.priors.undescribed_loc + b.priors.undescribed_sd * effect("resin_error", resins))
    return MeanWear(middle[: len(COEFFICIENTS)], effect("plant", plants) + air @ middle[PLANT_SLOPES], effect("resin", resins) + unknown)


def believed(calibration: Calibration, exposures: Exposures, fingerprint: str, most: int = MOST_DRAWS) -> Believed:
    """The draws of a calibration over the very history that it was calibrated on.

    Parameters
    ----------
    fingerprint : str
        Of the records that the exposures are of.
    most : int
        Draws at most, evenly spaced.

    Raises
    ------
    Refusal
        Where the history is another one: its tools and plants would be taken for those of the calibration.
    """
    if calibration.identity.fingerprint != fingerprint:
        raise Refusal(
            "The records have changed since the calibration, so it cannot be set against them.",
            "Run `wearfit recalibrate`; then ask again.",
        )
    priors = parse_priors(calibration.identity.priors)
    layout = layout_of(exposures)
    data = prepare(exposures, priors, layout)
    wanted = min(most, calibration.samples, max(50, MOST_NUMBERS // max(len(exposures.runs.tool) * 2, 1)))
    kept = np.linspace(0, calibration.samples - 1, wanted).round().astype(int)
    # Every level is one that the calibration knows, so that nothing that is drawn counts.
    slots = laid_out(calibration, exposures, priors, layout, kept, np.random.default_rng(calibration.identity.seed))
    drawn = calibration.draws
    scale = drawn.scale[kept, GROUPS.index("tool")].astype(float)[:, None]
    parameters = Parameters(slots, drawn.share[kept].astype(float))
    return Believed(exposures, priors, layout, data, parameters, scale, calibration.shape[kept].law)
