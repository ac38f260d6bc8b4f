"""Single cycle times too short for any mould: typed in minutes, or mistyped."""

import numpy as np
import pandas as pd

from wearfit.records.cycles import FASTEST_S, MINUTE_S
from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.marking import Judged, mark, with_table

AS_LONG = 1.5  # in seconds it lies within this of its tool's other cycle times, or was not typed in minutes; judgement


def judge_cycle_times(frames: Frames) -> Judged:
    """Read cycle times below FASTEST_S as minutes where the tool's others bear it out, else as blank.

    Parameters
    ----------
    frames : Frames
        Tools and runs are looked at; columns that are in minutes throughout were turned into seconds when they were read.
    """
    used: dict[str, pd.DataFrame] = dict(frames)
    findings: list[Finding] = []
    if not any((frames[name]["cycle_time_s"] < FASTEST_S).any() for name in ("tools", "runs")):
        return used, findings
    both = pd.concat([frames[name][["tool_id", "cycle_time_s"]] for name in ("tools", "runs")])
    usual = both[both["cycle_time_s"] >= FASTEST_S].groupby("tool_id")["cycle_time_s"].median()
    for name in ("tools", "runs"):
        frame = frames[name]
        typed = frame["cycle_time_s"]
        short = typed < FASTEST_S
        others = usual.reindex(frame["tool_id"]).to_numpy()
        meant = typed * MINUTE_S
        minutes = short & (meant <= others * AS_LONG) & (meant >= others / AS_LONG)
        rows = frame[short].assign(meant=meant[short].round(1), others=others[short].round(1))
        findings += mark(
            name, rows[minutes[short]], "cycle_time_s",
            "The cycle time {cycle_time_s} of {tool_id} is read as minutes, {meant} s, for its others take about {others} s.",
            "Write it in seconds.", "repaired",
        )  # fmt: skip
        findings += mark(
            name, rows[~minutes[short]], "cycle_time_s",
            "No mould makes a shot in {cycle_time_s} s, as the cycle time of {tool_id} says. The cell is taken as blank.",
            "Write it in seconds.", "repaired",
        )  # fmt: skip
        used = with_table(used, name, frame.assign(cycle_time_s=np.where(minutes, meant, typed.where(~short))))
    return used, findings
