"""Stays in store that other rows contradict: said, with how they are read."""

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.marking import Judged, mark

# Of one day a tool is first taken out, then looked at, then stored; a run that ends on the day comes before, one that begins after.
RANK = {"ended": 0, "take_out": 1, "move": 2, "worn": 3, "read": 3, "store": 4, "began": 5}


def note_stays(frames: Frames) -> Judged:
    """Note what cannot be true of a stay in store, or tells less than was meant.

    Parameters
    ----------
    frames : Frames
        After all that sets runs and events aside.
    """
    events = frames["events"]
    findings = mark(
        "events", events[events["preserved"].notna() & (events["event"] != "store")], "preserved",
        "preserved is given with the {event} of {tool_id} on {date}; only a store says whether a tool was oiled or wrapped.",
        "Move it to the row of the store.", "note",
    )  # fmt: skip
    if not events["event"].isin(["store", "take_out"]).any():
        return dict(frames), findings
    return dict(frames), [*findings, *_contradictions(frames, _in_time(frames))]


def _in_time(frames: Frames) -> pd.DataFrame:
    """What is done with the tools that have a stay, in order of time; `since` is when the stay began that it falls into, NaT for none."""
    events, runs, readings = frames["events"], frames["runs"], frames["readings"]
    events = events[events["event"].isin(RANK)]
    named = events.loc[events["event"].isin(["store", "take_out"]), "tool_id"].unique()
    events = events[events["tool_id"].isin(named)].assign(table="events", day=lambda e: e["date"])
    runs = runs[runs["tool_id"].isin(named)]
    short = runs["started_on"] == runs["ended_on"]
    began = runs.assign(table="runs", event="began", day=runs["started_on"])[~short]
    ended = runs.assign(table="runs", event="ended", day=runs["ended_on"])
    readings = readings[readings["tool_id"].isin(named)]
    read = readings.assign(table="readings", event="read", day=readings["date"])
    told = pd.concat([part for part in (events, began, ended, read) if len(part)])
    told = told.assign(rank=told["event"].map(RANK)).sort_values(["tool_id", "day", "rank"], kind="stable", ignore_index=True)
    # A stay ends with a take_out or a run; what happens then still falls into it.
    tool, kind = told["tool_id"].to_numpy(), told["event"].to_numpy()
    since = np.full(len(told), np.datetime64("NaT", "s"))
    stored = np.datetime64("NaT", "s")
    for i, (name, what, day) in enumerate(zip(tool, kind, told["day"].to_numpy(), strict=True)):
        if i and name != tool[i - 1]:
            stored = np.datetime64("NaT", "s")
        since[i] = stored
        if what == "store":
            stored = day
        elif what in ("take_out", "began", "ended"):
            stored = np.datetime64("NaT", "s")
    return told.assign(since=since)


def _contradictions(frames: Frames, told: pd.DataFrame) -> list[Finding]:
    inside = told["since"].notna()
    kind = told["event"]
    taken_out = told.groupby("tool_id")["event"].shift().eq("take_out") & (told.groupby("tool_id")["day"].shift() == told["day"])
    before = told.groupby("tool_id")["since"].shift()
    on_that_day = (kind == "worn") & taken_out & before.notna()
    worn = told.assign(since=told["since"].where(inside, before))[(kind == "worn") & (inside | on_that_day)]
    worn = worn[worn["last_good_on"].isna()]
    return [
        *mark(
            "readings", told[inside & (kind == "read")].drop_duplicates(["tool_id", "since"]), "date",
            "{tool_id} was in store since {since} when {feature} was read on {date}; the reading counts, as of the wear of that day.",
            "If parts were made for it, add the take_out; else correct the date, or the days of the store.", "note",
        ),
        *mark(
            "runs", told[inside & kind.isin(["began", "ended"])], "started_on",
            "{tool_id} was in store since {since} when its run from {started_on} to {ended_on} was made; it is taken to have been taken "
            "out for it.", "Add the take_out, or correct the days of the run or the store.", "note",
        ),
        *mark(
            "events", told[~inside & (kind == "take_out")], "event",
            "{tool_id} is taken out on {date} and was in no store; it counts as no stay.", "Add the store that came before.", "note",
        ),
        *mark(
            "events", told[inside & (kind == "store")], "event",
            "{tool_id} is stored on {date} and was in store already since {since}; it is taken to have stayed in store all the time, "
            "from {date} on as this row says.", "Add the take_out in between, or take the row out.", "note",
        ),
        *mark(
            "events", told[inside & (kind == "move")], "event",
            "{tool_id} is moved on {date} and was in store since {since}; it is taken to stay in store, at its new place.",
            "If it was taken out, add the take_out.", "note",
        ),
        *mark(
            "events", worn, "last_good_on",
            "{tool_id} was found worn on {date}, in store since {since}; it is taken to have been good when it was stored and to have "
            "become unusable in between.", "If it was worn before, or good on a later day, say so in last_good_on.", "note",
        ),
    ]  # fmt: skip
