"""How many shots a tool's rows show up to the start of any day, each row's shots spread evenly over its days."""

import numpy as np

Array = np.ndarray


class MadeBy:
    """Amounts spread over days, summed up to the start of a day, for the whole fleet at once.

    Parameters
    ----------
    tool : array, shape (row,)
    start, end : arrays, shape (row,)
        First and last day, inclusive.
    amount : array, shape (row,)
    """

    def __init__(self, tool: Array, start: Array, end: Array, amount: Array) -> None:
        a_day = amount / (end - start + 1)
        tool, day = np.concatenate([tool, tool]), np.concatenate([start, end + 1])
        change = np.concatenate([a_day, -a_day])
        order = np.lexsort((day, tool))
        self._tool, self._day = tool[order], day[order]
        self._rate = np.cumsum(change[order])
        # Rates of one tool end at zero but for rounding; set apart, they do not run into the next tool.
        last = np.append(self._tool[1:] != self._tool[:-1], True)[: len(order)]
        self._rate = np.where(last, 0.0, self._rate)
        length = np.append(self._day[1:] - self._day[:-1], 0)[: len(order)]
        grown = np.where(last, 0.0, self._rate * length)
        self._made = np.cumsum(grown) - grown
        self._before = np.searchsorted(self._tool, self._tool, side="left")
        self._span = int(np.ptp(day)) + 3 if len(day) else 1
        self._origin = int(day.min()) - 1 if len(day) else 0
        self._key = self._keys(self._tool, self._day)

    def _keys(self, tool: Array, day: Array) -> Array:
        return tool * self._span + np.clip(day - self._origin, 0, self._span - 1)

    def __call__(self, tool: Array, day: Array) -> Array:
        """Amount by the start of each day, shape (day,)."""
        if not len(self._key):
            return np.zeros(len(tool))
        i = np.searchsorted(self._key, self._keys(tool, day), side="right") - 1
        known = (i >= 0) & (self._tool[np.maximum(i, 0)] == tool)
        i = np.maximum(i, 0)
        made = self._made[i] - self._made[self._before[i]] + self._rate[i] * (day - self._day[i])
        return np.where(known, made, 0.0)

    def between(self, tool: Array, first: Array, last: Array) -> Array:
        """Amount on the days first to last, both counted, shape (day,)."""
        amount: Array = self(tool, last + 1) - self(tool, first)
        return amount
