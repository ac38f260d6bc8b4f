"""Whether a tool is to be looked at before it runs, from a calibration alone."""

import datetime as dt
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.workflow.noted_words import last_to_look_at, why_look

EPOCH: Final = dt.date(1970, 1, 1)


def look_first(calibration: Calibration, tool: str) -> str:
    """Why a tool is to be looked at before it runs, "" where nothing says so or it is not live; no forecast is made for it."""
    noted, live = calibration.noted, calibration.live
    rows = np.flatnonzero(calibration.levels.tool[live.tool] == tool)
    if not len(rows):
        return ""
    row = rows[0]
    told = [
        {"date": (EPOCH + dt.timedelta(days=int(noted.day[at]))).isoformat(), "note": str(noted.note[at]), "look_before_running": True}
        for at in np.flatnonzero((noted.live == row) & (noted.hazard != 0))
    ]
    last = last_to_look_at({"status": str(live.status[row]), "noted": told})
    return why_look(last) if last else ""
