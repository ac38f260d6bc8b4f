"""Draws laid end to end, in the sampler's coordinates or as parameters, from which either gives its parameters by the same names."""

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Final

import numpy as np

from wearfit.model.data import ModelData
from wearfit.model.layout import Layout
from wearfit.model.parameters import Parameters, build_parameters, group_scales
from wearfit.processors import at_once, parts

if TYPE_CHECKING:
    from wearfit.model.sampler import Chains

Array = np.ndarray

CHUNK: Final = 100  # draws handled at once, at most
TOOLS: Final = 500  # live tools handled at once, all draws of them
SALT: Final = 1  # keeps what is drawn beside these draws apart from the sampler's; whoever draws adds a number of its own


@dataclass(frozen=True)
class Flat:
    """Draws laid end to end, thinned alike in every chain. Arrays have shape (sample, ...)."""

    z: Array
    share: Array
    w: Array
    slot: Array
    read: Array

    def parameters(self, d: ModelData, layout: Layout, chunk: slice = slice(None)) -> Parameters:
        """Parameters of these draws, by the very function that the graph uses."""
        return build_parameters(self.z[chunk], self.share[chunk], self.w[chunk], self.slot[chunk], d, layout)

    def all_parameters(self, d: ModelData, layout: Layout) -> Parameters:
        """Those of all draws, some at a time: with thousands of designs all at once take several times as long, and as much memory."""
        found = at_once(lambda chunk: self.parameters(d, layout, chunk), parts(self.samples, CHUNK))
        return Parameters(*(np.concatenate([getattr(part, f.name) for part in found]) for f in fields(Parameters)))

    def scales(self, d: ModelData) -> Array:
        """Scales of the groups, zero where a group is switched off, shape (sample, group)."""
        return np.asarray(group_scales(self.w, d) * d.group_prior[1])

    @property
    def samples(self) -> int:
        return len(self.z)


@dataclass(frozen=True)
class Laid:
    """Draws of parameters themselves, for which nobody knows the sampler's coordinates. Arrays have shape (sample, ...)."""

    values: Parameters
    w: Array
    read: Array  # coordinates of capacities: of no consequence where the effects of their tools are known

    def parameters(self, d: ModelData, layout: Layout, chunk: slice = slice(None)) -> Parameters:
        return Parameters(self.values.all[chunk], self.values.share[chunk])

    def all_parameters(self, d: ModelData, layout: Layout) -> Parameters:
        """As `Flat.all_parameters`."""
        return self.values

    def scales(self, d: ModelData) -> Array:
        """As `Flat.scales`."""
        return np.asarray(group_scales(self.w, d) * d.group_prior[1])

    @property
    def samples(self) -> int:
        return len(self.w)


def flatten(chains: "Chains", most: int) -> Flat:
    """Thin each chain evenly so that at most `most` draws are kept, then lay the chains end to end."""
    n_chains, n_draws = chains.coordinates["z"].shape[:2]
    keep = np.linspace(0, n_draws - 1, min(n_draws, most // n_chains)).round().astype(int)
    return Flat(**{name: values[:, keep].reshape(n_chains * len(keep), -1) for name, values in chains.coordinates.items()})
