"""`growth_integral.log_marginal` as loops over readings, for the compiled model: the nodes about a life's mode."""

from math import exp, log, sqrt
from typing import Final

import numpy as np
from numba.extending import register_jitable

from wearfit.growth_integral import MIDDLE, SIDE, STEP
from wearfit.model.growth_density import fault_over_sound, log_below
from wearfit.model.growth_mode import (
    BELOW,
    BY_G,
    LIFE_SD,
    MUCH,
    ODDS,
    PRECISION,
    REST,
    VARIANCE,
    all_sound,
    climb,
    lay_out,
    lay_out_noise,
    log_peaks,
    log_risen,
    look,
    one_believed,
    root_of_information,
)

Array = np.ndarray

SAME: Final = 1e-3  # modes no further apart are one
NODES: Final = 9
NODE_ROWS: Final = 5
MOST: Final = 400.0  # [nat] of a node over the middle, far beyond what is met: so that no exponential is infinite
S, G, PART, FALLEN, RISEN = range(NODE_ROWS)  # of a life's nodes, a row each: `integrate`
ALONG_S: Final = STEP * np.tile([-1.0, 0.0, 1.0], 3)  # how far each node stands along s, in standard deviations
ALONG_G: Final = STEP * np.repeat([-1.0, 0.0, 1.0], 3)
NODE_WEIGHT: Final = np.outer([SIDE, MIDDLE, SIDE], [SIDE, MIDDLE, SIDE]).ravel()


@register_jitable
def integrate(life: Array, by_s: float, mode: tuple[float, float], root: tuple[float, float, float], nodes: Array) -> float:
    """Log of the integral over s and g; where each node stands and its share of the integral go into `nodes`, (NODE_ROWS, node)."""
    a, b, c = root
    s, g, part, fallen, risen = nodes[S], nodes[G], nodes[PART], nodes[FALLEN], nodes[RISEN]
    per_s, per_g, lean = 1.0 / a, 1.0 / c, b / (a * c)
    for k in range(len(s)):
        s[k] = mode[0] + per_s * ALONG_S[k] - lean * ALONG_G[k]
        g[k] = mode[1] + per_g * ALONG_G[k]
        part[k], fallen[k], risen[k] = -0.5 * (s[k] * s[k] + g[k] * g[k]), 1.0, 1.0
    for i in range(len(life)):
        rest, by_g, precision, odds = life[i, REST], life[i, BY_G], life[i, PRECISION], life[i, ODDS]
        if life[i, BELOW] > 0.0:
            for k in range(NODES):
                part[k] += log_below(rest - by_s * s[k] - by_g * g[k], sqrt(life[i, VARIANCE]))
            continue
        for k in range(len(s)):  # no branch, and a count that the compiler is not told, so that several nodes are done at once
            error = rest - by_s * s[k] - by_g * g[k]
            fallen[k] *= 1.0 + 0.25 * error * error * precision
            risen[k] *= 1.0 + fault_over_sound(error * error, precision, odds)
        for k in range(NODES):
            if fallen[k] > MUCH or risen[k] > MUCH:
                part[k] += log_risen(fallen[k], risen[k])
                fallen[k], risen[k] = 1.0, 1.0
    for k in range(len(s)):  # several at once, which logarithms are not
        risen[k] /= fallen[k] * fallen[k] * sqrt(fallen[k])
    middle, total = part[NODES // 2], 0.0
    for k in range(NODES):
        part[k] = NODE_WEIGHT[k] * exp(min(part[k] - middle, MOST)) * risen[k]
        total += part[k]
    whole = 1.0 / total
    for k in range(NODES):
        part[k] *= whole
    return middle + log(total / (a * c)) + log_peaks(life)


@register_jitable
def find_mode(life: Array, by_s: float, nodes: Array) -> tuple[tuple[float, float], tuple[float, float, float]]:
    """s and g at which the readings are likeliest, the mode with most under it where there are several; and `root_of_information`."""
    mode, reached = climb(life, by_s, (0.0, 0.0), False)
    mode, root, _ = likeliest(life, by_s, mode, reached, nodes)
    return mode, root


@register_jitable
def likeliest(
    life: Array, by_s: float, mode: tuple[float, float], reached: bool, nodes: Array
) -> tuple[tuple[float, float], tuple[float, float, float], float]:
    """`find_mode` from where the search from none of s and g ended, and whether it reached a mode; and what `integrate` gave, if asked.

    Where all readings are likelier sound than not, to believe all alike or one alone leads to the same mode, and is not tried. A search
    that did not end counts only if none did: the integral about a place that is no mode hangs on where the turns ran out. Leaves
    `life` as `look` fills it there; `nodes` are overwritten.
    """
    look(life, by_s, *mode)
    root = root_of_information(life, by_s)
    mass = np.nan  # under the mode, once it is asked for
    if reached and all_sound(life):
        return mode, root, mass
    for from_one in (False, True):
        if len(life) == 1 and not from_one:
            continue  # it leads to the same mode as from that one
        start = one_believed(life, by_s) if from_one else (0.0, 0.0)
        other, ended = climb(life, by_s, start, not from_one)
        if (ended or not reached) and abs(other[0] - mode[0]) + abs(other[1] - mode[1]) >= SAME:
            look(life, by_s, *other)
            other_root = root_of_information(life, by_s)
            other_mass = integrate(life, by_s, other, other_root, nodes)
            if np.isnan(mass):
                mass = integrate(life, by_s, mode, root, nodes)
            if (ended and not reached) or other_mass > mass:
                mode, root, mass = other, other_root, other_mass
        reached = reached or ended
    look(life, by_s, *mode)
    return mode, root, mass


@register_jitable
def log_integral(reading: Array, log_share: Array, law: Array, life: Array, nodes: Array) -> float:
    """Log-likelihood of the readings of one feature of one life: `growth_integral.log_marginal`; `life` and `nodes` are overwritten."""
    lay_out_noise(reading, law, life)
    lay_out(reading, log_share, law, life)
    mode, reached = climb(life, law[LIFE_SD], (0.0, 0.0), False)
    return integral_from(life, law[LIFE_SD], mode, reached, nodes)


@register_jitable
def integral_from(life: Array, by_s: float, mode: tuple[float, float], reached: bool, nodes: Array) -> float:
    """`log_integral` from where the search from none of s and g ended, and whether it reached a mode; after `lay_out`."""
    mode, root, mass = likeliest(life, by_s, mode, reached, nodes)
    return integrate(life, by_s, mode, root, nodes) if np.isnan(mass) else mass
