"""What a tool is usually asked for: the run that a question begins with, and the cavities that turn parts into shots."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from wearfit.calibration import Calibration

if TYPE_CHECKING:
    from wearfit.workflow.recorded import Recorded

FIRST_SHOTS: Final = 10_000  # of a tool of which no run is known
DIGITS: Final = 2  # that a suggested number of shots has


@dataclass(frozen=True)
class UsualRun:
    """A tool's usual run.

    Parameters
    ----------
    plant_id : str or None
        Where it is; None where nobody said.
    resin_id : str or None
        That it ran most lately.
    shots : int
        Between two set-ups, rounded.
    """

    plant_id: str | None
    resin_id: str | None
    shots: int


def usual_run(calibration: Calibration, tool: str) -> UsualRun:
    """The usual run of a live tool."""
    live, levels = calibration.live, calibration.levels
    row = int(np.flatnonzero(levels.tool[live.tool] == tool)[0])
    plant, mix, setups = int(live.plant[row]), live.resin_share[row], float(live.setups_per_shot[row])
    shots = 1.0 / setups if np.isfinite(setups) and setups > 0.0 else FIRST_SHOTS
    return UsualRun(
        str(levels.plant[plant]) if plant >= 0 else None,
        str(levels.resin[int(np.argmax(mix))]) if mix.any() else None,
        max(1, int(float(f"{shots:.{DIGITS - 1}e}"))),
    )


def cavities_of(recorded: "Recorded", tool: str) -> int | None:
    """Cavities of a tool by the list of tools; None where they are blank or the tool is not on it."""
    tools = recorded.records.tables["tools"]
    stated = tools[tools["tool_id"] == tool]["cavities"].to_numpy(dtype=float)
    return int(stated[0]) if len(stated) and np.isfinite(stated[0]) else None


def shots_for(parts: int, cavities: int) -> int:
    """Shots that so many parts take, the last one perhaps not full."""
    return -(-parts // cavities)
