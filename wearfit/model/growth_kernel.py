"""`growth.log_marginal` with its gradient, as a loop over readings for the compiled model.

Integrals are taken by Laplace's method, so a gradient by any parameter is that at the mode held still (the envelope theorem),
and that of the determinant, which does not depend on the mode.
"""

from math import log, log1p, sqrt
from typing import Final

import numpy as np
from numba.extending import register_jitable

from wearfit.growth import CAREFUL, CURVATURE, LEAST_CURVATURE, LOG_PEAK, SLACK, TURNS, WEIGHT
from wearfit.model.data import ReadingColumns

Array = np.ndarray

PATH, FEATURE = ReadingColumns.path, ReadingColumns.feature
LOG_WAY, BELOW, ROUNDING = ReadingColumns.log_way, ReadingColumns.below, ReadingColumns.rounding
SAME: Final = 1e-3  # modes no further apart are one
CLOSE: Final = 1e-5  # closer than where no gradient is taken


@register_jitable
def cdf_and_slope(x: float) -> tuple[float, float]:
    """Log of the distribution function of t with four degrees of freedom, and its slope."""
    square = x * x
    far = (square + 4.0) * sqrt(square + 4.0)
    tail = (6.0 * square + 32.0) / (far * (far + abs(x) * (square + 6.0)))
    part = 1.0 + 0.25 * square
    density = 0.375 / (part * part * sqrt(part))
    if x < 0.0:
        return log(tail), density / tail
    return log1p(-tail), density / (1.0 - tail)


@register_jitable
def log_joint(reading: Array, share: Array, low: int, high: int, law: Array, s: float, g: float) -> float:
    """Log-density of the readings low .. high - 1 and of s and g, but for the constant that integrating takes away."""
    total = -0.5 * (s * s + g * g)
    for i in range(low, high):
        variance = law[2] * law[2] + reading[i, ROUNDING] * reading[i, ROUNDING]
        error = reading[i, LOG_WAY] - law[0] - law[1] * share[i] - law[3] * s - law[4] * share[i] * g
        if reading[i, BELOW] > 0.0:
            total += cdf_and_slope(error / sqrt(variance))[0]
        else:
            total += LOG_PEAK - 0.5 * log(variance) - 2.5 * log1p(0.25 * error * error / variance)
    return total


@register_jitable
def climbed(reading: Array, share: Array, low: int, high: int, law: Array, from_all: bool) -> tuple[float, float]:
    """A mode of s and g, found from none of either, or from where all readings are believed alike."""
    s, g, last_s, last_g, highest = 0.0, 0.0, 0.0, 0.0, -np.inf
    for turn in range(TURNS):
        ss, sg, gg, of_s, of_g = 1.0, 0.0, 1.0, -s, -g
        for i in range(low, high):
            variance = law[2] * law[2] + reading[i, ROUNDING] * reading[i, ROUNDING]
            by_g = law[4] * share[i]
            error = reading[i, LOG_WAY] - law[0] - law[1] * share[i] - law[3] * s - by_g * g
            if reading[i, BELOW] > 0.0:
                noise = sqrt(variance)
                x = error / noise
                slope = cdf_and_slope(x)[1]
                pull, weight = -slope / noise, WEIGHT / variance
                if turn >= CAREFUL:
                    weight = slope * max(slope + 5.0 * x / (4.0 + x * x), LEAST_CURVATURE) / variance
            elif from_all and turn == 0:
                weight = WEIGHT / variance
                pull = weight * error
            else:
                weight = 5.0 / (4.0 * variance + error * error)
                pull = weight * error
                if turn >= CAREFUL:
                    weight *= max(1.0 - 0.4 * error * pull, LEAST_CURVATURE)
            ss += law[3] * law[3] * weight
            sg += law[3] * weight * by_g
            gg += weight * by_g * by_g
            of_s += law[3] * pull
            of_g += by_g * pull
        determinant = ss * gg - sg * sg
        step_s, step_g = (gg * of_s - sg * of_g) / determinant, (ss * of_g - sg * of_s) / determinant
        if turn >= CAREFUL:
            here = log_joint(reading, share, low, high, law, s, g)
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
def mode_of_life(reading: Array, share: Array, low: int, high: int, law: Array) -> tuple[float, float, float]:
    """s and g at which the readings are likeliest, and `log_joint` there; `law` is level, growth, noise, life_sd, growth_sd."""
    s, g = climbed(reading, share, low, high, law, False)
    other_s, other_g = climbed(reading, share, low, high, law, True)
    here = log_joint(reading, share, low, high, law, s, g)
    if abs(other_s - s) + abs(other_g - g) < SAME:
        return s, g, here
    there = log_joint(reading, share, low, high, law, other_s, other_g)
    if there > here:
        return other_s, other_g, there
    return s, g, here


@register_jitable
def log_at_mode(reading: Array, share: Array, low: int, high: int, law: Array) -> float:
    """Log-likelihood of the readings low .. high - 1, s and g integrated out: `growth.log_marginal`, without a gradient."""
    total = mode_of_life(reading, share, low, high, law)[2]
    told, told_share, told_square = 0.0, 0.0, 0.0
    for i in range(low, high):
        if reading[i, BELOW] > 0.0:
            continue
        information = CURVATURE / (law[2] * law[2] + reading[i, ROUNDING] * reading[i, ROUNDING])
        told += information
        told_share += information * share[i]
        told_square += information * share[i] * share[i]
    across = law[3] * law[4] * told_share
    return total - 0.5 * log((1.0 + law[3] * law[3] * told) * (1.0 + law[4] * law[4] * told_square) - across * across)


def path_marginals(
    log_spent: Array, log_capacity: Array, level: Array, growth: Array, noise: Array, life: Array, reading: Array
) -> tuple[Array, Array, Array, Array]:
    """Log-likelihood of the readings of each path, and its derivatives.

    Parameters
    ----------
    log_spent : (reading,)
        Log wear spent at each reading.
    log_capacity : (path,)
    level, growth, noise : (feature,)
    life : (2,)
        Standard deviations of s and g.
    reading
        Table of `ModelData`, in order of (path, feature).

    Returns
    -------
    value, of_capacity : (path,)
    of_spent : (reading,)
    of_law : (reading, 5)
        By level, growth, noise and both standard deviations, at the first reading of each path and feature; else zero.
    """
    n = len(reading)
    value, of_capacity = np.zeros(len(log_capacity)), np.zeros(len(log_capacity))
    of_spent, of_law, share = np.zeros(n), np.zeros((n, 5)), np.zeros(n)
    law = np.zeros(5)
    law[3], law[4] = life[0], life[1]
    low = 0
    while low < n:
        path, feature = int(reading[low, PATH]), int(reading[low, FEATURE])
        high = low
        while high < n and int(reading[high, PATH]) == path and int(reading[high, FEATURE]) == feature:
            share[high] = log_spent[high] - log_capacity[path]
            high += 1
        law[0], law[1], law[2] = level[feature], growth[feature], noise[feature]
        s, g, total = mode_of_life(reading, share, low, high, law)
        told, told_share, told_square = 0.0, 0.0, 0.0
        for i in range(low, high):
            if reading[i, BELOW] <= 0.0:
                information = CURVATURE / (law[2] * law[2] + reading[i, ROUNDING] * reading[i, ROUNDING])
                told += information
                told_share += information * share[i]
                told_square += information * share[i] * share[i]
        of_s, of_g = law[3] * law[3], law[4] * law[4]
        with_s, with_g, across = 1.0 + of_s * told, 1.0 + of_g * told_square, of_s * of_g * told_share
        determinant = with_s * with_g - across * told_share
        half = -0.5 / determinant
        by_told, by_share, by_square = half * of_s * with_g, -2.0 * half * across, half * with_s * of_g
        of_law[low, 3] = 2.0 * half * law[3] * (told * with_g - of_g * told_share * told_share)
        of_law[low, 4] = 2.0 * half * law[4] * (with_s * told_square - of_s * told_share * told_share)
        for i in range(low, high):
            variance = law[2] * law[2] + reading[i, ROUNDING] * reading[i, ROUNDING]
            error = reading[i, LOG_WAY] - law[0] - law[1] * share[i] - law[3] * s - law[4] * share[i] * g
            by_spent = 0.0
            if reading[i, BELOW] > 0.0:
                noise_here = sqrt(variance)
                slope = cdf_and_slope(error / noise_here)[1]
                by_error, by_variance = slope / noise_here, -0.5 * slope * error / (noise_here * variance)
            else:
                square = error * error
                by_error = -5.0 * error / (4.0 * variance + square)
                by_variance = -0.5 / variance + 2.5 * square / (variance * (4.0 * variance + square))
                information = CURVATURE / variance
                by_variance -= information / variance * (by_told + by_share * share[i] + by_square * share[i] * share[i])
                by_spent = information * (by_share + 2.0 * by_square * share[i])
            by_spent -= by_error * (law[1] + law[4] * g)
            of_spent[i] = by_spent
            of_capacity[path] -= by_spent
            of_law[low, 0] -= by_error
            of_law[low, 1] -= by_error * share[i]
            of_law[low, 2] += by_variance * 2.0 * law[2]
            of_law[low, 3] -= by_error * s
            of_law[low, 4] -= by_error * share[i] * g
        value[path] += total - 0.5 * log(determinant)
        low = high
    return value, of_capacity, of_spent, of_law


def path_marginals_back(
    of_value: Array, of_capacity: Array, of_spent: Array, of_law: Array, level: Array, reading: Array
) -> tuple[Array, Array, Array, Array, Array, Array]:
    """Gradient by the first six arguments of `path_marginals`, given that by the values and what it returned."""
    n, features = len(reading), len(level)
    by_capacity, by_spent, by_life = of_value * of_capacity, np.zeros(n), np.zeros(2)
    by_level, by_growth, by_noise = np.zeros(features), np.zeros(features), np.zeros(features)
    for i in range(n):
        weight, feature = of_value[int(reading[i, PATH])], int(reading[i, FEATURE])
        by_spent[i] = weight * of_spent[i]
        by_level[feature] += weight * of_law[i, 0]
        by_growth[feature] += weight * of_law[i, 1]
        by_noise[feature] += weight * of_law[i, 2]
        by_life[0] += weight * of_law[i, 3]
        by_life[1] += weight * of_law[i, 4]
    return by_spent, by_capacity, by_level, by_growth, by_noise, by_life
