"""What a tool may be whose records name neither service class nor band."""

from typing import Final

import numpy as np

from wearfit.exposures.classes import BANDED
from wearfit.exposures.table import Exposures
from wearfit.model.bands import BandOffsets
from wearfit.model.priors import Priors

Array = np.ndarray

LEAST_SHARE: Final = 1e-12  # of a class that an owner rules out: an infinite log would be a gradient that is no number


def class_log_weights(exposures: Exposures, priors: Priors) -> Array:
    """Log share of each service class among tools of unknown class, from the priors and the fleet's own classes."""
    counts = np.array([np.sum(exposures.tools.service_class == c) for c in range(BANDED)], dtype=float)
    weights = counts + priors.class_share_weight * priors.class_share / priors.class_share.sum()
    return np.log(np.maximum(weights / weights.sum(), LEAST_SHARE))


def sudden_share(exposures: Exposures, priors: Priors, bands: Array, offsets: BandOffsets) -> Array:
    """Share of a tool's sudden stops, and of what it was exposed to, that counts under each candidate, shape (candidate,).

    One where the class is known. Else the class's share times the prior probability that a tool of the class lives for as
    many shots as this one made in a life: the shots of a production tool are thousands of lives of a prototype, and would
    outweigh all else that is known of sudden stops.
    """
    candidates, episodes, runs = exposures.candidates, exposures.episodes, exposures.runs
    n = len(exposures.tools.tool_id)
    opens_life = np.diff(episodes.life, prepend=-1) > 0
    lives = np.bincount(episodes.tool[opens_life], minlength=n)
    shots = np.bincount(runs.tool, weights=runs.shots, minlength=n) / lives
    log_shots = np.log(np.maximum(shots, 1.0))[candidates.tool]
    weights = np.exp(class_log_weights(exposures, priors))
    share = np.ones(len(bands))
    for i in np.flatnonzero(~candidates.known):
        service_class = candidates.service_class[i]
        share[i] = weights[service_class] * offsets.survival(service_class, log_shots[i] - bands[i])
    return share / np.bincount(candidates.tool, weights=share)[candidates.tool]
