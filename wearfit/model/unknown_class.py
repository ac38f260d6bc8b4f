"""What a tool may be whose records leave its service class, steel or past open, and how likely that is beforehand."""

from typing import Final

import numpy as np

from wearfit.exposures.classes import BANDED, OWN_BAND, steel_code
from wearfit.exposures.table import Exposures
from wearfit.model.bands import BandOffsets
from wearfit.model.priors import Priors

Array = np.ndarray

HARD: Final = steel_code("hard")
STAINLESS: Final = steel_code("stainless")
LEAST_SHARE: Final = 1e-12  # of a class that an owner rules out: an infinite log would be a gradient that is no number


def class_log_weights(exposures: Exposures, priors: Priors) -> Array:
    """Log share of each service class among tools of unknown class, from the priors and the fleet's own classes."""
    counts = np.array([np.sum(exposures.tools.service_class == c) for c in range(BANDED)], dtype=float)
    weights = counts + priors.class_share_weight * priors.class_share / priors.class_share.sum()
    return np.log(np.maximum(weights / weights.sum(), LEAST_SHARE))


def candidate_log_weights(exposures: Exposures, priors: Priors, opening: Array) -> Array:
    """Log prior probability of each candidate among those of its tool, shape (candidate,).

    Parameters
    ----------
    opening : array, shape (candidate,)
        Log weights of the ages at entry, from `past.opening_ages`.
    """
    candidates, tools = exposures.candidates, exposures.tools
    weight = opening.copy()
    class_open = (tools.service_class < 0)[candidates.tool]
    weight[class_open] += class_log_weights(exposures, priors)[candidates.service_class[class_open]]
    named = np.where(candidates.service_class == OWN_BAND, tools.usual_class[candidates.tool], candidates.service_class)
    steel_open = (tools.steel < 0)[candidates.tool] & ~class_open & (named >= 0)
    share = priors.steel_share[named[steel_open], candidates.steel[steel_open]]
    # Where stainless steel is not weighed of its own, it counts as hard.
    weighed = np.isin(candidates.tool[steel_open], candidates.tool[candidates.steel == STAINLESS])
    as_hard = ~weighed & (candidates.steel[steel_open] == HARD)
    share = share + np.where(as_hard, priors.steel_share[named[steel_open], STAINLESS], 0.0)
    weight[steel_open] += np.log(np.maximum(share, LEAST_SHARE))
    return weight


def sudden_share(exposures: Exposures, priors: Priors, log_weight: Array, bands: Array, offsets: BandOffsets) -> Array:
    """Share of a tool's sudden stops, and of what it was exposed to, that counts under each candidate, shape (candidate,).

    Its prior weight; where the class is unknown, times the prior probability that a tool of the class lives for as many
    shots as this one made in a life: the shots of a production tool are thousands of lives of a prototype, and would
    outweigh all else that is known of sudden stops.
    """
    candidates, episodes, runs = exposures.candidates, exposures.episodes, exposures.runs
    n = len(exposures.tools.tool_id)
    opens_life = np.diff(episodes.life, prepend=-1) > 0
    lives = np.bincount(episodes.tool[opens_life], minlength=n)
    shots = np.bincount(runs.tool, weights=runs.shots, minlength=n) / lives
    log_shots = np.log(np.maximum(shots, 1.0))[candidates.tool]
    share = np.exp(log_weight)
    for i in np.flatnonzero((exposures.tools.service_class < 0)[candidates.tool]):
        share[i] *= offsets.survival(candidates.service_class[i], log_shots[i] - bands[i])
    return np.asarray(share / np.bincount(candidates.tool, weights=share)[candidates.tool])
