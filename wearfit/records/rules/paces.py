"""What a run's count, days and cycle time say of its pace."""

from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.frames import Frames
from wearfit.records.rules.marking import of_tool

Array = np.ndarray

GOOD_SHARE: Final = 0.97  # good parts in all parts where the scrap is not recorded; judgement
CADENCE_SLACK: Final = 1.02  # shots may pass what the cycle time allows by this much before they are doubted: cycle times are rounded
SECONDS_PER_DAY: Final = 86_400


def days_of(runs: pd.DataFrame) -> pd.Series:
    """Days of each run, both ends counted, shape (run,); NaN where a day is blank."""
    return (runs["ended_on"] - runs["started_on"]).dt.days + 1


def open_cavities(frames: Frames, runs: pd.DataFrame) -> pd.Series:
    """Cavities open in each run, else those of its tool, shape (run,); NaN where neither is known."""
    return runs["active_cavities"].fillna(of_tool(frames, runs, "cavities"))


def cycle_times(frames: Frames, runs: pd.DataFrame) -> pd.Series:
    """Cycle time of each run, else the usual one of its tool, shape (run,); NaN where neither is known. [s]"""
    return runs["cycle_time_s"].fillna(of_tool(frames, runs, "cycle_time_s"))


def shots_of_parts(parts: Array, scrap_parts: Array, cavities: Array) -> Array:
    """Shots that good parts and scrap stand for, shape (run,); scrap that is not recorded is a judged share."""
    return np.where(np.isnan(parts + scrap_parts), parts / GOOD_SHARE, parts + scrap_parts) / cavities
