"""Noted defects of the live tools: how much of the wear of now each draw had spent by then, and what is believed of their kind."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.calibration import NotedTable
from wearfit.exposures.table import Noted
from wearfit.model.data import ModelData, ReadingColumns
from wearfit.model.priors import Priors
from wearfit.records.findings import LONGEST_VALUE, shown
from wearfit.records.notes import FLASH, FLASH_EVERYWHERE, FLASH_IN_ONE_PLACE, WITH_A_CHANCE

Array = np.ndarray

LEAST: Final = 1e-6  # [reference shots] stands for no wear, where a logarithm is taken


def asked_of_clock(noted: Noted, d: ModelData) -> Array:
    """The table of readings, and after it the days of noted defects: the clock is asked for the wear spent at each of them."""
    table = np.zeros((len(noted.row), d.reading.shape[1]))
    table[:, ReadingColumns.row], table[:, ReadingColumns.stop] = noted.row, noted.stop
    return np.concatenate([d.reading, table])


@dataclass(frozen=True)
class NotedDraws:
    """Log of the wear spent when each defect was noted over the wear now, to be filled chunk by chunk; NaN where it cannot be told."""

    noted: Noted
    log_share: Array  # (sample, defect)
    _pair: Array  # (row,) the first pair of each row

    @classmethod
    def empty(cls, samples: int, noted: Noted, rows: int) -> "NotedDraws":
        log_share = np.full((samples, len(noted.tool)), np.nan, dtype=np.float32)
        return cls(noted, log_share, np.searchsorted(noted.row, np.arange(rows), side="left"))

    def fill(self, chunk: slice, tool: int, rows: Array, then: Array, now: Array) -> None:
        """Put in some draws of one tool.

        Parameters
        ----------
        rows : (draw,)
            The row of the life under way in each draw: candidates of a tool have its defects alike.
        then, now : (draw, pair), (draw, row)
            Wear spent at each defect and row's end.
        """
        draw = np.arange(len(rows))
        for place, defect in enumerate(np.flatnonzero(self.noted.tool == tool)):
            share = np.maximum(then[draw, self._pair[rows] + place], LEAST) / np.maximum(now[draw, rows], LEAST)
            self.log_share[chunk, defect] = np.log(np.minimum(share, 1.0))


def noted_table(noted: Noted, live_tool: Array, priors: Priors) -> NotedTable:
    """Noted defects with what is believed of their kind; `live_tool` (live,) in order."""
    p_wear, question = _by_kind(priors)
    return NotedTable(
        live=np.searchsorted(live_tool, noted.tool),
        day=noted.day,
        kind=noted.kind,
        p_wear=np.array([p_wear.get(str(kind), np.nan) for kind in noted.kind]),
        question=np.array([question.get(str(kind), "") for kind in noted.kind], dtype=object),
        hazard=noted.hazard,
        note=np.array([shown(str(note), LONGEST_VALUE) for note in noted.note], dtype=object),
    )


def _by_kind(priors: Priors) -> tuple[dict[str, float], dict[str, str]]:
    """Chance of wear and question by kind; flash of an unknown place has the geometric mean of both odds, and the question after it."""
    p_wear = {kind: float(p) for kind, p in zip(WITH_A_CHANCE, priors.noted_p_wear, strict=True)}
    question = dict(zip(WITH_A_CHANCE, priors.noted_question, strict=True))
    here, everywhere = (p_wear[kind] / (1.0 - p_wear[kind]) for kind in (FLASH_IN_ONE_PLACE, FLASH_EVERYWHERE))
    odds = math.sqrt(here * everywhere)
    return p_wear | {FLASH: odds / (1.0 + odds)}, question | {FLASH: question[FLASH_IN_ONE_PLACE]}
