"""Readings of one live tool as what is left of its life takes them: feature by feature, over the wear that it has spent."""

from collections.abc import Mapping
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.conditions import generator, position
from wearfit.forecasts.news import NOTHING, Since
from wearfit.forecasts.read_series import Series, calibrated
from wearfit.growth import Growth, Readings
from wearfit.remaining import Track

Array = np.ndarray

LEAST_OF_LIFE: Final = 1e-3  # of a characteristic life: a capacity is not looked for below it, where no life ends
LEAST_SHARE: Final = 1e-6  # of the wear now, where a logarithm is taken


def wear_now(calibration: Calibration, row: int) -> Array:
    """Wear spent by a live tool on the calibration's day, as its tracks count it: above zero, shape (sample,)."""
    life = np.asarray(calibration.draws.characteristic_life[:, row], dtype=float)
    return np.maximum(np.asarray(calibration.draws.wear_spent[:, row], dtype=float), LEAST_OF_LIFE * life)


def tracks_now(calibration: Calibration, row: int, since: Since = NOTHING) -> Mapping[str, Track]:
    """The readings of a live tool's life that its forecast rests on, by feature."""
    return tracks_of(calibration, calibrated(calibration, row), wear_now(calibration, row)) if since.tracks is None else since.tracks


def tracks_of(calibration: Calibration, series: Series, base: Array) -> dict[str, Track]:
    """Readings of one life by feature, in order of days; `base` (sample,) is the wear that its tracks are counted from."""
    tracks = {}
    for feature in np.unique(series.feature.astype(str)):
        chosen = np.flatnonzero(series.feature == feature)
        of = series.take(chosen[np.argsort(series.day[chosen], kind="stable")])
        log_share = np.log(np.maximum(of.wear / base[:, None], LEAST_SHARE))
        tracks[str(feature)] = Track(Readings(of.log_way, of.below, of.rounding), log_share, growth_of_feature(calibration, feature))
    return tracks


def growth_of_feature(calibration: Calibration, feature: str) -> Growth:
    """Law of a feature's readings, shape (sample,) each; of one never seen drawn from the population of features."""
    life_sd, growth_sd = (np.exp(calibration.coefficient(f"reading.log_{name}")) for name in ("life_sd", "life_growth_sd"))
    draws, at = calibration.draws, position(calibration.levels.feature, feature)
    if at >= 0:
        level, growth, noise = (np.asarray(a[:, at], dtype=float) for a in (draws.feature_level, draws.feature_growth, draws.feature_noise))
        return Growth(level, growth, noise, life_sd, growth_sd)
    known = np.stack([draws.feature_level, np.log(draws.feature_growth), np.log(draws.feature_noise)], axis=2).astype(float)
    population, n = calibration.features, known.shape[1]
    common, own = population.common_sd**2, population.own_sd**2
    # The middle of all features given those seen, which lie about it by `own`; none seen leaves its prior.
    told = n * common / np.maximum(n * common + own, 1e-300)
    middle = population.loc + told * (known.mean(axis=1) - population.loc if n else 0.0)
    unsure = np.sqrt(common * (1.0 - told) + own)
    drawn = middle + unsure * generator(calibration, "feature", feature).standard_normal((calibration.samples, 3))
    return Growth(drawn[:, 0], np.exp(drawn[:, 1]), np.exp(drawn[:, 2]), life_sd, growth_sd)
