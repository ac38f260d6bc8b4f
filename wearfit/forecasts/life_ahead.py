"""Draws of one life, of a live tool or of one yet to be cut: how much more it will make."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from wearfit.forecasts.new_tool import NewTool
from wearfit.forecasts.tool_ahead import ToolAhead
from wearfit.law import Shape

Array = np.ndarray


@dataclass(frozen=True)
class LifeAhead:
    """One life. Arrays of shape (sample, future) unless said otherwise; shots are machine shots."""

    name: str
    shots_to_wear: Array  # from now
    shots_to_sudden: Array
    log_life: Array  # (sample,) characteristic life [log shots]
    shape: Shape  # (sample,)
    sudden_per_shot: Array  # (sample,)
    weights: Array  # (sample,)
    on_record: Mapping[str, float]  # with `shots_made` of this life so far, where that is known

    @property
    def samples(self) -> int:
        return len(self.log_life)

    def thinned(self, keep: Array) -> "LifeAhead":
        """With some of the draws."""
        names = ("shots_to_wear", "shots_to_sudden", "log_life", "shape", "sudden_per_shot", "weights")
        return replace(self, **{name: getattr(self, name)[keep] for name in names})


def life_of_tool(tool: ToolAhead) -> LifeAhead:
    """The life under way of a live tool."""
    made = float(tool.shots_this_life @ tool.weights / tool.weights.sum())
    return LifeAhead(
        tool.tool_id, tool.shots_to_wear, tool.shots_to_sudden, tool.log_life, tool.shape, tool.sudden_per_shot, tool.weights,
        {**tool.on_record, **({} if np.isnan(made) else {"shots_made": made})},
    )  # fmt: skip


def life_of_new(tool: NewTool) -> LifeAhead:
    """The first life of a tool yet to be cut."""
    return LifeAhead(
        tool.name, tool.shots_to_wear(0), tool.shots_to_sudden(0), tool.log_life, tool.shape, tool.sudden_per_shot, tool.weights,
        {**tool.on_record, "shots_made": 0.0},
    )  # fmt: skip
