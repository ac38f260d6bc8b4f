"""How the sampler sees scales of groups: as they are near zero, and by their logarithms where their levels are well known.

Given effects that are known, a scale is as wide as it is large: its logarithm is near a normal, itself it is skewed. Where nothing is
told of levels it goes down to zero, where a logarithm has a long tail. So w, see `parameters.build_parameters`, has the coordinate
from * arcsinh(w / from), which is w where that is small beside `ModelData.log_from` and goes with its logarithm where it is large.
"""

from types import ModuleType
from typing import Any, Final

import numpy as np

Array = Any

NOWHERE: Final = 50.0  # more than any w: the coordinate is w itself


def of_coordinate(coordinate: Array, log_from: Array, xp: ModuleType = np) -> Array:
    """The w of coordinates, shape (..., group)."""
    return log_from * xp.sinh(coordinate / log_from)


def coordinate_of(w: Array, log_from: Array, xp: ModuleType = np) -> Array:
    """The coordinate of each w, shape (..., group)."""
    return log_from * xp.arcsinh(w / log_from)


def log_stretch(coordinate: Array, log_from: Array, xp: ModuleType = np) -> Array:
    """Log of how much further w goes than its coordinate, shape (..., group): what a density of w gains as one of coordinates."""
    return xp.log(xp.cosh(coordinate / log_from))
