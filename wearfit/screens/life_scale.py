"""Life over that of the mean plant, as charts scale it."""

from collections.abc import Sequence
from typing import Final

import altair as alt

TICKS: Final = (0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 7, 10)
ROOM: Final = 1.06  # beyond the furthest values


def life_scale(values: Sequence[float]) -> tuple[alt.Scale, alt.Axis]:
    """A logarithmic scale that holds these life factors, and its axis: twice and half lie as far from one."""
    low, high = min(*values, 1.0) / ROOM, max(*values, 1.0) * ROOM
    ticks = [tick for tick in TICKS if low <= tick <= high]
    return alt.Scale(type="log", nice=False, domain=[low, high]), alt.Axis(values=ticks, labelExpr="datum.value + '×'")
