"""Likelihoods of one life's readings at several capacities, their modes sought side by side, so that the processor does several at once.

What is left of a life is asked at a score of capacities, and the readings are the same at each. Mostly `growth_mode.climb` goes straight
to where it ends: two turns by weights, then Newton's, each step less than half as long as the last. Those are taken here in step, without
a branch. A capacity at which they are not so, or at which a turn by weights would be safer, is left to `climb`.
"""

from typing import Final

import numpy as np
from numba.extending import register_jitable

from wearfit.growth_integral import CAREFUL, CLOSE, LEAST_BEND
from wearfit.model.growth_density import bends, sound_share
from wearfit.model.growth_kernel import integral_from
from wearfit.model.growth_mode import BELOW, GROWTH, GROWTH_SD, LEVEL, LIFE_SD, LOG_WAY, ODDS, PRECISION, climb, lay_out, lay_out_noise

Array = np.ndarray

LANES: Final = 8  # capacities in step
TURNS: Final = 9
LANE_ROWS: Final = 10
# Where each begins in one array: at distances that the compiler knows, or it would have to ask which of them overlap.
LEFT, S, G, STRAIGHT, LAST, SS, SG, GG, OF_S, OF_G = (LANES * row for row in range(LANE_ROWS))


@register_jitable
def climb_together(reading: Array, log_share: Array, law: Array, life: Array, lanes: Array, these: Array) -> None:
    """Modes sought from none of s and g, for log(C / D) as in `these`; after `lay_out_noise`.

    `reading`, none of them below the gauge, and `log_share`, log of the wear at each over the wear now, are of one feature. Into `lanes`,
    (LANE_ROWS * LANES,), go modes, S and G, and whether the search went straight there, STRAIGHT, 1 or 0.
    """
    by_s, growth, growth_sd = law[LIFE_SD], law[GROWTH], law[GROWTH_SD]
    for k in range(len(these)):
        lanes[LEFT + k], lanes[S + k], lanes[G + k], lanes[STRAIGHT + k], lanes[LAST + k] = these[k], 0.0, 0.0, 1.0, np.inf
    for turn in range(TURNS):
        newton = 1.0 if turn >= CAREFUL else 0.0
        for k in range(len(these)):
            lanes[SS + k], lanes[SG + k], lanes[GG + k], lanes[OF_S + k], lanes[OF_G + k] = 0.0, 0.0, 0.0, 0.0, 0.0
        for i in range(len(reading)):
            way, at, precision, odds = reading[i, LOG_WAY] - law[LEVEL], log_share[i], life[i, PRECISION], life[i, ODDS]
            for k in range(len(these)):
                share = at - lanes[LEFT + k]
                by_g = growth_sd * share
                error = way - growth * share - by_s * lanes[S + k] - by_g * lanes[G + k]
                sound, near, far = sound_share(error * error, precision, odds)
                weight = sound * near + (1.0 - sound) * far
                bend = weight + newton * (bends(error, precision, sound, near, far)[0] - weight)
                lanes[SS + k] += bend
                lanes[SG + k] += bend * by_g
                lanes[GG + k] += bend * by_g * by_g
                lanes[OF_S + k] += weight * error
                lanes[OF_G + k] += weight * error * by_g
        furthest = 0.0
        for k in range(len(these)):
            ss, sg, gg = 1.0 + by_s * by_s * lanes[SS + k], by_s * lanes[SG + k], 1.0 + lanes[GG + k]
            of_s, of_g = by_s * lanes[OF_S + k] - lanes[S + k], lanes[OF_G + k] - lanes[G + k]
            determinant = ss * gg - sg * sg
            step_s, step_g = (gg * of_s - sg * of_g) / determinant, (ss * of_g - sg * of_s) / determinant
            step = max(abs(step_s), abs(step_g))
            straight = ss >= LEAST_BEND and determinant >= LEAST_BEND and (step <= 0.5 * lanes[LAST + k] or step < CLOSE)
            lanes[STRAIGHT + k] *= 1.0 if straight else 0.0
            lanes[LAST + k] = step if newton > 0.0 else np.inf
            lanes[S + k] += step_s
            lanes[G + k] += step_g
            furthest = max(furthest, step * lanes[STRAIGHT + k])
        if turn > 0 and furthest < CLOSE:
            return
    for k in range(len(these)):
        lanes[STRAIGHT + k] *= 1.0 if lanes[LAST + k] < CLOSE else 0.0


@register_jitable
def log_integrals(
    reading: Array, log_share: Array, law: Array, log_left: Array, life: Array, share: Array, nodes: Array, lanes: Array, told: Array
) -> None:
    """Fill `told` with `growth_kernel.log_integral` for each log(C / D) of `log_left`, both (capacity,).

    `reading` and `log_share` as for `climb_together`; `life`, `share` (reading,), `nodes` and `lanes` are overwritten.
    """
    by_s, together = law[LIFE_SD], True
    lay_out_noise(reading, law, life)
    for i in range(len(life)):
        together = together and life[i, BELOW] <= 0.0
    for first in range(0, len(log_left), LANES):
        these = log_left[first : first + LANES]
        if together:
            climb_together(reading, log_share, law, life, lanes, these)
        for k in range(len(these)):
            for i in range(len(reading)):
                share[i] = log_share[i] - these[k]
            lay_out(reading, share, law, life)
            mode, reached = (lanes[S + k], lanes[G + k]), together and lanes[STRAIGHT + k] > 0.0
            if not reached:
                mode, reached = climb(life, by_s, (0.0, 0.0), False)
            told[first + k] = integral_from(life, by_s, mode, reached, nodes)
