"""A density written in Python, as compiled loops call one."""

from collections.abc import Callable
from ctypes import c_double

import numpy as np

from wearfit.model.compiled_density import ADDRESSED, CompiledDensity

Array = np.ndarray


def written(density: Callable[[Array], tuple[float, Array]], size: int) -> CompiledDensity:
    """A density of points of `size` coordinates; its status is another than zero where the value is no number."""

    def at(n: int, point: int, gradient: int, value: int, data: int) -> int:
        here, slope, total = (np.ctypeslib.as_array((c_double * k).from_address(a)) for a, k in ((point, n), (gradient, n), (value, 1)))
        total[0], slope[:] = density(here.copy())
        return 0 if np.isfinite(total[0]) else 4

    return CompiledDensity(size, ADDRESSED(at), np.zeros(1))
