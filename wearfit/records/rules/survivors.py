"""Lists that seem to hold only the tools that lasted."""

from typing import Final

import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.marking import Judged

OLD_DAYS: Final = 3 * 365  # a fleet of which half is older than this has lost a tool or two as a rule; judgement
IN_USE_DAYS: Final = 366
FEWEST_TOOLS: Final = 5
ENDINGS: Final = ("worn", "retool", "refurbish")


def note_survivors(frames: Frames) -> Judged:
    """Note an old fleet of which no tool was ever retired and every one is in use."""
    tools, runs, events = frames["tools"], frames["runs"], frames["events"]
    retired = (events["event"] == "retire").any()
    if retired or len(tools) < FEWEST_TOOLS or runs.empty:
        return dict(frames), []
    latest = max(runs["ended_on"].max(), events["date"].max() if len(events) else runs["ended_on"].max())
    last_run = runs.groupby("tool_id")["ended_on"].max().reindex(tools["tool_id"])
    in_use = (last_run >= latest - pd.Timedelta(days=IN_USE_DAYS)).all()
    old = int((tools["commissioned_on"] < latest - pd.Timedelta(days=OLD_DAYS)).sum())
    if not in_use or 2 * old < len(tools):
        return dict(frames), []
    renewed = events["event"].isin(ENDINGS).any()
    none = "was retired" if renewed else "was retired, renewed or found worn"
    problem = (
        f"{old:,} of {len(tools):,} tools are older than three years, yet none {none}, and every one ran in the last year of the records. "
        "If the tools that were scrapped are left out, tools look more lasting than they are, and every date comes out too late."
    )
    repair = "Hand over the retired tools too, from the scrap ledger: their rows of tools, their runs, and each retire with its cause."
    return dict(frames), [Finding("events", None, "event", None, problem, repair, "note")]
