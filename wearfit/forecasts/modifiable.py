"""Draws of a live tool that may be modified for another version of its product."""

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.news import NONE_SINCE, BySince
from wearfit.forecasts.tool_ahead import AboutTool, tool_ahead

Array = np.ndarray


@dataclass(frozen=True)
class Modifiable(AboutTool):
    """A live tool, and what one more modification does to it.

    `wear` is log wear per shot that it adds, shape (sample,); the shots made so far stay behind it.
    """

    wear: Array

    def modified_shots(self) -> Array:
        """Shots that are left of the life under way once it is modified, shape (sample, future)."""
        return np.minimum(self.tool.shots_to_wear * np.exp(-self.wear)[:, None], self.tool.shots_to_sudden)

    def thinned(self, keep: Array) -> "Modifiable":
        """With some of the draws."""
        return replace(self, tool=self.tool.thinned(keep), wear=self.wear[keep])


def modifiable(calibration: Calibration, tool_id: str, as_of: dt.date | None = None, since: BySince = NONE_SINCE) -> Modifiable:
    """A live tool that may be modified.

    Raises
    ------
    Refusal
        As `tool_ahead`.
    """
    return Modifiable(tool_ahead(calibration, tool_id, as_of, since), calibration.coefficient("slope.modification"))
