"""One trajectory of Hamiltonian Monte Carlo, as a compiled loop around a compiled density."""

from typing import Final, NamedTuple

import numpy as np

from wearfit.model.compiled_density import CompiledDensity, call
from wearfit.model.kept_loops import kept

Array = np.ndarray

# A step asks for three gradients and errs far less than three leapfrog steps of the same length together do (Blanes, Casas & Sanz-Serna
# 2014, SIAM J. Sci. Comput. 36, the splitting of three stages; figures from memory, held to what they are for by tests).
KICK, DRIFT = 0.11888010966548, 0.29619504261126
STAGES: Final = 3
# The last kick is half of the next step's.
DRIFTS, KICKS = (DRIFT, 1.0 - 2.0 * DRIFT, DRIFT), (0.5 - KICK, 0.5 - KICK, 2.0 * KICK)


class Point(NamedTuple):
    """A place, and the log-density and its slope there."""

    at: Array
    value: float
    slope: Array


def trajectory(log_density: CompiledDensity, here: Point, momentum: Array, step: Array, steps: int) -> tuple[Point, Array]:
    """Where a trajectory leads, and with what momentum: the same way back with the momentum reversed. `step` is told by coordinate.

    Where the density is no number on the way it ends, and its value is none.
    """
    at, momentum, told = here.at.copy(), momentum.copy(), np.append(here.slope, here.value)
    _walk(log_density.addresses, at, momentum, told, step, steps)
    return Point(at, float(told[-1]), told[:-1]), momentum


@kept
def _walk(density: tuple[int, int], at: Array, momentum: Array, told: Array, step: Array, steps: int) -> None:
    """Go on from `at` with `momentum`; `told` is the slope there and after it the value. All three are overwritten."""
    (function, data), size, value = density, len(at), told[-1:]
    for i in range(size):
        momentum[i] += KICK * step[i] * told[i]
    for _ in range(steps):
        for stage in range(STAGES):
            for i in range(size):
                at[i] += DRIFTS[stage] * step[i] * momentum[i]
            if call(function, size, at.ctypes.data, told.ctypes.data, value.ctypes.data, data) != 0:
                told[size] = np.nan
            if not np.isfinite(told[size]):
                return
            for i in range(size):
                momentum[i] += KICKS[stage] * step[i] * told[i]
    for i in range(size):
        momentum[i] -= KICK * step[i] * told[i]
