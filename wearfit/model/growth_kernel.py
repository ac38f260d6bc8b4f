"""`growth.log_marginal` as loops over readings, for the compiled model: the mode of a life, and the nodes about it."""

from math import exp, log, sqrt
from typing import Final

import numpy as np
from numba.extending import register_jitable

from wearfit.growth import CAREFUL, CLOSE, CURVATURE, LEAST_BEND, MIDDLE, SIDE, SLACK, STEP, TURNS, WEIGHT
from wearfit.model.data import ReadingColumns
from wearfit.model.growth_density import SOUND_PEAK, below_parts, fault_over_sound, log_below, pull_and_bend, sound_share

Array = np.ndarray

SAME: Final = 1e-3  # modes no further apart are one
NODES: Final = 9
MUCH: Final = 1e200  # far from where a product overflows

LOG_WAY, WAS_BELOW, ROUNDING = ReadingColumns.log_way, ReadingColumns.below, ReadingColumns.rounding
LEVEL, GROWTH, NOISE, LIFE_SD, GROWTH_SD = range(5)  # of the law of one feature
REST, BY_G, VARIANCE, BELOW, SHARE = range(5)  # of a life's readings of it: `lay_out`
S, G, PART = range(3)  # of its nodes: `integrate`


@register_jitable
def lay_out(reading: Array, log_share: Array, law: Array, life: Array) -> None:
    """Fill `life` (reading, 5): a reading's error where s and g are zero, how far g moves it, its noise, whether it lies below.

    `reading` and `log_share` are of one feature of one life, `law` is level, growth, noise, life_sd, growth_sd.
    """
    for i in range(len(reading)):
        life[i, REST] = reading[i, LOG_WAY] - law[LEVEL] - law[GROWTH] * log_share[i]
        life[i, BY_G] = law[GROWTH_SD] * log_share[i]
        life[i, VARIANCE] = law[NOISE] * law[NOISE] + reading[i, ROUNDING] * reading[i, ROUNDING]
        life[i, BELOW] = reading[i, WAS_BELOW]
        life[i, SHARE] = log_share[i]


@register_jitable
def log_joint(life: Array, by_s: float, s: float, g: float) -> float:
    """Log-density of the readings and of s and g, but for `log_peaks` and the constant that integrating takes away."""
    total, fallen, risen = -0.5 * (s * s + g * g), 1.0, 1.0
    for i in range(len(life)):
        error, variance = life[i, REST] - by_s * s - life[i, BY_G] * g, life[i, VARIANCE]
        if life[i, BELOW] > 0.0:
            total += log_below(error, sqrt(variance))
        else:
            fallen *= 1.0 + 0.25 * error * error / variance  # two logarithms for many readings: they are what costs
            risen *= 1.0 + fault_over_sound(error * error, variance)
            if fallen > MUCH or risen > MUCH:
                total += log(risen) - 2.5 * log(fallen)
                fallen, risen = 1.0, 1.0
    return total + log(risen) - 2.5 * log(fallen)


@register_jitable
def log_peaks(life: Array) -> float:
    """What no s or g moves of the log-density: the heights of the readings' densities."""
    total = 0.0
    for i in range(len(life)):
        if life[i, BELOW] <= 0.0:
            total += SOUND_PEAK - 0.5 * log(life[i, VARIANCE])
    return total


@register_jitable
def climb(life: Array, by_s: float, from_all: bool) -> tuple[float, float]:
    """A mode of s and g, found from none of either, or from where all readings are believed alike."""
    s, g, last_s, last_g, highest = 0.0, 0.0, 0.0, 0.0, -np.inf
    for turn in range(TURNS):
        ss, sg, gg, of_s, of_g = 0.0, 0.0, 0.0, 0.0, 0.0
        safe_ss, safe_sg, safe_gg = 0.0, 0.0, 0.0
        for i in range(len(life)):
            by_g, variance = life[i, BY_G], life[i, VARIANCE]
            error = life[i, REST] - by_s * s - by_g * g
            below = life[i, BELOW] > 0.0
            if turn >= CAREFUL:
                pull, bend, weight = pull_and_bend(error, variance, below)
                ss += bend
                sg += bend * by_g
                gg += bend * by_g * by_g
            elif below:
                pull, weight = -below_parts(error, sqrt(variance))[0], WEIGHT / variance
            else:
                weight = WEIGHT / variance
                if turn > 0 or not from_all:
                    sound, near, far = sound_share(error * error, variance)
                    weight = sound * near + (1.0 - sound) * far
                pull = weight * error
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
                highest, last_s, last_g = here, step_s, step_g
        s += step_s
        g += step_g
        if turn > 0 and abs(step_s) < CLOSE and abs(step_g) < CLOSE:
            break
    return s, g


@register_jitable
def root_of_information(life: Array, by_s: float, mode: tuple[float, float]) -> tuple[float, float, float]:
    """Upper triangular root [[a, b], [0, c]] of what the readings that are sound at the mode, and the priors, tell of s and g."""
    ss, sg, gg = 0.0, 0.0, 0.0
    for i in range(len(life)):
        if life[i, BELOW] <= 0.0:
            error, variance = life[i, REST] - by_s * mode[0] - life[i, BY_G] * mode[1], life[i, VARIANCE]
            told = CURVATURE / (variance * (1.0 + fault_over_sound(error * error, variance)))
            ss += told
            sg += told * life[i, BY_G]
            gg += told * life[i, BY_G] * life[i, BY_G]
    a = sqrt(1.0 + by_s * by_s * ss)
    b = by_s * sg / a
    return a, b, sqrt(1.0 + gg - b * b)


@register_jitable
def all_sound(life: Array, by_s: float, mode: tuple[float, float]) -> bool:
    """Whether no reading is likelier to be a fault than sound; of one below the gauge that is not told."""
    for i in range(len(life)):
        if life[i, BELOW] > 0.0:
            return False
        error = life[i, REST] - by_s * mode[0] - life[i, BY_G] * mode[1]
        if fault_over_sound(error * error, life[i, VARIANCE]) > 1.0:
            return False
    return True


@register_jitable
def find_mode(life: Array, by_s: float) -> tuple[tuple[float, float], tuple[float, float, float]]:
    """s and g at which the readings are likeliest, the mode with more under it where there are two; and `root_of_information`.

    Where all readings are likelier sound than not, to believe all alike leads to the same mode, and is not tried.
    """
    mode = climb(life, by_s, False)
    root = root_of_information(life, by_s, mode)
    if all_sound(life, by_s, mode):
        return mode, root
    other = climb(life, by_s, True)
    if abs(other[0] - mode[0]) + abs(other[1] - mode[1]) < SAME:
        return mode, root
    other_root = root_of_information(life, by_s, other)
    if log_joint(life, by_s, *other) - log(other_root[0] * other_root[2]) > log_joint(life, by_s, *mode) - log(root[0] * root[2]):
        return other, other_root
    return mode, root


@register_jitable
def step_of(k: int) -> tuple[float, float, float]:
    """How far node k stands along s and along g, in standard deviations, and its weight."""
    along_s, along_g = float(k % 3 - 1), float(k // 3 - 1)
    return STEP * along_s, STEP * along_g, (SIDE if along_s != 0.0 else MIDDLE) * (SIDE if along_g != 0.0 else MIDDLE)


@register_jitable
def integrate(life: Array, by_s: float, mode: tuple[float, float], root: tuple[float, float, float], nodes: Array) -> float:
    """Log of the integral over s and g; where each node stands and its share of the integral go into `nodes`, (node, 3)."""
    a, b, c = root
    highest = -np.inf
    for k in range(NODES):
        along_s, along_g, _ = step_of(k)
        nodes[k, S] = mode[0] + (along_s - b * along_g / c) / a
        nodes[k, G] = mode[1] + along_g / c
        nodes[k, PART] = log_joint(life, by_s, nodes[k, S], nodes[k, G])
        highest = max(highest, nodes[k, PART])
    total = 0.0
    for k in range(NODES):
        nodes[k, PART] = step_of(k)[2] * exp(nodes[k, PART] - highest)
        total += nodes[k, PART]
    for k in range(NODES):
        nodes[k, PART] /= total
    return highest + log(total / (a * c)) + log_peaks(life)


@register_jitable
def log_integral(reading: Array, log_share: Array, law: Array, life: Array, nodes: Array) -> float:
    """Log-likelihood of the readings of one feature of one life: `growth.log_marginal`; `life` and `nodes` are overwritten."""
    lay_out(reading, log_share, law, life)
    mode, root = find_mode(life, law[LIFE_SD])
    return integrate(life, law[LIFE_SD], mode, root, nodes)
