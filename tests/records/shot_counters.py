"""Counters simulated over a known production, with the faults that counters have."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from fleets import Cells, fleet, rows_of

from wearfit.records.findings import Finding
from wearfit.records.frames import to_frames
from wearfit.records.rules.counter.judge import judge_counters

FIRST_DAY = dt.date(2020, 1, 31)

Frames = dict[str, pd.DataFrame]


def reading(date: str, shots: float | str, tool_id: str = "T1", **cells: str) -> Cells:
    return {"tool_id": tool_id, "date": date, "counter_shots": shots if isinstance(shots, str) else f"{shots:.0f}", **cells}


def monthly(*shots: float, tool_id: str = "T1", first: str = "2020-01-31") -> list[Cells]:
    """Readings at the ends of consecutive months."""
    days = pd.date_range(first, periods=len(shots), freq="ME")
    return [reading(f"{day:%Y-%m-%d}", shown, tool_id) for day, shown in zip(days, shots, strict=True)]


def frames_of(**tables: Sequence[Cells]) -> Frames:
    """Typed tables of a fleet; runs only where they are given."""
    return to_frames(rows_of(fleet(**{"runs": [], "events": [], **tables})))


def judged(**tables: Sequence[Cells]) -> tuple[Frames, list[Finding]]:
    return judge_counters(frames_of(**tables))


@dataclass(frozen=True)
class Simulated:
    """What one counter showed, and what was made in truth since the reading before, shape (reading,) each."""

    day: np.ndarray  # days after FIRST_DAY
    shown: np.ndarray
    made: np.ndarray

    def cells(self, tool_id: str = "T1") -> list[Cells]:
        days = (FIRST_DAY + dt.timedelta(int(day)) for day in self.day)
        return [reading(day.isoformat(), round(shots), tool_id) for day, shots in zip(days, self.shown, strict=True)]


def simulate(rng: np.random.Generator, readings: int = 30, start: int = 0, digits: int = 9) -> Simulated:
    """A counter read every few weeks on a tool that now and then stands still."""
    day = np.cumsum(rng.integers(10, 60, size=readings))
    busy = rng.random(readings) < 0.85
    made = np.round(np.diff(day, prepend=0) * rng.uniform(100, 400, size=readings) * busy)
    made[0] = 0
    return Simulated(day, (start + np.cumsum(made)) % 10**digits, made)
