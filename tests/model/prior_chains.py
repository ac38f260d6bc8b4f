"""Draws from the prior in the shape that the sampler gives, and the live tools of a history."""

from collections.abc import Sequence

import numpy as np
from small_fleet import prior_draws

from wearfit.exposures.table import Exposures
from wearfit.model.data import ModelData
from wearfit.model.flat_draws import Flat
from wearfit.model.layout import Layout
from wearfit.model.sampler import CHAINS, VARIABLES, Chains

Array = np.ndarray


def chains_of_priors(data: ModelData, layout: Layout, draws: int, seed: int) -> Chains:
    """Independent draws from the prior as chains that never stumble."""
    at = prior_draws(data, layout, CHAINS * draws, seed)
    energy = np.random.default_rng([seed, 1]).standard_normal((CHAINS, draws))
    return Chains(
        coordinates={name: getattr(at, name).reshape(CHAINS, draws, -1) for name in VARIABLES},
        diverging=np.zeros((CHAINS, draws), dtype=bool),
        energy=energy,
        steps=np.full((CHAINS, draws), 15),
        seconds=0.0,
        tune=0,
    )


def flat_of_priors(data: ModelData, layout: Layout, draws: int, seed: int) -> Flat:
    at = prior_draws(data, layout, draws, seed)
    return Flat(at.z, at.share, at.w, at.slot, at.read)


def at_the_centre(data: ModelData, layout: Layout, draws: int) -> Flat:
    """The same draw over and over: no group effect, everything else at its prior centre."""
    share = data.share_prior[0] / (data.share_prior[0] + data.share_prior[1])
    return Flat(
        z=np.zeros((draws, len(data.root))),
        share=np.tile(share, (draws, 1)),
        w=np.zeros((draws, data.group_prior.shape[1])),
        slot=np.zeros((draws, layout.scaled)),
        read=np.zeros((draws, layout.reads)),
    )


def under_way(exposures: Exposures, tool_ids: Sequence[str]) -> tuple[Array, Array]:
    """Index of each tool, and of its last episode."""
    tool = np.array([exposures.tools.tool_id.index(t) for t in tool_ids])
    return tool, np.searchsorted(exposures.episodes.tool, tool, side="right") - 1
