"""A log-density as machine code: called from Python, and from compiled loops, which hold no lock of the interpreter's meanwhile."""

import ctypes
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from llvmlite import ir
from numba import types
from numba.extending import intrinsic

Array = np.ndarray

# Size of a point; addresses of point, gradient, value and data: as the sampler's package calls it, but for numbers, quicker to hand on.
ADDRESSED: Final = ctypes.CFUNCTYPE(ctypes.c_int64, ctypes.c_uint64, *[ctypes.c_void_p] * 4)


@dataclass(frozen=True)
class CompiledDensity:
    """The log-density of coordinates and its gradient; no number where it can't be reckoned. Several threads may call it at once."""

    size: int  # of a point
    function: Any  # an `ADDRESSED`, which returns another number than zero where the density can't be reckoned
    data: Array  # where the density finds its data
    owner: Any = None  # whose arrays those addresses are, so that they are there for as long as this is

    def __call__(self, point: Array) -> tuple[float, Array]:
        """The value at a point of shape (size,), and its gradient there."""
        if point.shape != (self.size,) or point.dtype != np.float64 or not point.flags.c_contiguous:
            point = np.ascontiguousarray(point, dtype=float).reshape(self.size)
        told = np.empty(self.size + 1)  # the gradient, and after it the value
        start = told.ctypes.data
        status = self.function(self.size, point.ctypes.data, start, start + told.itemsize * self.size, self.data.ctypes.data)
        if status != 0:
            return np.nan, np.full(self.size, np.nan)
        return float(told[self.size]), told[: self.size]

    @property
    def addresses(self) -> tuple[int, int]:
        """Of the function and of its data, for `call`; good for as long as this is there."""
        return ctypes.cast(self.function, ctypes.c_void_p).value or 0, self.data.ctypes.data


def _call(typing: Any, function: Any, size: Any, point: Any, gradient: Any, value: Any, data: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        whole = ir.IntType(64)
        pointer = builder.inttoptr(arguments[0], ir.FunctionType(whole, [whole] * (len(arguments) - 1)).as_pointer())
        return builder.call(pointer, arguments[1:])

    return types.int64(*[types.int64] * 6), generate


# In compiled code: what an `ADDRESSED` at an address returns, by whole numbers of 64 bits.
call: Final[Any] = intrinsic(_call)
