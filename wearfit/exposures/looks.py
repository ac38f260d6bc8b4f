"""Days on which somebody looked at a tool: readings and noted defects. The wear of each must be known, so they part the cells."""

from dataclasses import dataclass

import numpy as np

Array = np.ndarray


@dataclass(frozen=True)
class Looks:
    """Days of all that was seen in each episode. Arrays of shape (look,)."""

    tool: Array
    episode: Array
    time: Array  # [day] the end of the day

    def before(self, episode: Array, start: Array) -> Array:
        """How many such days of its episode had ended when each of some stretches of time started, shape (stretch,)."""
        if not len(self.tool):
            return np.zeros(len(episode), dtype=np.int64)
        first = self.time.min() - 1.0
        span = self.time.max() - first + 1.0
        days = np.unique(self.episode * span + self.time - first)
        reached = np.searchsorted(days, episode * span + np.clip(start - first, 0.0, span - 0.5), side="right")
        return np.asarray(reached - np.searchsorted(days, episode * span, side="left"), dtype=np.int64)
