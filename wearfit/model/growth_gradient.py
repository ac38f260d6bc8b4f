"""The gradient of `growth_kernel.log_integral`, for the compiled model.

The nodes move with the parameters, in two ways: the mode, by the implicit function theorem, and how far they stand from it. An
integral that is exact does not feel either; this one does a little, so both are in the gradient, which then is that of the value.
"""

import numpy as np
from numba.extending import register_jitable

from wearfit.growth_integral import CURVATURE, LEAST_BEND
from wearfit.model.bare_arrays import bare, hold
from wearfit.model.data import ReadingColumns
from wearfit.model.growth_density import bends, bends_below, slopes, slopes_below, sound_share, sound_slopes
from wearfit.model.growth_kernel import ALONG_G, ALONG_S, NODE_ROWS, NODES, PART, G, S, find_mode, integrate
from wearfit.model.growth_mode import (
    BELOW,
    BY_G,
    ERROR,
    FAR,
    GROWTH,
    GROWTH_SD,
    LEVEL,
    LIFE_COLUMNS,
    LIFE_SD,
    NEAR,
    NOISE,
    ODDS,
    PRECISION,
    REST,
    SHARE,
    SOUND,
    VARIANCE,
    lay_out,
    lay_out_noise,
)

Array = np.ndarray

PATH, FEATURE = ReadingColumns.path, ReadingColumns.feature
BY_ERROR, BY_ERROR_S, BY_ERROR_G, BY_VARIANCE = range(4)  # sums of what a reading's density says, over where s and g stand


@register_jitable
def add_nodes(life: Array, by_s: float, nodes: Array, slope: Array, said: Array) -> None:
    """Add what each reading says at the nodes, held where they are, to `said` (reading, 4).

    Slopes of the log-density by s and g at each node go into the first rows of `slope` (4, node), whose last are overwritten.
    """
    s, g, part = nodes[S], nodes[G], nodes[PART]
    of_s, of_g, by_error, by_variance = slope[S], slope[G], slope[2], slope[3]
    for k in range(NODES):
        of_s[k], of_g[k] = -s[k], -g[k]
    for i in range(len(life)):
        rest, by_g, precision, odds = life[i, REST], life[i, BY_G], life[i, PRECISION], life[i, ODDS]
        if life[i, BELOW] > 0.0:
            for k in range(NODES):
                by_error[k], by_variance[k] = slopes_below(rest - by_s * s[k] - by_g * g[k], life[i, VARIANCE])
        else:
            for k in range(len(s)):  # no branch, and a count that the compiler is not told, so that several nodes are done at once
                error = rest - by_s * s[k] - by_g * g[k]
                sound, near, far = sound_share(error * error, precision, odds)
                by_error[k], by_variance[k] = slopes(error, precision, sound, near, far)
        for k in range(NODES):
            of_s[k] -= by_s * by_error[k]
            of_g[k] -= by_g * by_error[k]
            weighed = part[k] * by_error[k]
            said[i, BY_ERROR] += weighed
            said[i, BY_ERROR_S] += weighed * s[k]
            said[i, BY_ERROR_G] += weighed * g[k]
            said[i, BY_VARIANCE] += part[k] * by_variance[k]


@register_jitable
def pull_and_bends(reading: Array) -> tuple[float, float, float]:
    """How hard a reading of `life` pulls at the mode, and how that grows with its error and with the variance of its noise."""
    if reading[BELOW] > 0.0:
        slope, (by_error, by_variance) = slopes_below(reading[ERROR], reading[VARIANCE])[0], bends_below(reading[ERROR], reading[VARIANCE])
        return -slope, by_error, by_variance
    at = (reading[ERROR], reading[PRECISION], reading[SOUND], reading[NEAR], reading[FAR])
    by_error, by_variance = bends(*at)
    return -slopes(*at)[0], by_error, by_variance


@register_jitable
def add_mode(
    life: Array, law: Array, mode: tuple[float, float], of_s: float, of_g: float, said: Array, of_law: Array, of_share: Array
) -> None:
    """Add what the gradient by the mode says: the mode moves so that the slope there stays zero."""
    by_s, (s, g) = law[LIFE_SD], mode
    ss, sg, gg = 0.0, 0.0, 0.0
    for i in range(len(life)):
        by_g, bend = life[i, BY_G], pull_and_bends(life[i])[1]
        ss += bend
        sg += by_g * bend
        gg += by_g * by_g * bend
    ss, sg, gg = 1.0 + by_s * by_s * ss, by_s * sg, 1.0 + gg
    determinant = ss * gg - sg * sg
    if ss < LEAST_BEND or determinant < LEAST_BEND:  # where two modes meet, no parameter says how fast they move
        return
    move_s, move_g = (gg * of_s - sg * of_g) / determinant, (ss * of_g - sg * of_s) / determinant
    for i in range(len(life)):
        pull, by_error, by_variance = pull_and_bends(life[i])
        along = by_s * move_s + life[i, BY_G] * move_g
        said[i, BY_ERROR] += along * by_error
        said[i, BY_ERROR_S] += along * by_error * s
        said[i, BY_ERROR_G] += along * by_error * g
        said[i, BY_VARIANCE] += along * by_variance
        of_law[LIFE_SD] += move_s * pull
        of_law[GROWTH_SD] += move_g * life[i, SHARE] * pull
        of_share[i] += move_g * law[GROWTH_SD] * pull


@register_jitable
def add_root(
    life: Array,
    law: Array,
    mode: tuple[float, float],
    root: tuple[float, float, float],
    nodes: Array,
    slope: Array,
    said: Array,
    of_law: Array,
    of_share: Array,
) -> tuple[float, float]:
    """Add what the distances of the nodes from the mode say, and the determinant; returned is what they say by the mode."""
    a, b, c = root
    of_a, of_b, of_c = -1.0 / a, 0.0, -1.0 / c
    for k in range(NODES):
        along_s, along_g = ALONG_S[k], ALONG_G[k]
        of_s, of_g = nodes[PART, k] * slope[S, k], nodes[PART, k] * slope[G, k]
        of_a -= of_s * (along_s - b * along_g / c) / (a * a)
        of_b -= of_s * along_g / (a * c)
        of_c += (of_s * b / a - of_g) * along_g / (c * c)
    of_gg = 0.5 * of_c / c
    of_b -= of_c * b / c
    of_sg = of_b / a
    of_ss = 0.5 * (of_a - of_b * b / a) / a
    by_s, growth_sd, (s, g) = law[LIFE_SD], law[GROWTH_SD], mode
    by_mode_s, by_mode_g = 0.0, 0.0
    for i in range(len(life)):
        if life[i, BELOW] <= 0.0:
            share, precision, sound = life[i, SHARE], life[i, PRECISION], life[i, SOUND]
            told = CURVATURE * sound * precision
            of_law[LIFE_SD] += told * (2.0 * of_ss * by_s + of_sg * growth_sd * share)
            of_law[GROWTH_SD] += told * share * (of_sg * by_s + 2.0 * of_gg * growth_sd * share)
            of_told = of_ss * by_s * by_s + (of_sg * by_s + of_gg * growth_sd * share) * growth_sd * share
            by_error, by_variance = sound_slopes(life[i, ERROR], precision, sound, life[i, NEAR], life[i, FAR])
            said[i, BY_ERROR] += of_told * told * by_error
            said[i, BY_ERROR_S] += of_told * told * by_error * s
            said[i, BY_ERROR_G] += of_told * told * by_error * g
            said[i, BY_VARIANCE] += of_told * told * (by_variance - precision)
            by_mode_s -= by_s * of_told * told * by_error
            by_mode_g -= life[i, BY_G] * of_told * told * by_error
            of_share[i] += told * growth_sd * (of_sg * by_s + 2.0 * of_gg * growth_sd * share)
    return by_mode_s, by_mode_g


@register_jitable
def sum_up(life: Array, law: Array, said: Array, of_law: Array, of_share: Array) -> None:
    """Turn what the readings say of their errors and noise into what they say of the law, and of the share of the life spent."""
    for i in range(len(life)):
        share, by_error = life[i, SHARE], said[i, BY_ERROR]
        of_law[LEVEL] -= by_error
        of_law[GROWTH] -= by_error * share
        of_law[NOISE] += said[i, BY_VARIANCE] * 2.0 * law[NOISE]
        of_law[LIFE_SD] -= said[i, BY_ERROR_S]
        of_law[GROWTH_SD] -= said[i, BY_ERROR_G] * share
        of_share[i] -= by_error * law[GROWTH] + said[i, BY_ERROR_G] * law[GROWTH_SD]


def path_marginals(
    log_spent: Array, log_capacity: Array, level: Array, growth: Array, noise: Array, life: Array, readings: Array
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
    readings
        Table of `ModelData`, in order of (path, feature).

    Returns
    -------
    value, of_capacity : (path,)
    of_spent : (reading,)
    of_law : (reading, 5)
        By level, growth, noise and both standard deviations, at the first reading of each path and feature; else zero.
    """
    n = len(readings)
    value, of_capacity = np.zeros(len(log_capacity)), np.zeros(len(log_capacity))
    by_spent, by_law, shares = np.zeros(n), np.zeros((n, 5)), np.zeros(n)
    rows, sums, at_nodes, slopes_there = np.zeros((n, LIFE_COLUMNS)), np.zeros((n, 4)), np.zeros((NODE_ROWS, NODES)), np.zeros((4, NODES))
    laws = np.zeros(5)
    reading, of_spent, of_law, log_share = bare(readings), bare(by_spent), bare(by_law), bare(shares)
    table, said, nodes, slope, law = bare(rows), bare(sums), bare(at_nodes), bare(slopes_there), bare(laws)
    law[LIFE_SD], law[GROWTH_SD] = life[0], life[1]
    low = 0
    while low < n:
        path, feature = int(reading[low, PATH]), int(reading[low, FEATURE])
        high = low
        while high < n and int(reading[high, PATH]) == path and int(reading[high, FEATURE]) == feature:
            log_share[high] = log_spent[high] - log_capacity[path]
            high += 1
        law[LEVEL], law[GROWTH], law[NOISE] = level[feature], growth[feature], noise[feature]
        its, its_said, its_law, its_share = table[low:high], said[low:high], of_law[low], of_spent[low:high]
        lay_out_noise(reading[low:high], law, its)
        lay_out(reading[low:high], log_share[low:high], law, its)
        mode, root = find_mode(its, law[LIFE_SD], nodes)
        value[path] += integrate(its, law[LIFE_SD], mode, root, nodes)
        add_nodes(its, law[LIFE_SD], nodes, slope, its_said)
        of_s, of_g = add_root(its, law, mode, root, nodes, slope, its_said, its_law, its_share)
        for k in range(NODES):
            of_s += nodes[PART, k] * slope[S, k]
            of_g += nodes[PART, k] * slope[G, k]
        add_mode(its, law, mode, of_s, of_g, its_said, its_law, its_share)
        sum_up(its, law, its_said, its_law, its_share)
        for i in range(low, high):
            of_capacity[path] -= of_spent[i]
        low = high
    hold(readings, shares, rows, sums, at_nodes, slopes_there, laws)
    return value, of_capacity, by_spent, by_law


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
