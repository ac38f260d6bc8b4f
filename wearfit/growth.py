"""The law of readings: how a measured feature goes from new to its limit as a life spends its wear.

With z the share of the way from new to the limit, D the wear spent at the reading and C the life's own capacity,

    log z = level + s + (growth + g) log(D / C) + e,    s ~ N(0, life_sd^2), g ~ N(0, growth_sd^2), e ~ noise * t_4

s and g belong to one feature of one life, e to one reading. One reading in twenty is a fault of the process, which is not wear: its e is
as wide as FAULT_NOISE, so that it pulls next to nothing along (heavy tails alone still pulled: by 2 nat a unit of log z, a fault of
ten times among three readings took a sixth off what was left). A reading below what the gauge can show adds the distribution function
of e; a coarse gauge adds the spread of its rounding to the noise.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

Array = np.ndarray

LOG_PEAK: Final = float(np.log(0.375))  # density of t_4 at zero
FAULT: Final = 0.05  # share of readings; judgement
FAULT_NOISE: Final = 2.0  # of theirs, log share of the way: factors of two to ten are usual; judgement
FAULT_VARIANCE: Final = FAULT_NOISE * FAULT_NOISE
FAULT_HEIGHT: Final = FAULT / (1.0 - FAULT) / FAULT_NOISE  # of their density over that of sound ones at their noise, both at zero
WEIGHT: Final = 1.25  # of a reading without error, over noise^2: (4 + 1) / 4


@dataclass(frozen=True)
class Growth:
    """Parameters of the law. Arrays that broadcast against one reading's."""

    level: Array
    growth: Array
    noise: Array
    life_sd: Array
    growth_sd: Array


@dataclass(frozen=True)
class Readings:
    """Readings of one feature in one life. Arrays of shape (reading,)."""

    log_way: Array  # log of the share of the way from new to the limit; of the gauge's least where below it
    below: Array  # 1 where it lies below that
    rounding: Array  # standard deviation of log_way that rounding brings


def log_cdf(x: Array) -> Array:
    """Log of the distribution function of t with four degrees of freedom, accurate in both tails."""
    square = x * x
    far = (square + 4.0) ** 1.5
    tail = (6.0 * square + 32.0) / (far * (far + np.abs(x) * (square + 6.0)))
    return np.where(x < 0, np.log(tail), np.log1p(-tail))


def share_below(error: Array, noise: Array) -> Array:
    """Chance that a reading lies below a value that is so far above what was to be read: `log_below` where tails do not matter."""
    chance = np.zeros(())
    for share, scale in ((1.0 - FAULT, noise), (FAULT, FAULT_NOISE)):
        x = error / scale
        far = x * x + 4.0
        chance = chance + share * (0.5 + 0.5 * x * (far + 2.0) / (far * np.sqrt(far)))
    return chance


def density(x: Array) -> Array:
    """Density of t with four degrees of freedom."""
    return 0.375 * (1.0 + 0.25 * x * x) ** -2.5


def log_below(error: Array, noise: Array) -> Array:
    """Log of the chance that a reading lies below a gauge's least, given how far that is above what was to be read."""
    sound, fault = np.log1p(-FAULT) + log_cdf(error / noise), np.log(FAULT) + log_cdf(error / FAULT_NOISE)
    return np.asarray(np.logaddexp(sound, fault))


def slope_below(error: Array, noise: Array) -> tuple[Array, Array]:
    """Slope of `log_below` by the error, and minus its curvature."""
    chance = np.exp(log_below(error, noise))
    slope, bend = np.zeros(()), np.zeros(())
    for share, scale in ((1.0 - FAULT, noise), (FAULT, np.asarray(FAULT_NOISE))):
        x = error / scale
        part = share * density(x) / (scale * chance)
        slope, bend = slope + part, bend + part * 5.0 * x / ((4.0 + x * x) * scale)
    return slope, slope * slope + bend
