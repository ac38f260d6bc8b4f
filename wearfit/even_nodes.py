"""Densities known at even nodes: the mass below any place, and the place below which a mass lies.

The mass of a step between two nodes is that of the cubic through the nearest four, 13/24 of the density at its own nodes less 1/24 of that
at the next ones (a Gregory rule); within the step it is the cubic with these ends and the density's slopes at both. So the error falls with
the fourth power of the step, and half as many nodes do better than straight lines between all of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Final

import numpy as np

Array = np.ndarray

NEWTON: Final = 3  # steps, after which a part of a step is found to the rounding of single precision
LEAST: Final = 1e-37  # a number in single precision too


@dataclass(frozen=True)
class Densities:
    """Densities of a number, one for each draw, known at so many even nodes, in their precision. Arrays (draw,) unless said otherwise.

    A node's draws lie side by side in memory, so that sums over nodes are sums of whole rows.
    """

    low: Array  # the first node
    step: Array  # from one to the next
    at_nodes: Array  # (node, draw), in any unit
    below: Array  # (node, draw) mass below each, in steps of that unit

    @staticmethod
    def of(low: float, high: float, at_nodes: Array) -> "Densities":
        """Of densities at nodes between two numbers, which all draws have."""
        nodes, draws = at_nodes.shape
        first, step = (np.full(draws, value, at_nodes.dtype) for value in (low, (high - low) / (nodes - 1)))
        return Densities(first, step, at_nodes, mass_below(at_nodes))

    @staticmethod
    def side_by_side(several: Sequence["Densities"]) -> "Densities":
        """The draws of one after those of another; one at least."""
        if len(several) == 1:
            return several[0]
        return Densities(*(np.concatenate([getattr(one, f.name) for one in several], axis=-1) for f in fields(Densities)))

    def thinned(self, draws: slice) -> "Densities":
        """With some of the draws."""
        return Densities(*(np.ascontiguousarray(getattr(self, f.name)[..., draws]) for f in fields(Densities)))

    @cached_property
    def whole(self) -> Array:
        """Mass of all, in steps."""
        return np.asarray(self.below[-1])

    def share_below(self, number: Array) -> Array:
        """Share of the mass below a number."""
        last = len(self.below) - 1
        place = np.clip((number - self.low) / self.step, 0.0, last)
        i = np.minimum(place.astype(np.int64), last - 1)
        place -= i
        return np.asarray(self._step_from(i).mass(place) / self.whole)

    def number_at(self, share: Array) -> Array:
        """Number below which a share of the mass lies: the inverse of `share_below`."""
        wanted = share * self.whole
        passed = (self.below <= wanted.astype(self.below.dtype)).view(np.uint8).sum(axis=0, dtype=np.uint8)  # 255 of them at most
        i = np.clip(passed.astype(np.int64) - 1, 0, len(self.below) - 2)
        part = self._step_from(i).part(wanted.astype(self.below.dtype, copy=False))
        part += i
        return np.asarray(self.low + self.step * part)

    def _step_from(self, i: Array) -> "Step":
        """The step of each draw from its i-th node to the next."""
        at = i * len(i)
        at += np.arange(len(i))
        after = at + len(i)
        below, density = self.below, self.at_nodes
        return Step(*(of.take(place) for of, place in ((below, at), (below, after), (density, at), (density, after))))


def mass_below(density: Array) -> Array:
    """Mass below each of some even nodes, in steps, by the cubics through four neighbours, shape (node, draw) as the density's."""
    below = np.empty_like(density)
    below[0] = 0.0
    steps = np.add(density[1:], density[:-1], out=below[1:])
    steps *= 13.0 / 24.0
    around = np.empty_like(steps)
    np.add(density[3:], density[:-3], out=around[1:-1])
    around[0], around[-1] = density[0] + density[2], density[-3] + density[-1]  # it goes on beyond both ends as it is there
    around *= 1.0 / 24.0
    steps -= around
    np.clip(steps, 0.0, np.inf, out=steps)  # where the density breaks off; by `maximum` it takes twice as long
    for i in range(2, len(below)):  # `cumsum` along the nodes, which takes twice as long
        below[i] += below[i - 1]
    return below


@dataclass(frozen=True)
class Step:
    """A step between two fine nodes, over which the mass below is the cubic with the density's slopes at both ends. Shapes (draw,)."""

    come: Array  # mass below the step
    gone: Array  # mass below its end
    left: Array  # density where it begins
    right: Array  # density where it ends

    def mass(self, part: Array) -> Array:
        """Mass below a part of the step, in 0..1."""
        square, cube = self._bends
        return np.asarray(self.come + part * (self.left + part * (square + part * cube)))

    def part(self, mass: Array) -> Array:
        """Part of the step below which a mass lies, in 0..1: begun as if the density were straight, then by Newton's steps."""
        square, cube = self._bends
        part = part_of_step(self.left, self.right, np.maximum(mass - self.come, 0.0))
        for _ in range(NEWTON):
            slope = self.left + part * (2.0 * square + 3.0 * part * cube)
            part = np.clip(part - (self.mass(part) - mass) / np.maximum(slope, LEAST), 0.0, 1.0)
        return part

    @cached_property
    def _bends(self) -> tuple[Array, Array]:
        """Coefficients of the square and the cube of the part."""
        mass = self.gone - self.come
        return 3.0 * mass - 2.0 * self.left - self.right, self.left + self.right - 2.0 * mass


def part_of_step[T: (float, Array)](left: T, right: T, mass: T) -> T:
    """Part of a step below which a mass lies, the density straight between `left` and `right`; in 0..1.

    Of numbers or of arrays: the model compiles it for the former.
    """
    # left y + (right - left) y^2 / 2 = mass, solved so that neither a flat nor a falling density divides by zero.
    part = 2.0 * mass / np.maximum(left + np.sqrt(np.maximum(left * left + 2.0 * (right - left) * mass, 0.0)), LEAST)
    return np.minimum(part, 1.0)
