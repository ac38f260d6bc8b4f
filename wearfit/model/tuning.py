"""How wide the coordinates are, and how many steps a trajectory wants, found from where chains start by walking in some spells.

All chains tell together, each spell anew: the fourth root of the variance of draws over that of their slopes is the width that
minimises the Fisher divergence from a normal with independent coordinates. On such a normal a few draws tell it without error.
"""

from dataclasses import replace
from itertools import pairwise
from math import ceil
from typing import Final

import numpy as np
from scipy.special import erfcinv

from wearfit.model.compiled_density import CompiledDensity
from wearfit.model.trajectories import LENGTH, Progress, Tuned, Walked, walk

Array = np.ndarray

NONE: Final = np.zeros(0, dtype=int)

SPELLS: Final = (0.0, 0.1, 0.2, 0.35, 0.6, 1.0)  # shares of the trajectories at which they begin and end
FIRST_STEPS: Final = 3
STEPS_WITHIN: Final = (2, 40)
TAKEN: Final = 0.8  # share of trajectories to be taken: fewer and shorter steps than that asks for cost more than they gain
SHORTER: Final = 0.6  # of a step: as much as that trajectories are shorter rather than made of one step more
CHANGE_WITHIN: Final = (0.45, 2.0)  # of the number of steps, in one spell
NEXT_TO_NONE: Final = 0.05  # taken: from so far off that the number of steps is a guess, three times as many are the next


def tune(
    log_density: CompiledDensity,
    at: Array,
    width: Array,
    trajectories: int,
    seed: int,
    cores: int | None = None,
    progress: Progress | None = None,
    *,
    signless: Array = NONE,
) -> Tuned:
    """Walk from where chains start until they are among their draws.

    Parameters
    ----------
    at : array, shape (chain, coordinate)
    width : array, shape (coordinate,)
        About how wide coordinates are.
    trajectories : int
        Of each chain, in all.
    signless : array of int, optional
        Places of coordinates whose sign tells nothing: the density is the same on both sides, so that how wide one of them is, that is,
        of which a trajectory should lead through a good part, is how far its size varies, and no less where steep slopes at one end of
        a skewed one tell a narrower width.
    """
    tuned = Tuned(at, width, FIRST_STEPS)
    for first, last in pairwise(sorted({round(share * trajectories) for share in SPELLS})):

        def told(share: float, first: int = first, last: int = last) -> None:
            if progress is not None:
                progress((first + share * (last - first)) / trajectories)

        walked = walk(log_density, tuned, last - first, seed, cores, told, slopes=True)
        steps, length = suited(walked)
        tuned = replace(walked.tuned, width=widths(walked, tuned.width, signless), steps=steps, length=length)
    # Not sooner: on the way to where draws are a size goes many times as far as it varies there.
    return replace(tuned, width=as_wide_as_sizes_vary(walked, tuned.width, signless))


def widths(walked: Walked, before: Array, signless: Array = NONE) -> Array:
    """Widths of coordinates by draws, shape (coordinate,); of one that did not move, what it was before."""
    spread, steepness = (values.var(axis=1).mean(axis=0) for values in (walked.at, walked.slope))
    spread[signless] = np.abs(walked.at[..., signless]).var(axis=1).mean(axis=0)
    moved = (spread > 0.0) & (steepness > 0.0)
    return np.where(moved, np.divide(spread, steepness, out=np.ones_like(spread), where=moved) ** 0.25, before)


def as_wide_as_sizes_vary(walked: Walked, width: Array, signless: Array) -> Array:
    """Widths of coordinates, of those whose sign tells nothing no less than how far all chains' sizes vary, shape (coordinate,)."""
    wide = width.copy()
    wide[signless] = np.maximum(width[signless], np.abs(walked.at[..., signless]).std(axis=(0, 1)))
    return wide


def suited(walked: Walked) -> tuple[int, float]:
    """How many steps, and in all how long ones, would have had the wanted share of trajectories taken; more where one diverged.

    A share erfc(sqrt(mean) / 2) of trajectories is taken, by the mean of what energy goes astray, which grows with the fourth power of a
    step's size (Beskos et al. 2013, Bernoulli 19, from memory).
    """
    before, taken = walked.tuned, float(walked.likely.mean())
    astray, wanted = (float(erfcinv(np.clip(share, 1e-3, 1.0 - 1e-3))) ** 2 for share in (taken, TAKEN))
    change = float(np.clip((astray / wanted) ** 0.25, *CHANGE_WITHIN)) if taken > NEXT_TO_NONE else 3.0
    to_go = before.steps / before.length * change * LENGTH  # steps of a trajectory of full length
    least = before.steps + 1 if walked.diverging.any() else 0
    steps = int(np.clip(max(ceil(to_go - SHORTER), least), *STEPS_WITHIN))
    return steps, LENGTH * min(1.0, steps / to_go)
