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

    def __init__(self, exposures: Exposures, d: ModelData, live_tool: Array, samples: int) -> None:
        candidates, tools = exposures.candidates, exposures.tools
        self._weight, self._left, self._groups = {}, {}, {}
        self._live = len(live_tool)
        kinds = {"steel": candidates.steel, "past": candidates.opening}
        for i, tool in enumerate(live_tool):
            own = np.flatnonzero(candidates.tool == tool)
            # Of a tool of unknown class the steel follows the class, and an age has no rank of its own among those of other classes.
            open_to = {name: kind[own] for name, kind in kinds.items() if len(np.unique(kind[own])) > 1}
            if tools.service_class[tool] < 0:
                open_to.pop("steel", None)
            if open_to:
                prior = np.exp(d.candidate[own, CandidateColumns.log_weight])
                self._groups[i] = {name: _likeliest(kind, prior) for name, kind in open_to.items()}
                self._weight[i], self._left[i] = (np.zeros((samples, len(own)), dtype=np.float32) for _ in range(2))

    def add(self, live: int, chunk: slice, joint: Array, spent: Array, log_life: Array, shape: law.Shape) -> None:
        """Take in some draws of one live tool: arrays of shape (draw, candidate), `shape` of (draw, 1)."""
        if live not in self._groups:
            return
        reached = law.cumulative_hazard(spent, log_life, shape)
        weight = np.exp(joint - joint.max(axis=1, keepdims=True))
        self._weight[live][chunk] = weight / weight.sum(axis=1, keepdims=True)
        self._left[live][chunk] = np.maximum(law.wear_at(reached + np.log(2.0), log_life, shape) - spent, law.LEAST_SPENT)

    def moved(self) -> dict[str, Array]:
        """Log of the median over that of the likeliest guess alone, by what is open, shape (live,); 0 where it is not open."""
        out = {name: np.zeros(self._live) for name in OPEN}
        for i, groups in self._groups.items():
            weight, left = self._weight[i].astype(float), self._left[i].astype(float)
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
