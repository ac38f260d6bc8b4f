"""Large fleets, and many questions, are worked on in pieces: how large one is, and which tools lie in it."""

from collections.abc import Iterator
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.processors import at_a_time

Array = np.ndarray

CHUNK: Final = 32  # tools or runs looked at once: bounds the memory, and keeps arrays near the processor
LONGEST: Final = 128  # .. of many, whose threads would wait for each other


def piece_of(things: int) -> int:
    """How many of some tools, or of some runs, lie in a piece where pieces are worked on at once."""
    return at_a_time(things, CHUNK, LONGEST)


def planned_months(calibration: Calibration, rows: Array) -> Array:
    """How many months each of some live tools is planned ahead, the calibration's own the first, shape (tool,)."""
    planned = ~np.isnan(calibration.live.plan_shots[rows])
    return (planned * np.arange(1, planned.shape[1] + 1)).max(axis=1, initial=0)


def pieces(calibration: Calibration, rows: Array, most: int) -> Iterator[Array]:
    """Places in `rows` of tools that are looked at together, which bounds the memory; all of them come once.

    Those of a piece are planned equally far ahead, so that no answer hangs on what else is asked, be it by its rounding; those at
    one plant lie side by side, for that is quicker.

    Parameters
    ----------
    rows : array, shape (tool,)
        Rows of the live table.
    most : int
        Tools in a piece.
    """
    planned = planned_months(calibration, rows)
    order = np.lexsort((calibration.live.plant[rows], planned))
    for alike in np.split(order, np.flatnonzero(np.diff(planned[order])) + 1):
        for start in range(0, len(alike), most):
            yield alike[start : start + most]
