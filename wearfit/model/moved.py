"""How far what is not known of a live tool moves its forecast, against the likeliest guess taken for certain."""

from typing import Final

import numpy as np

from wearfit import law
from wearfit.exposures.table import Exposures
from wearfit.model.data import CandidateColumns, ModelData

Array = np.ndarray

OPEN: Final = ("steel", "past")


class Left:
    """Median wear left of the live tools that may be several things, gathered candidate by candidate.

    A draw's weight for a candidate is how likely the candidate is in that draw: so weighed, draws of the whole posterior are
    draws of the posterior in which the tool is that candidate.
    """

    def __init__(self, exposures: Exposures, d: ModelData, live_tool: Array, live_row: Array, samples: int) -> None:
        """`live_row` (live, candidate of its own): rows of the episode under way, -1 where the age cannot be told."""
        candidates, tools = exposures.candidates, exposures.tools
        self._groups, self._span = {}, {}
        self._live = len(live_tool)
        kinds, candidate, row = {"steel": candidates.steel, "past": candidates.opening}, [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
        begin = 0
        firsts, stops = (np.searchsorted(candidates.tool, live_tool, side=side) for side in ("left", "right"))
        for i in np.flatnonzero(stops - firsts > 1).tolist():
            tool, own = live_tool[i], np.arange(firsts[i], stops[i])
            # Of a tool of unknown class the steel follows the class, and an age has no rank of its own among those of other classes.
            open_to = {name: kind[own] for name, kind in kinds.items() if len(np.unique(kind[own])) > 1}
            if tools.service_class[tool] < 0:
                open_to.pop("steel", None)
            if open_to and live_row[i, 0] >= 0:
                prior = np.exp(d.candidate[own, CandidateColumns.log_weight])
                self._groups[i] = {name: _likeliest(kind, prior) for name, kind in open_to.items()}
                self._span[i], begin = slice(begin, begin + len(own)), begin + len(own)
                candidate.append(own)
                row.append(live_row[i, : len(own)])
        self._candidate, self._row = np.concatenate(candidate), np.concatenate(row)
        self._weight, self._left = (np.zeros((samples, begin), dtype=np.float32) for _ in range(2))

    def add(self, chunk: slice, joint: Array, spent: Array, log_life: Array, shape: law.Shape) -> None:
        """Take in some draws: `joint` and `log_life` (draw, candidate), `spent` (draw, row), `shape` of (draw, 1)."""
        if not self._span:
            return
        first = np.array([span.start for span in self._span.values()])
        count = np.diff(first, append=len(self._candidate))
        joint, spent, log_life = joint[:, self._candidate], spent[:, self._row], log_life[:, self._candidate]
        weight = np.exp(joint - np.repeat(np.maximum.reduceat(joint, first, axis=1), count, axis=1))
        self._weight[chunk] = weight / np.repeat(np.add.reduceat(weight, first, axis=1), count, axis=1)
        reached = law.cumulative_hazard(spent, log_life, shape)
        self._left[chunk] = np.maximum(law.wear_at(reached + np.log(2.0), log_life, shape) - spent, law.LEAST_SPENT)

    def moved(self) -> dict[str, Array]:
        """Log of the median over that of the likeliest guess alone, by what is open, shape (live,); 0 where it is not open."""
        out = {name: np.zeros(self._live) for name in OPEN}
        for i, groups in self._groups.items():
            weight, left = (values[:, self._span[i]].astype(float) for values in (self._weight, self._left))
            whole = _median(left, weight)
            for name, likeliest in groups.items():
                if weight[:, likeliest].sum() > 0:
                    out[name][i] = np.log(whole / _median(left[:, likeliest], weight[:, likeliest]))
        return out


def _likeliest(kind: Array, prior: Array) -> Array:
    """Candidates of the kind with most weight beforehand, boolean, shape (candidate,)."""
    kinds = np.unique(kind)
    return np.asarray(kind == kinds[np.argmax([prior[kind == k].sum() for k in kinds])])


def _median(values: Array, weights: Array) -> float:
    order = np.argsort(values, axis=None)
    reached = np.cumsum(weights.ravel()[order])
    return float(values.ravel()[order[np.searchsorted(reached, 0.5 * reached[-1])]])
