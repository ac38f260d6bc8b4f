"""Draws of a tool that may stand for years before it is wanted again."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.fleet import live_row
from wearfit.forecasts.news import NONE_SINCE, BySince
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.storage import YEAR, air_of_plants, standing_wear_per_day
from wearfit.forecasts.tool_ahead import AboutTool, tool_ahead
from wearfit.forecasts.use_ahead import UseAhead

Array = np.ndarray


@dataclass(frozen=True)
class StoredTool(AboutTool):
    """A live tool, and what standing takes from it. Arrays of shape (sample,).

    `rust` is what a year in its store costs, `rust_preserved` the same if it is preserved. [machine shots a year]
    """

    rust: Array
    rust_preserved: Array
    preserved: float  # 0..1, how surely it is preserved now
    in_store: bool

    @property
    def on_record(self) -> Mapping[str, float]:
        """Without its use of late where it does not run: that says nothing of the use when its product is back."""
        return {name: value for name, value in self.tool.on_record.items() if name != "shots_per_month" or self.tool.status == "running"}

    def thinned(self, keep: Array) -> "StoredTool":
        """With some of the draws."""
        return replace(self, tool=self.tool.thinned(keep), rust=self.rust[keep], rust_preserved=self.rust_preserved[keep])


def stored_tool(calibration: Calibration, tool_id: str, as_of: dt.date | None = None, since: BySince = NONE_SINCE) -> StoredTool:
    """A live tool in its store; one that is in none is taken to stand at its plant, unpreserved.

    Raises
    ------
    Refusal
        As `tool_ahead`.
    """
    tool = tool_ahead(calibration, tool_id, as_of, since)
    row = live_row(calibration, tool_id)
    rows, live = np.array([row]), calibration.live
    in_store = bool(live.in_store[row])
    preserved = float(live.store_preserved[row]) if in_store else 0.0
    air = live.store_log_corrosivity[rows] if in_store else air_of_plants(calibration, rows)
    per_shot = UseAhead(calibration, read_outlook(calibration), rows).wear_per_shot_at_even_use()[:, 0]

    def a_year(how_preserved: float) -> Array:
        return standing_wear_per_day(calibration, rows, np.array([how_preserved]), air)[:, 0] * YEAR / per_shot

    return StoredTool(tool, a_year(preserved), a_year(1.0), preserved, in_store)
