"""What the live tools come to in each draw: which of the things that they may be, and the wear and the life that go with it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wearfit.exposures.table import Exposures
from wearfit.model.clock import Clock
from wearfit.model.data import CellColumns, ModelData, RowColumns, whole
from wearfit.model.readings import LEAST

Array = np.ndarray


@dataclass(frozen=True)
class LiveDraws:
    """Live tools draw by draw, to be filled chunk by chunk. Arrays of shape (sample, live), but where they say otherwise."""

    wear_spent: Array  # NaN where the age is unknown
    recorded_share: Array  # of it that came since the records of the episode begin; 0 where the age is unknown
    storage_spent: Array  # part of the wear spent that came in store or idle; NaN where that is not asked for
    log_life: Array
    opening: Array  # shots that the life under way had behind it at entry, where that is reckoned; else 0
    choice: Array  # which of its candidates the tool is
    path: Array  # of the row of the episode under way, 0 where none
    first: Array  # (live,) first candidate
    count: Array  # (live,) of its candidates
    row: Array  # (live, candidate of its own) rows of the episode under way, -1 where the age cannot be told

    @classmethod
    def empty(cls, samples: int, exposures: Exposures, live_tool: Array, live_episode: Array) -> "LiveDraws":
        """For so many draws."""
        live, of_tool = len(live_tool), exposures.candidates.tool
        first, stop = (np.searchsorted(of_tool, live_tool, side=side) for side in ("left", "right"))
        row = np.full((live, int((stop - first).max(initial=1))), -1)
        by_episode = np.argsort(exposures.history.source, kind="stable")
        spans = (np.searchsorted(exposures.history.source[by_episode], live_episode, side=side) for side in ("left", "right"))
        for i, (begin, end) in enumerate(zip(*spans, strict=True)):
            row[i, : end - begin] = by_episode[begin:end]  # one for each candidate, or none
        spent, stood, eta = (np.full((samples, live), np.nan, dtype=np.float32) for _ in range(3))
        opening, recorded = (np.zeros((samples, live), dtype=np.float32) for _ in range(2))
        choice, path = np.zeros((samples, live), dtype=np.int32), np.zeros((samples, live), dtype=np.int64)
        return cls(spent, recorded, stood, eta, opening, choice, path, first, stop - first, row)

    @property
    def several(self) -> Array:
        """Live tools that may be several things."""
        return np.flatnonzero(self.count > 1)

    @property
    def told(self) -> Array:
        """Whether a live tool's age can be told, shape (live,)."""
        return np.asarray(self.row[:, 0] >= 0)

    def luck(self, of_live: Sequence[np.random.Generator], draws: int) -> dict[int, Array]:
        """What decides which candidate each of `several` is, (draw, candidate of its own), each from its own generator."""
        return {int(i): of_live[i].gumbel(size=(draws, self.count[i])) for i in self.several}

    def own(self, live: int) -> slice:
        """Candidates of a live tool."""
        return slice(int(self.first[live]), int(self.first[live] + self.count[live]))

    def fill(
        self,
        chunk: slice,
        joint: Array,
        luck: dict[int, Array],
        lives: Array,
        clock: Clock,
        stood: Array | None,
        opening: Array,
        d: ModelData,
    ) -> Array:
        """Put in some draws; returns the row of each live tool's episode under way in them, shape (draw, live), -1 where none.

        Parameters
        ----------
        joint, lives : (draw, candidate)
            Log of weight times likelihood, and log characteristic life, the effects of tools among both.
        stood : (draw, row), optional
            Wear that came in store or idle.
        opening : (row,)
            As `entry_shots` gives it.
        """
        choice = np.zeros((len(joint), len(self.first)), dtype=np.int64)
        for i, by_luck in luck.items():
            choice[:, i] = np.argmax(joint[:, self.own(i)] + by_luck, axis=1)
        draw, told = np.arange(len(joint))[:, None], self.told
        of_live = self.row[np.arange(len(self.first)), choice]
        row = of_live[:, told]
        self.choice[chunk], self.log_life[chunk] = choice, lives[draw, self.first + choice]
        self.wear_spent[chunk, told] = clock.end[draw, row]
        self.recorded_share[chunk, told] = 1.0 - clock.entry[draw, row] / np.maximum(self.wear_spent[chunk, told], LEAST)
        self.path[chunk, told] = whole(d.row[:, RowColumns.path])[row]
        self.opening[chunk, told] = opening[row]
        if stood is not None:
            self.storage_spent[chunk, told] = stood[draw, row]
        return of_live

    def usual_candidate(self) -> Array:
        """What each tool is; where that is open, what it is in most draws, shape (live,)."""
        most = np.zeros(len(self.first), dtype=np.int64)
        for i in self.several:
            most[i] = np.bincount(self.choice[:, i], minlength=self.count[i]).argmax()
        return np.asarray(self.first + most)


def entry_shots(exposures: Exposures, d: ModelData) -> Array:
    """Shots that each row's life had behind it at entry, where that is reckoned, else 0; shape (row,)."""
    h, cells = exposures.history, exposures.cells
    reckoned = (cells.part == 0) & (exposures.candidates.opening >= 0)[h.candidate[cells.episode]]
    shots = np.zeros(len(h.source))
    np.add.at(shots, cells.episode[reckoned], d.cell[reckoned, CellColumns.shots])
    return shots
