"""What counts as one observation: lives of tools of which all is known, and tools that may be several things."""

from dataclasses import dataclass

import numpy as np

from wearfit.exposures.table import Exposures
from wearfit.model.data import EndedColumns, ModelData, RowColumns, whole
from wearfit.model.place_sums import add_by_place, summed

Array = np.ndarray


@dataclass(frozen=True)
class Observed:
    """Which rows and endings of the likelihood make up each observation, of which there is a pointwise likelihood."""

    observation: Array  # (observation, 2) as in `Rows`
    mixed: Array  # tools that may be several things: the last observations
    tool: Array  # (row,)
    path: Array  # (row,)
    of_row: Array  # (row,) observation, -1 where the tool may be several things
    plain: tuple[Array, Array]  # rows, endings: of what is known, and not of a capacity that is a coordinate
    measured: Array  # rows of what is known whose capacity is one
    place: tuple[Array, Array]  # observation of each of `plain`
    candidate: tuple[Array, Array]  # of each row, and of each ending
    candidates: int

    @classmethod
    def of(cls, exposures: Exposures, d: ModelData) -> "Observed":
        """Of a history."""
        h, candidates = exposures.history, exposures.candidates
        tool, known, life = candidates.tool[h.candidate], candidates.known[h.candidate], exposures.episodes.life[h.source]
        pairs, place = np.unique(np.stack([tool[known], life[known]], axis=1), axis=0, return_inverse=True)
        # A tool that may be several things is one observation; one without a row in the likelihood is none.
        mixed = np.unique(candidates.tool[~candidates.known])
        mixed = mixed[np.isin(mixed, tool)]
        of_row, ended, path = np.full(len(h.source), -1), whole(d.ended[:, EndedColumns.row]), whole(d.row[:, RowColumns.path])
        of_row[known] = place.ravel()
        plain = np.flatnonzero(known & (path == 0)), np.flatnonzero((known & (path == 0))[ended])
        observation = np.concatenate([pairs.reshape(-1, 2), np.stack([mixed, np.full(len(mixed), -1)], axis=1)])
        measured = np.flatnonzero(known & (path > 0))
        return cls(
            observation, mixed, tool, path, of_row, plain, measured, (of_row[plain[0]], of_row[ended[plain[1]]]),
            (h.candidate, h.candidate[ended]), len(d.candidate),
        )  # fmt: skip

    def log_likelihood(self, survived: Array, gained: Array, of_tool: Array) -> Array:
        """Of each observation but for measured lives, by that of rows, endings and tools, shape (draw, observation)."""
        total = summed(survived[:, self.plain[0]], self.place[0], len(self.observation))
        add_by_place(total, gained[:, self.plain[1]], self.place[1])
        total[:, len(self.observation) - len(self.mixed) :] = of_tool[:, self.mixed]
        return total

    def by_candidate(self, survived: Array, gained: Array) -> Array:
        """`likelihood.candidate_log_likelihood` by the same, shape (draw, candidate)."""
        total = summed(survived, self.candidate[0], self.candidates)
        add_by_place(total, gained, self.candidate[1])
        return total
