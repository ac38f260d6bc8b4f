"""Draws of the live tools as a file holds them: of each tool, places of their logarithms on an even grid, two bytes a draw.

A place costs half of what a number of four digits does and needs next to no unpacking, of which large fleets have much; and a tool's draws
lie together, as answers ask for them. The grid is as fine as the tool's draws allow, its step a power of two and its nodes whole multiples
of it, so that what was read is written as it was. Of draws within a factor of seven of each other each is kept to 3e-5 of itself.
"""

from typing import Final

import numpy as np

Array = np.ndarray

ZERO, FIRST, LAST, UNKNOWN = 0, 1, 65534, 65535  # codes: no logarithm, the grid's first node and its last possible one, NaN
MIDDLE: Final = 1 << 15  # from which places are counted, so that no exponential is too large
FINEST: Final = 2.0**-20  # step, where all draws are alike
TURNED: Final = 64  # tools at once, whose draws stay near the processor


def can_be_coded(values: Array) -> bool:
    """Whether all draws are zero, above it, or NaN."""
    return bool((np.isnan(values) | ((values >= 0.0) & np.isfinite(values))).all())


def coded(values: Array) -> tuple[Array, Array]:
    """Codes of draws (sample, tool), shape (tool, sample), and the grids: their first node, in steps, and the step, shape (tool, 2)."""
    codes, grids = np.empty(values.shape[::-1], dtype=np.uint16), np.zeros((values.shape[1], 2))
    for tool, draws in enumerate(values.T.astype(float)):
        there = draws > 0.0
        log = np.log(draws[there])
        least, most = (log.min(), log.max()) if len(log) else (0.0, 0.0)
        step = max(2.0 ** np.ceil(np.log2(max(most - least, FINEST) / (LAST - FIRST - 1))), FINEST)
        first = np.round(least / step)
        codes[tool] = np.where(np.isnan(draws), UNKNOWN, ZERO)
        codes[tool, there] = np.round(log / step) - first + FIRST
        grids[tool] = first, step
    return codes, grids


def decoded(codes: Array, grids: Array) -> Array:
    """The draws, shape (sample, tool), each tool's side by side in memory, in single precision."""
    out = np.zeros(codes.shape, dtype=np.float32)
    tools = np.flatnonzero(codes.any(axis=1))  # of the others nothing is touched, which spares their memory
    for start in range(0, len(tools), TURNED):
        some = tools[start : start + TURNED]
        part, (first, step) = codes[some], grids[some].T[:, :, None]
        # A place times a power of two is exact in single precision, and its exponential next to so; that of the middle is of double.
        log = part - np.float32(MIDDLE)
        log *= step.astype(np.float32)
        draws = np.exp(log, out=log)
        draws *= np.exp((first - FIRST + MIDDLE) * step).astype(np.float32)
        if part.min() == ZERO:
            draws[part == ZERO] = 0.0
        if part.max() == UNKNOWN:
            draws[part == UNKNOWN] = np.nan
        out[some] = draws
    return out.T


def by_tool(values: Array) -> Array:
    """Draws (sample, tool) with each tool's side by side in memory, for answers ask for them together."""
    out = np.empty(values.shape[::-1], dtype=values.dtype)
    for start in range(0, len(out), TURNED):
        out[start : start + TURNED] = values[:, start : start + TURNED].T
    return out.T
