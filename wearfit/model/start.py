"""Where chains start: at the middle of the prior, each coordinate moved at random by at most one."""

import numpy as np

from wearfit.model.data import ModelData
from wearfit.model.layout import GROUPS, Layout
from wearfit.model.parameters import leaning, slot_effects, slot_middles

Array = np.ndarray


def start_of_chain(data: ModelData, layout: Layout, seed: int) -> Array:
    """Coordinates to start a chain from, in the order of `native.Coordinates`, shape (coordinate,).

    Each coordinate's middle is that of its prior given those before it, as they were moved. The random numbers are those that PyMC
    would take for the same graph (a test), and the history is the one that is sampled, not the one that the graph was built for.
    """
    read_, z_, slot_, w_, share_ = (np.random.Generator(np.random.PCG64(s)) for s in np.random.SeedSequence(seed).spawn(5))
    mean = data.share_prior[0] / (data.share_prior[0] + data.share_prior[1])
    share = np.log(mean / (1.0 - mean)) + share_.uniform(-1, 1, len(mean))
    w = w_.uniform(-1, 1, len(GROUPS))
    slot = -slot_middles(w, data, layout) + slot_.uniform(-1, 1, layout.scaled)
    z = leaning(slot_effects(w, slot, data, layout), data, layout) + z_.uniform(-1, 1, len(data.root))
    return np.concatenate([share, w, slot, z, read_.uniform(-1, 1, layout.reads)])
