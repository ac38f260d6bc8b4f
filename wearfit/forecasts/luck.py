"""Random numbers of many futures of each posterior draw, the same whenever they are asked for by the same name.

Actions that are compared ask for the same names and so meet the same luck; and what is asked beside them changes nothing.
"""

import zlib
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

Array = np.ndarray

FUTURES: Final = 48  # of each draw
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
        Posterior draws, and futures of each, an even number.
    """

    seed: int
    subject: str
    samples: int
    futures: int = FUTURES

    def exponential(self, name: str, turn: int = 0) -> Array:
        """Standard exponential draws, stratified over the futures of each draw and over either half of them.

        `turn` tells one life from the next.
        """
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
    pairs = futures // 2
    # Strata come in pairs of neighbours, one for each half of the futures, so that either half is stratified as well.
    upper = rng.random((samples, pairs)) < 0.5
    strata = []
    for takes_upper in (upper, ~upper):
        pair = np.argsort(rng.random((samples, pairs), dtype=np.float32), axis=1)
        strata.append(2 * pair + np.take_along_axis(takes_upper, pair, axis=1))
    place = np.concatenate(strata, axis=1) + 1.0 - rng.random((samples, futures))
    return _fixed(-np.log(place / futures))


@lru_cache(maxsize=KEPT)
def _normal(entropy: tuple[int, ...], samples: int, futures: int) -> Array:
    return _fixed(np.random.default_rng(entropy).standard_normal((samples, futures)))


def _fixed(values: Array) -> Array:
    """Values that nobody changes by mistake, because others will be given them too."""
    values.flags.writeable = False
    return values
