"""How parameters are laid out in the compiled model, so that one compilation serves every history of a size.

Coefficients, shares and group scales have fixed names. Group effects share one padded vector: each group has a bucket of
slots, at least as many as it has levels, and slots without a level carry their prior alone. Tools have no slots: their
effects are integrated out, and drawn after sampling.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.exposures.classes import CLASSES, STEELS
from wearfit.exposures.covariates import COVARIATES, MONTH_COVARIATES, PLANT_COVARIATES
from wearfit.records.coatings import COATINGS

Array = np.ndarray

COEFFICIENTS: Final = (
    "log_shape",
    "log_setup",
    "log_sudden_per_life",
    "log_sudden_per_handling",
    *(f"class_offset.{c}" for c in CLASSES),
    *(f"steel.{s}" for s in STEELS),
    *(f"coating.{c}" for c in COATINGS),
    *(f"slope.{c.name}" for c in COVARIATES),
    "log_storage",
    "storage.preserved",
    "storage.corrosivity",
    "reading.log_life_sd",
    "reading.log_life_growth_sd",
)
PLANT_SLOPES: Final = np.array([COEFFICIENTS.index(f"slope.{c.name}") for c in PLANT_COVARIATES])
MONTH_SLOPES: Final = np.array([COEFFICIENTS.index(f"slope.{c.name}") for c in MONTH_COVARIATES])
SHARES: Final = ("refurbish", "repeat", "wear_share")
GROUPS: Final = ("plant", "resin", "design", "maker", "tool", "sudden_plant")
SMALLEST_BUCKET: Final = 8
CLASS_OFFSET: Final = slice(COEFFICIENTS.index(f"class_offset.{CLASSES[0]}"), COEFFICIENTS.index(f"class_offset.{CLASSES[-1]}") + 1)
FEATURE_BLOCKS: Final = ("feature_level", "feature_growth", "feature_noise")
CONTRASTED: Final = ("plant", "resin", "design", "maker")  # groups whose effects sum to zero over the levels seen
SCALED: Final = (*CONTRASTED, "sudden_plant")  # groups whose levels have slots, with a scale of the group's
OF_CANDIDATES: Final = ("design", "maker")  # of them, groups of which each tool has one level, and that no run changes
MOST_TURNED: Final = 256  # slots of a group in whose axes a matrix turns its coordinates; beyond, that would be most of a gradient


def bucket(levels: int) -> int:
    """Slots for a group of so many levels: the next power of two above, at least SMALLEST_BUCKET.

    The last slot never holds a level: its effect is zero, and it stands for "no level recorded".
    """
    return max(SMALLEST_BUCKET, 1 << levels.bit_length())


@dataclass(frozen=True)
class Layout:
    """Bucket sizes of the groups, and where each effect lies in the vector of all parameters."""

    plants: int
    resins: int
    designs: int
    makers: int
    features: int = SMALLEST_BUCKET
    reads: int = SMALLEST_BUCKET  # coordinates of lives whose readings tell of their capacity; they are no slots

    @classmethod
    def fitting(cls, plants: int, resins: int, designs: int, makers: int, features: int = 0, reads: int = 0) -> "Layout":
        """The smallest layout that holds so many levels."""
        return cls(*(bucket(n) for n in (plants, resins, designs, makers, features, reads)))

    @property
    def blocks(self) -> tuple[tuple[str, int], ...]:
        """Name and number of slots of each block, in order: the groups, then what makes unknown conditions uncertain."""
        return (
            ("plant", self.plants),
            ("resin", self.resins),
            ("design", self.designs),
            ("maker", self.makers),
            ("sudden_plant", self.plants),
            ("plant_error", self.plants * len(PLANT_COVARIATES)),
            ("resin_error", self.resins),
            *((name, self.features) for name in FEATURE_BLOCKS),
        )

    @property
    def size(self) -> int:
        """Slots in all."""
        return sum(slots for _, slots in self.blocks)

    @property
    def scaled(self) -> int:
        """Slots of groups, whose effects have a scale of their group's; they come first."""
        return self.contrasted + self.plants

    @property
    def unscaled(self) -> int:
        """Slots behind those, whose effects are standard normal."""
        return self.size - self.scaled

    @property
    def contrasted(self) -> int:
        """Slots of the groups in CONTRASTED, which come first."""
        return self.plants + self.resins + self.designs + self.makers

    @property
    def mirrored(self) -> slice:
        """The one block of slots that is too large for a matrix of its own, empty where there is none: see `mirror`."""
        span = max((self.block(name) for name in OF_CANDIDATES), key=lambda block: block.stop - block.start)
        return span if span.stop - span.start > MOST_TURNED else slice(self.contrasted, self.contrasted)

    @property
    def turned(self) -> Array:
        """The scaled slots that are not mirrored, shape (turned,)."""
        slots = np.arange(self.scaled)
        return np.asarray(slots[(slots < self.mirrored.start) | (slots >= self.mirrored.stop)])

    def among_turned(self, name: str) -> slice:
        """Where a block, not mirrored, lies among the turned slots."""
        block = self.block(name)
        return slice(*np.searchsorted(self.turned, (block.start, block.stop)))

    def block(self, name: str) -> slice:
        """Where a block lies among the slots."""
        start = 0
        for block, slots in self.blocks:
            if block == name:
                return slice(start, start + slots)
            start += slots
        raise KeyError(name)

    def parameter(self, name: str, level: Array) -> Array:
        """Place, in the vector of all parameters, of a group's level; a level of -1 is the group's zero."""
        span = self.block(name)
        return len(COEFFICIENTS) + np.where(np.asarray(level) < 0, span.stop - 1, span.start + np.asarray(level))

    def group_of_slot(self) -> Array:
        """Index into GROUPS of each slot that has a scale, shape (scaled,)."""
        return np.concatenate([np.full(slots, GROUPS.index(b)) for b, slots in self.blocks if b in GROUPS])


def coefficient_index(name: str) -> int:
    """Place of a coefficient, in COEFFICIENTS and in the vector of all parameters."""
    return COEFFICIENTS.index(name)


def contrast(seen: Array, slots: int) -> Array:
    """Sum-to-zero contrast matrix of the levels seen, padded with zeros, shape (slots, slots).

    Effects are contrast @ (scale * z): they sum to zero over the levels seen, each has variance scale^2 (1 - 1/J), and
    columns beyond J - 1 are null. Columns are orthonormal (Helmert contrasts, normalised). A level not seen is then
    N(0, scale sqrt(1 + 1/J)) about the mean of those seen.
    """
    matrix = np.zeros((slots, slots))
    levels = np.flatnonzero(seen)
    for j in range(1, len(levels)):
        matrix[levels[:j], j - 1] = -1.0 / np.sqrt(j * (j + 1))
        matrix[levels[j], j - 1] = j / np.sqrt(j * (j + 1))
    return matrix


def mirror(seen: Array) -> Array:
    """The mirror whose image of coordinates sums to zero over the levels seen, and which coordinates count, shape (2, slots).

    The image of x is m x - v (v . m x), v the first row and m the second: Householder's reflection, |v|^2 = 2, which carries the
    axis of the first level seen, whose coordinate does not count, into the direction in which all levels rise alike. The other axes
    become orthonormal contrasts, as those of `contrast` are, each all but that of its own level, at a cost that grows with the
    number of levels instead of with its square.
    """
    levels = np.flatnonzero(seen)
    out = np.zeros((2, len(seen)))
    if len(levels):
        out[0, levels] = 1.0 / np.sqrt(len(levels))
        out[0, levels[0]] += 1.0
        out[0] *= np.sqrt(2.0 / (out[0] @ out[0]))
        out[1, levels[1:]] = 1.0
    return out


def unseen_scale(levels_seen: int) -> float:
    """Scale of a level never seen, relative to its group's scale: it lies about the mean of those seen, if any."""
    return float(np.sqrt(1.0 + 1.0 / levels_seen)) if levels_seen else 1.0
