"""What a reading of a live tool would show if it were taken now, and how likely each outcome is in each draw."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.ways import UNSTATED_RESOLUTION
from wearfit.forecasts.conditions import generator
from wearfit.forecasts.quantiles import weighted_quantiles
from wearfit.forecasts.tracks import LEAST_SHARE, growth_of_feature
from wearfit.growth import FAULT, FAULT_NOISE, share_below
from wearfit.growth_integral import way_drawn
from wearfit.remaining import Track

Array = np.ndarray

OUTCOMES: Final = 16  # alike in probability
NEW_FEATURE: Final = "a measured feature"  # of a fleet without readings: as its population says


@dataclass(frozen=True)
class ToBeRead:
    """A reading not yet taken. Arrays of shape (sample,).

    Parameters
    ----------
    middle : array
        Log share of the way from new to the limit that it would show without error.
    noise : array
        Of its error, the gauge's rounding in it.
    least : float
        Log of the least share of the way that the gauge tells.
    """

    middle: Array
    noise: Array
    least: float

    def chances(self, weights: Array, rng: np.random.Generator) -> Array:
        """Probability of each outcome in each draw, shape (sample, outcome): what lies between edges that part what is expected alike."""
        faulty = rng.random(len(self.middle)) < FAULT
        shown = self.middle + np.where(faulty, FAULT_NOISE, self.noise) * rng.standard_t(4.0, len(self.middle))
        at = tuple((np.arange(1, OUTCOMES) / OUTCOMES).tolist())
        edges = np.unique(np.maximum(weighted_quantiles(shown[:, None], weights[:, None], at)[:, 0], self.least))
        below = share_below(edges - self.middle[:, None], self.noise[:, None])
        return np.diff(below, axis=1, prepend=0.0, append=1.0)


def to_be_read(
    calibration: Calibration, tool: str, feature: str, track: Track | None, now: Array, then: Array, step: float | None
) -> ToBeRead:
    """A reading now of a feature of a live tool.

    Parameters
    ----------
    track : Track or None
        The readings of the feature that its life already has.
    now, then : arrays, shape (sample,)
        log(D / C) of the wear spent over the life's capacity: now, and on the day up to which `track` counts.
    step : float or None
        What the gauge tells apart, as a share of the way from new to the limit; None where it is not stated.
    """
    law = growth_of_feature(calibration, feature)
    rng = generator(calibration, "reading ahead", tool, feature)
    s, g = rng.standard_normal((2, len(now)))
    if track is not None:
        s, g = way_drawn(track.readings, (track.log_share + then[:, None]).T, law, (s, g))
    log_share = np.maximum(now, np.log(LEAST_SHARE))
    middle = law.level + law.life_sd * s + (law.growth + law.growth_sd * g) * log_share
    least = np.log(UNSTATED_RESOLUTION if step is None else step)
    rounding = 0.0 if step is None else step / np.sqrt(12.0) * np.exp(-np.maximum(middle, least))
    return ToBeRead(middle, np.hypot(law.noise, rounding), float(least))


@dataclass(frozen=True)
class Gauges:
    """Which feature the tools of a fleet are read for, and how finely."""

    usual: str
    of_design: Mapping[int, str]
    step: Mapping[str, float | None]


def read_gauges(calibration: Calibration) -> Gauges:
    """Features by how often the live tools were read for them, and the steps of their gauges."""
    readings, features = calibration.readings, calibration.levels.feature
    if not len(readings.feature):
        usual = str(features[0]) if len(features) else NEW_FEATURE
        return Gauges(usual, {}, {usual: None})
    feature = readings.feature.astype(np.int64)
    design = calibration.live.design[calibration.reads.live[readings.read.astype(np.int64)]].astype(np.int64)
    told = readings.rounding > 0
    steps = readings.rounding * np.sqrt(12.0) * np.exp(readings.log_way)
    return Gauges(
        usual=most_read(features, feature),
        of_design={int(d): most_read(features, feature[design == d]) for d in np.unique(design[design >= 0])},
        step={
            str(features[f]): float(np.median(steps[told & (feature == f)])) if (told & (feature == f)).any() else None
            for f in np.unique(feature)
        },
    )


def most_read(features: Array, of: Array) -> str:
    """The name of the feature that occurs most often, the first in order where several do."""
    return str(features[np.bincount(of).argmax()])
