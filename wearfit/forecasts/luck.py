"""Random numbers of many futures of each posterior draw, the same whenever they are asked for by the same name.

Actions that are compared ask for the same names and so meet the same luck; and what is asked beside them changes nothing.
"""

import zlib
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

Array = np.ndarray

FUTURES: Final = 40  # of each draw
KEPT: Final = 96  # arrays held for the next action, some 600 kB each


@dataclass(frozen=True)
class Luck:
    """Arrays of shape (sample, future), each by its name.

    Parameters
    ----------
    seed : int
        The calibration's.
    subject : str
        What the question is about: two tools do not share their luck.
    samples, futures : int
        Posterior draws, and futures of each.
    """

    seed: int
    subject: str
    samples: int
    futures: int = FUTURES

    def exponential(self, name: str, turn: int = 0) -> Array:
        """Standard exponential draws, stratified over the futures of each draw; `turn` tells one life from the next."""
        return _exponential(self._entropy(name, turn), self.samples, self.futures)

    def normal(self, name: str, turn: int = 0) -> Array:
        """Standard normal draws."""
        return _normal(self._entropy(name, turn), self.samples, self.futures)

    def uniform(self, name: str, turn: int = 0) -> Array:
        """Draws between 0 and 1, stratified over the futures of each draw."""
        return np.exp(-self.exponential(name, turn))

    def normal_of_draws(self, name: str, turn: int = 0) -> Array:
        """Standard normal draws that all futures of a posterior draw share, shape (sample,)."""
        return np.random.default_rng(self._entropy(name, turn)).standard_normal(self.samples)

    def _entropy(self, name: str, turn: int) -> tuple[int, ...]:
        return self.seed, zlib.crc32(self.subject.encode()), zlib.crc32(name.encode()), turn


@lru_cache(maxsize=KEPT)
def _exponential(entropy: tuple[int, ...], samples: int, futures: int) -> Array:
    rng = np.random.default_rng(entropy)
    strata = np.argsort(rng.random((samples, futures), dtype=np.float32), axis=1)
    return _fixed(-np.log((strata + 1.0 - rng.random((samples, futures))) / futures))


@lru_cache(maxsize=KEPT)
def _normal(entropy: tuple[int, ...], samples: int, futures: int) -> Array:
    return _fixed(np.random.default_rng(entropy).standard_normal((samples, futures)))


def _fixed(values: Array) -> Array:
    """Values that nobody changes by mistake, because others will be given them too."""
    values.flags.writeable = False
    return values
