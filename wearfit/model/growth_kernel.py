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
S, G, PART, FALLEN, RISEN = range(NODE_ROWS)  # of a life's nodes, a row each: `integrate`


@register_jitable
def step_of(k: int) -> tuple[float, float, float]:
    """How far node k stands along s and along g, in standard deviations, and its weight."""
    along_s, along_g = float(k % 3 - 1), float(k // 3 - 1)
    return STEP * along_s, STEP * along_g, (SIDE if along_s != 0.0 else MIDDLE) * (SIDE if along_g != 0.0 else MIDDLE)


@register_jitable
def integrate(life: Array, by_s: float, mode: tuple[float, float], root: tuple[float, float, float], nodes: Array) -> float:
    """Log of the integral over s and g; where each node stands and its share of the integral go into `nodes`, (NODE_ROWS, node)."""
    a, b, c = root
    s, g, part, fallen, risen = nodes[S], nodes[G], nodes[PART], nodes[FALLEN], nodes[RISEN]
    for k in range(NODES):
        along_s, along_g, _ = step_of(k)
        s[k] = mode[0] + (along_s - b * along_g / c) / a
        g[k] = mode[1] + along_g / c
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
    highest = -np.inf
    for k in range(NODES):
        part[k] += log_risen(fallen[k], risen[k])
        highest = max(highest, part[k])
    total = 0.0
    for k in range(NODES):
        part[k] = step_of(k)[2] * exp(part[k] - highest)
        total += part[k]
    for k in range(NODES):
        part[k] /= total
    return highest + log(total / (a * c)) + log_peaks(life)


@register_jitable
def find_mode(life: Array, by_s: float, nodes: Array) -> tuple[tuple[float, float], tuple[float, float, float]]:
    """s and g at which the readings are likeliest, the mode with most under it where there are several; and `root_of_information`.

    Where all readings are likelier sound than not, to believe all alike or one alone leads to the same mode, and is not tried. A search
    that did not end counts only if none did: the integral about a place that is no mode hangs on where the turns ran out. Leaves
    `life` as `look` fills it there; `nodes` are overwritten.
    """
    mode, reached = climb(life, by_s, (0.0, 0.0), False)
    look(life, by_s, *mode)
    root = root_of_information(life, by_s)
    if reached and all_sound(life):
        return mode, root
    for other, ended in (climb(life, by_s, (0.0, 0.0), True), climb(life, by_s, one_believed(life, by_s), False)):
        if (ended or not reached) and abs(other[0] - mode[0]) + abs(other[1] - mode[1]) >= SAME:
            look(life, by_s, *other)
            other_root = root_of_information(life, by_s)
            surer = ended and not reached
            if surer or integrate(life, by_s, other, other_root, nodes) > integrate(life, by_s, mode, root, nodes):
                mode, root = other, other_root
        reached = reached or ended
    look(life, by_s, *mode)
    return mode, root


@register_jitable
def log_integral(reading: Array, log_share: Array, law: Array, life: Array, nodes: Array) -> float:
    """Log-likelihood of the readings of one feature of one life: `growth_integral.log_marginal`; `life` and `nodes` are overwritten."""
    lay_out(reading, log_share, law, life)
    mode, root = find_mode(life, law[LIFE_SD], nodes)
    return integrate(life, law[LIFE_SD], mode, root, nodes)
