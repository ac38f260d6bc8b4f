"""Where s and g of one life are likeliest, as loops over its readings, for the compiled model: the modes of `growth_integral`."""

from math import log, sqrt
from typing import Final

import numpy as np
from numba.extending import register_jitable

from wearfit.growth import WEIGHT
from wearfit.growth_integral import CAREFUL, CLOSE, CURVATURE, LEAST_BEND, LEAST_CURVATURE, SLACK, TURNS
from wearfit.model.data import ReadingColumns
from wearfit.model.growth_density import SOUND_PEAK, below_parts, bends, log_below, noise_parts, sound_share

Array = np.ndarray

MUCH: Final = 1e60  # its power of 2.5, times an exponential of as much, is far from where a product overflows

LOG_WAY, WAS_BELOW, ROUNDING = ReadingColumns.log_way, ReadingColumns.below, ReadingColumns.rounding
LEVEL, GROWTH, NOISE, LIFE_SD, GROWTH_SD = range(5)  # of the law of one feature
LIFE_COLUMNS: Final = 11
REST, BY_G, VARIANCE, PRECISION, ODDS, BELOW, SHARE, ERROR, SOUND, NEAR, FAR = range(LIFE_COLUMNS)  # of its readings: `lay_out`, `look`


@register_jitable
def lay_out_noise(reading: Array, law: Array, life: Array) -> None:
    """Fill what no capacity moves into `life` (reading, LIFE_COLUMNS): a reading's noise, and whether it lies below the gauge's least.

    `reading` is of one feature of one life, `law` is level, growth, noise, life_sd, growth_sd.
    """
    for i in range(len(reading)):
        life[i, VARIANCE] = law[NOISE] * law[NOISE] + reading[i, ROUNDING] * reading[i, ROUNDING]
        life[i, PRECISION], life[i, ODDS] = noise_parts(life[i, VARIANCE])
        life[i, BELOW] = reading[i, WAS_BELOW]


@register_jitable
def lay_out(reading: Array, log_share: Array, law: Array, life: Array) -> None:
    """Fill in a reading's error where s and g are zero, and how far g moves it, by log(D / C) at each, `log_share`."""
    for i in range(len(reading)):
        life[i, REST] = reading[i, LOG_WAY] - law[LEVEL] - law[GROWTH] * log_share[i]
        life[i, BY_G] = law[GROWTH_SD] * log_share[i]
        life[i, SHARE] = log_share[i]


@register_jitable
def look(life: Array, by_s: float, s: float, g: float) -> None:
    """Fill in each reading's error where s and g stand, and its `sound_share` if it is not below the gauge."""
    for i in range(len(life)):
        error = life[i, REST] - by_s * s - life[i, BY_G] * g
        life[i, ERROR] = error
        life[i, SOUND], life[i, NEAR], life[i, FAR] = sound_share(error * error, life[i, PRECISION], life[i, ODDS])


@register_jitable
def log_risen(fallen: float, risen: float) -> float:
    """Log of the density of readings, by how far that of sound ones fell from its peak, and how far that of faults is above it."""
    return log(risen / (fallen * fallen * sqrt(fallen)))  # one logarithm for many readings: they are what costs


@register_jitable
def log_joint(life: Array, by_s: float, s: float, g: float) -> float:
    """Log-density of the readings and of s and g, but for `log_peaks` and the constant that integrating takes away; after `look`."""
    total, fallen, risen = -0.5 * (s * s + g * g), 1.0, 1.0
    for i in range(len(life)):
        if life[i, BELOW] > 0.0:
            total += log_below(life[i, ERROR], sqrt(life[i, VARIANCE]))
        else:
            fallen *= 1.0 + 0.25 * life[i, ERROR] * life[i, ERROR] * life[i, PRECISION]
            risen /= life[i, SOUND]
            if fallen > MUCH or risen > MUCH:
                total += log_risen(fallen, risen)
                fallen, risen = 1.0, 1.0
    return total + log_risen(fallen, risen)


@register_jitable
def log_peaks(life: Array) -> float:
    """What no s or g moves of the log-density: the heights of the readings' densities."""
    total, precise = 0.0, 1.0
    for i in range(len(life)):
        if life[i, BELOW] <= 0.0:
            total += SOUND_PEAK
            precise *= life[i, PRECISION]
            if not 1.0 / MUCH < precise < MUCH:
                total += 0.5 * log(precise)
                precise = 1.0
    return total + 0.5 * log(precise)


@register_jitable
def climb(life: Array, by_s: float, start: tuple[float, float], from_all: bool) -> tuple[tuple[float, float], bool]:
    """A mode of s and g, found from a start, whose first step may believe all readings alike; and whether it was reached.

    Where it was not, where it was highest on the way: the last step may have overshot.
    """
    (s, g), last_s, last_g, best, highest = start, 0.0, 0.0, start, -np.inf
    for turn in range(TURNS):
        ss, sg, gg, of_s, of_g = 0.0, 0.0, 0.0, 0.0, 0.0
        safe_ss, safe_sg, safe_gg = 0.0, 0.0, 0.0
        look(life, by_s, s, g)
        for i in range(len(life)):
            by_g, error = life[i, BY_G], life[i, ERROR]
            if life[i, BELOW] > 0.0:
                noise = sqrt(life[i, VARIANCE])
                slope, _, bend, _ = below_parts(error, noise)
                pull, weight = -slope, WEIGHT * life[i, PRECISION]
                if turn >= CAREFUL:
                    weight = max(bend, LEAST_CURVATURE * slope / noise)
            else:
                sound, near, far = life[i, SOUND], life[i, NEAR], life[i, FAR]
                weight = WEIGHT * life[i, PRECISION]
                if turn > 0 or not from_all:
                    weight = sound * near + (1.0 - sound) * far
                pull, bend = weight * error, bends(error, life[i, PRECISION], sound, near, far)[0]
                if turn >= CAREFUL:
                    weight = max(bend, LEAST_CURVATURE * weight)
            ss += bend
            sg += bend * by_g
            gg += bend * by_g * by_g
            safe_ss += weight
            safe_sg += weight * by_g
            safe_gg += weight * by_g * by_g
            of_s += pull
            of_g += by_g * pull
        ss, sg, gg, of_s, of_g = 1.0 + by_s * by_s * ss, by_s * sg, 1.0 + gg, by_s * of_s - s, of_g - g
        determinant = ss * gg - sg * sg
        if turn < CAREFUL or ss < LEAST_BEND or determinant < LEAST_BEND:  # the true curvature leads nowhere
            ss, sg, gg = 1.0 + by_s * by_s * safe_ss, by_s * safe_sg, 1.0 + safe_gg
            determinant = ss * gg - sg * sg
        step_s, step_g = (gg * of_s - sg * of_g) / determinant, (ss * of_g - sg * of_s) / determinant
        if turn >= CAREFUL:
            here = log_joint(life, by_s, s, g)
            if here < highest - SLACK:
                last_s, last_g = 0.5 * last_s, 0.5 * last_g
                step_s, step_g = -last_s, -last_g
            else:
                best, highest, last_s, last_g = (s, g), here, step_s, step_g
        s += step_s
        g += step_g
        if turn > 0 and abs(step_s) < CLOSE and abs(step_g) < CLOSE:
            return (s, g), True
    return best, False


@register_jitable
def root_of_information(life: Array, by_s: float) -> tuple[float, float, float]:
    """Upper triangular root [[a, b], [0, c]] of what readings that are sound at the mode, and the priors, tell of s and g; after `look`."""
    ss, sg, gg = 0.0, 0.0, 0.0
    for i in range(len(life)):
        if life[i, BELOW] <= 0.0:
            told = CURVATURE * life[i, SOUND] * life[i, PRECISION]
            ss += told
            sg += told * life[i, BY_G]
            gg += told * life[i, BY_G] * life[i, BY_G]
    a = sqrt(1.0 + by_s * by_s * ss)
    b = by_s * sg / a
    return a, b, sqrt(1.0 + gg - b * b)


@register_jitable
def all_sound(life: Array) -> bool:
    """Whether no reading is likelier to be a fault than sound; one below the gauge is not where none was to be seen. After `look`."""
    sound = True
    for i in range(len(life)):
        sound = sound and (life[i, ERROR] >= 0.0 if life[i, BELOW] > 0.0 else life[i, SOUND] >= 0.5)
    return sound


@register_jitable
def one_believed(life: Array, by_s: float) -> tuple[float, float]:
    """s and g by one reading alone, its noise taken for normal: that of them at which all together are the likeliest."""
    best, highest = (0.0, 0.0), -np.inf
    for i in range(len(life)):
        if life[i, BELOW] <= 0.0:
            by_g = life[i, BY_G]
            of_error = life[i, REST] / (by_s * by_s + by_g * by_g + life[i, VARIANCE])
            there = by_s * of_error, by_g * of_error
            look(life, by_s, *there)
            height = log_joint(life, by_s, *there)
            if height > highest:
                best, highest = there, height
    return best
