"""Where chains start: about the likeliest point, each coordinate twice as far from it as it usually lies, on either side by chance.

So a chain's first draws neither walk there from afar nor find how wide each coordinate is from slopes that are those of the way: on
2,500 tools that took a tenth of all gradients. Twice as far, so that chains which come to agree have come from further apart than their
draws lie (Gelman & Rubin 1992, Statistical Science 7). How far groups and tools differ is found last, each chain for itself: the
likeliest scales given all else as it starts.
"""

from typing import Any, Final

import numpy as np

from wearfit.model.data import ModelData
from wearfit.model.information import SCALES, USUAL_SCALE, LogDensity, bend, likeliest, unit
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES, Layout
from wearfit.model.scale_coordinates import NOWHERE, coordinate_of

Array = np.ndarray

APART: Final = 2.0
SCALES_APART: Final = 2.0  # a scale is sought from the usual one divided by this, up to times it, on
SCALES_WITHIN: Final = (0.1, 3.0)  # of a group's prior: near zero its effects have no slope, and a chain would take long to leave
LEAST_BENT: Final = 4.0  # of a scale, so that it starts no further than half a prior's from the likeliest
FEW_STEPS: Final[Any] = {"maxiter": 15}


def start_about(share: Array, z: Array, read: Array, log_from: Array, layout: Layout) -> Array:
    """`ModelData.start`, shape (2, coordinate).

    Of log odds of shares, of z and of capacities it is told where they are likeliest, and minus the second derivatives of the
    log-density there, shape (2, of each). Slots are counted from their likeliest values, in units of how far from them they lie.
    """
    usual = coordinate_of(np.full(len(GROUPS), USUAL_SCALE), log_from)
    likely = [share[0], np.zeros(len(GROUPS)), np.zeros(layout.scaled), z[0], read[0]]
    spread = [share[1] ** -0.5, usual, np.ones(layout.scaled), z[1] ** -0.5, read[1] ** -0.5]
    return np.stack([np.concatenate(likely), np.concatenate(spread)])


def start_by_prior(share_prior: Array, layout: Layout) -> Array:
    """`ModelData.start` where nothing is known of a history."""
    mean = share_prior[0] / (share_prior[0] + share_prior[1])
    share = np.stack([np.log(mean / (1.0 - mean)), np.ones(len(SHARES))])
    z, read = (np.stack([np.zeros(n), np.ones(n)]) for n in (len(COEFFICIENTS) + layout.unscaled, layout.reads))
    return start_about(share, z, read, np.full(len(GROUPS), NOWHERE), layout)


def scattered(start: Array, rng: np.random.Generator) -> Array:
    """A point about that of `ModelData.start`, in the order of `native.Coordinates`, shape (coordinate,)."""
    middle, spread = start[0], APART * start[1]
    spread[SCALES] = start[1, SCALES] * SCALES_APART ** rng.uniform(-1.0, 1.0, len(GROUPS))
    return np.asarray(middle + spread * rng.choice([-1.0, 1.0], len(middle)))


def start_of_chain(d: ModelData, log_density: LogDensity, seed: int) -> Array:
    """Coordinates to start a chain from, shape (coordinate,), as `start_and_width` gives them."""
    return start_and_width(d, log_density, seed)[0]


def start_and_width(d: ModelData, log_density: LogDensity, seed: int) -> tuple[Array, Array]:
    """Where a chain starts, and about how wide coordinates are there, each of shape (coordinate,).

    That is a point about that of `ModelData.start`, its scales about the likeliest given the rest. These are as wide as the density is bent
    there: where thousands of levels tell of a scale, a hundredth of what a group of few leaves open.
    """
    rng = np.random.default_rng(seed)
    at = scattered(d.start, rng)
    low, high = (coordinate_of(np.full(len(GROUPS), bound), d.log_from) for bound in SCALES_WITHIN)
    within = [(a, b) if scale > 0.0 else (-b, -a) for scale, a, b in zip(at[SCALES], low, high, strict=True)]
    at = likeliest(log_density, at, SCALES, FEW_STEPS, within)
    bends = [bend(log_density, at, unit(len(at), int(place)))[place] for place in SCALES]
    width = d.start[1].copy()
    width[SCALES] = np.maximum(bends, LEAST_BENT) ** -0.5
    at[SCALES] += width[SCALES] * rng.choice([-1.0, 1.0], len(GROUPS))
    return at, width
