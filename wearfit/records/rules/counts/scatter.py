"""How runs of one tool scatter about its usual pace: to either side, and how often they are much slower or faster."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# Judgement throughout.
SCATTER: Final = 0.35
"""How far, in logs, runs of one tool scatter, where there are too few to tell."""
SCATTER_RANGE: Final = (0.12, 1.0)
SCATTER_WEIGHT: Final = 8.0
"""Weight of the fleet's scatter in a tool's, in runs."""
FAST_SHARE: Final = 0.03
FAST_LOGS: Final = 0.7
"""Share of runs that are much faster than their tool's usual, and by how much in logs on average."""
SLOW_SHARE: Final = 0.1
SLOW_LOGS: Final = 1.0
"""The same of much slower runs, where there are too few to tell."""
SLOW_WEIGHT: Final = 20.0
"""Weight of those two beliefs, in runs."""


@dataclass(frozen=True)
class Scatter:
    """Scatter of runs about the usual pace of their tools, in logs."""

    slow_side: Floats  # (run,)
    fast_side: Floats  # (run,)
    slow_share: float  # share of much slower runs
    slow_logs: float  # .. and by how much

    def density(self, off: Floats, doubt: Floats, some: slice) -> Floats:
        """Density of paces off the usual one, shape (run,): Student's t with 4 degrees of freedom, and much slower and faster runs."""
        slower = off < 0
        slow, fast = np.sqrt(self.slow_side[some] ** 2 + doubt), np.sqrt(self.fast_side[some] ** 2 + doubt)
        q = 1.0 + (off / np.where(slower, slow, fast)) ** 2 / 4.0
        core = 0.75 / (q * q * np.sqrt(q) * (slow + fast))
        logs = np.where(slower, self.slow_logs, FAST_LOGS)
        tail = np.where(slower, self.slow_share / self.slow_logs, FAST_SHARE / FAST_LOGS) * np.exp(-np.abs(off) / logs)
        return np.asarray((1.0 - self.slow_share - FAST_SHARE) * core + tail + 1e-12)


def scatter_of(pace: Floats, tool: Ints, group: Ints, says_shots: Bools) -> Scatter:
    """What the runs themselves tell of it.

    Parameters
    ----------
    pace : array, shape (run,)
        As in `odds.Counts`.
    tool, group : int arrays, shape (run,)
        Codes from 0; runs of a group have one tool, and are set against its middle.
    says_shots : bool array, shape (run,)
        Whether the sheet says shots, or the same number either way.
    """
    tools, groups = int(tool.max()) + 1, int(group.max()) + 1
    size = np.bincount(group, minlength=groups)[group]
    several = size >= 3
    if several.sum() < 10:
        flat = np.full(len(pace), SCATTER)
        return Scatter(flat, flat, SLOW_SHARE, SLOW_LOGS)
    off = pace - group_median(pace, group, groups)[group]
    off *= np.sqrt(size / np.maximum(size - 1, 1))
    away = np.abs(off)
    of_fleet = max(float(np.median(away[several])), SCATTER_RANGE[0] / 1.4826)
    slow_side, fast_side = (_half_width(side * off[several]) for side in (-1.0, 1.0))
    own = np.nan_to_num(group_median(np.where(several, away, np.nan), tool, tools)) / of_fleet
    told = np.bincount(tool, weights=several, minlength=tools)
    times = np.sqrt((told * own**2 + SCATTER_WEIGHT) / (told + SCATTER_WEIGHT))
    # Rows that say shots are never wrong on the slow side, so these tell what slow runs are like.
    steady = off[several & says_shots]
    edge = 4.0 * slow_side
    past = -edge - steady[steady < -edge]
    logs = float(np.clip((past.sum() + SLOW_WEIGHT * SLOW_LOGS) / (len(past) + SLOW_WEIGHT), 0.3, 2.0))
    beyond = (len(past) + SLOW_WEIGHT * SLOW_SHARE) / (len(steady) + SLOW_WEIGHT)
    share = float(np.clip(beyond * np.exp(edge / logs), 0.02, 0.5))
    slow, fast = (np.clip(times * side, *SCATTER_RANGE) for side in (slow_side, fast_side))
    return Scatter(slow[tool], fast[tool], share, logs)


def _half_width(off: Floats) -> float:
    """Scatter to the side on which `off` is positive, as the standard deviation of a normal law; the least where no run lies there."""
    there = off[off > 0]
    return max(1.4826 * float(np.median(there)), SCATTER_RANGE[0]) if len(there) else SCATTER_RANGE[0]


def group_median(values: Floats, group: Ints, groups: int) -> Floats:
    """Median of the finite values of each group, shape (group,); NaN where it has none."""
    finite = np.isfinite(values)
    values, group = values[finite], group[finite]
    order = np.lexsort((values, group))
    values, group = values[order], group[order]
    size = np.bincount(group, minlength=groups)
    start = np.cumsum(size) - size
    padded = np.append(values, np.nan)
    low = np.where(size > 0, start + (size - 1) // 2, len(values))
    high = np.where(size > 0, start + size // 2, len(values))
    return np.asarray((padded[low] + padded[high]) / 2.0)
