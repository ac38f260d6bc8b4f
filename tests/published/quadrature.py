"""Posteriors of one or two parameters by quadrature: exact to more digits than are printed anywhere."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

Array = np.ndarray


@dataclass(frozen=True)
class Posterior:
    """Probabilities of the nodes of a grid, in the grid's shape."""

    probability: Array

    def mean(self, value: Array) -> float:
        return float(np.sum(self.probability * value))

    def sd(self, value: Array) -> float:
        return float(np.sqrt(self.mean(np.square(value - self.mean(value)))))

    def median(self, nodes: Array, axis: int) -> float:
        """Median of the parameter whose evenly spaced nodes lie on an axis."""
        by_node = self.probability.sum(axis=tuple(i for i in range(self.probability.ndim) if i != axis))
        return float(np.interp(0.5, np.cumsum(by_node) - 0.5 * by_node, nodes))


def posterior(log_density: Array) -> Posterior:
    """Posterior of an unnormalised log density at the nodes of a grid, evenly spaced along each axis.

    The rectangle rule, which converges faster than any power of the spacing for a smooth density that dies away at the
    edges. Raises ValueError where it does not: the grid would cut the posterior.
    """
    mass = np.exp(log_density - log_density.max())
    for axis in range(mass.ndim):
        edge = np.take(mass, [0, -1], axis=axis).max()
        if edge > 1e-6:
            raise ValueError(f"axis {axis}: the density at an edge is {edge:.1e} of its maximum")
    return Posterior(mass / mass.sum())


def grid(*nodes: Sequence[float] | Array) -> tuple[Array, ...]:
    """The nodes of each axis, each in the shape of the grid."""
    return tuple(np.meshgrid(*nodes, indexing="ij"))
