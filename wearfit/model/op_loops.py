"""How a loop of an operation in the graph is compiled."""

from collections.abc import Callable
from typing import Any

from pytensor.link.numba.dispatch.basic import numba_njit


def compiled(function: Callable[..., Any]) -> Any:
    """The loop as machine code, in which a division by zero gives infinity or no number, as the sampler's check of what comes out expects.

    To look at each divisor, and to raise an error where it is zero, keeps the compiler from doing several divisions at once.
    """
    return numba_njit(function, error_model="numpy")
