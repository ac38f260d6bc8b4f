"""Counts of shots that were typed in thousands: shots at events, opening shots, bands.

Each is read a thousandfold only where another count of the same tool says so: where the thousandfold agrees with it and what
was typed is hundreds of times away. Without such evidence the cell stays as typed.
"""

from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.frames import Frames
from wearfit.records.rules.counter.made import MadeBy
from wearfit.records.rules.counter.readings import whole_days
from wearfit.records.rules.counter.reconcile import agree
from wearfit.records.rules.marking import Judged, by_tool, grouped, mark, with_table
from wearfit.records.rules.openings import NEW_WITHIN_DAYS

Array = np.ndarray

THOUSAND: Final = 1000.0
LEAST: Final = 10_000  # [shots] no one types fewer in thousands; judgement
# Figure of each class in shots. Source: the classes' published wording, "one million cycles or more" to "not exceeding 500".
CLASS_SHOTS: Final = {"101": 1_000_000, "102": 1_000_000, "103": 500_000, "104": 100_000}
NEAR_CLASS: Final = 3.0  # a band lies within so many times its class's figure, or is not of that class; judgement
OUTLIVED: Final = 50.0  # no tool makes so many times its band in each of its lives; judgement


def judge_thousands(frames: Frames) -> Judged:
    """Read counts a thousandfold where the tool's runs, events or class leave no other reading.

    Parameters
    ----------
    frames : Frames
        After `reconcile_counters`.
    """
    used, findings = dict(frames), []
    for rule in (_openings, _shots_at, _bands) if frames["events"]["shots_at"].notna().any() else (_bands,):
        used, noticed = rule(used)
        findings += noticed
    return used, findings


def _at(frames: Frames, tool_ids: pd.Series) -> Array:
    tools = frames["tools"]["tool_id"]
    positions: Array = pd.Series(np.arange(len(tools)), index=tools).reindex(tool_ids).to_numpy(dtype=np.int64)
    return positions


def _made_by(frames: Frames, rows: pd.DataFrame) -> Array:
    """Shots of the runs of each row's tool by the end of the row's date, shape (row,)."""
    runs = frames["runs"]
    start, end = whole_days(runs["started_on"].to_numpy()), whole_days(runs["ended_on"].to_numpy())
    made = MadeBy(_at(frames, runs["tool_id"]), start, end, runs["shots"].to_numpy(dtype=float))
    by_end: Array = made(_at(frames, rows["tool_id"]), whole_days(rows["date"].to_numpy()) + 1)
    return by_end


def _openings(frames: Frames) -> Judged:
    """Opening shots that fall short of the first counted event by all but a thousandth of themselves."""
    events = frames["events"]
    counted = events[events["shots_at"].notna()].sort_values(["tool_id", "date"], kind="stable").drop_duplicates("tool_id")
    shots = pd.Series(counted["shots_at"].to_numpy() - _made_by(frames, counted), index=counted["tool_id"])
    tools = frames["tools"].assign(before=lambda frame: by_tool(shots, frame))
    opening = tools["opening_shots"]
    short = (opening * THOUSAND >= LEAST) & agree(tools["before"].to_numpy() / np.where(opening > 0, opening, np.nan) / THOUSAND)
    told = tools[short].assign(meant=[grouped(x) for x in opening[short] * THOUSAND], before=[grouped(x) for x in tools["before"][short]])
    findings = mark(
        "tools", told, "opening_shots",
        "opening_shots {opening_shots} of tool {tool_id} is read as typed in thousands, {meant}: by shots_at of its first counted event, "
        "less the runs until then, it had {before}.",
        "Write the whole number of shots.", "repaired",
    )  # fmt: skip
    in_life = tools["opening_life_shots"]
    both = short & (in_life <= opening)
    tools = tools.assign(
        opening_shots=opening.where(~short, opening * THOUSAND), opening_life_shots=in_life.where(~both, in_life * THOUSAND)
    )
    return with_table(frames, "tools", tools.drop(columns="before")), findings


def _shots_at(frames: Frames) -> Judged:
    """Shots at an event that are a thousandth of what the opening and the runs show by then."""
    events, tools = frames["events"], frames["tools"]
    first_run = by_tool(frames["runs"].groupby("tool_id")["started_on"].min(), tools)
    new = (first_run - tools["commissioned_on"]).dt.days <= NEW_WITHIN_DAYS
    opening = tools["opening_shots"].where(tools["opening_shots"].notna() | ~new, 0.0)
    shown = _made_by(frames, events) + opening.to_numpy()[_at(frames, events["tool_id"])]
    typed = events["shots_at"].to_numpy(dtype=float)
    short = (typed * THOUSAND >= LEAST) & agree(shown / np.where(typed > 0, typed, np.nan) / THOUSAND)
    told = events[short].assign(meant=[grouped(x) for x in typed[short] * THOUSAND], shown=[grouped(x) for x in shown[short]])
    findings = mark(
        "events", told, "shots_at",
        "shots_at {shots_at} of the {event} of {tool_id} on {date} is read as typed in thousands, {meant}: its records show {shown} by "
        "then.",
        "Write the whole number of shots.", "repaired",
    )  # fmt: skip
    return with_table(frames, "events", events.assign(shots_at=np.where(short, typed * THOUSAND, typed))), findings


def _bands(frames: Frames) -> Judged:
    """Bands a thousandth of the class's figure, or outlived many times over by the tool's own runs."""
    tools, events = frames["tools"], frames["events"]
    if not (tools["band_low"].notna() | tools["band_high"].notna()).any():
        return dict(frames), []
    renewals = events[events["event"].isin(["retool", "refurbish"])].groupby("tool_id").size()
    made = by_tool(frames["runs"].groupby("tool_id")["shots"].sum(), tools).fillna(0.0)
    a_life = made / (by_tool(renewals, tools).fillna(0.0) + 1)
    figure = tools["service_class"].map(CLASS_SHOTS).astype(float)
    band = tools["band_high"].fillna(tools["band_low"])
    of_class = (band * THOUSAND <= NEAR_CLASS * figure) & (band * THOUSAND >= figure / NEAR_CLASS)
    outlived = (a_life > OUTLIVED * band) & (a_life <= band * THOUSAND) & (tools["service_class"] != "105")
    short = of_class | outlived
    if not short.any():
        return dict(frames), []
    by_class = [f"class {name} stands for about {grouped(shots)} shots" for name, shots in zip(tools["service_class"], figure, strict=True)]
    by_use = [f"each of its lives so far took {grouped(shots)} shots" for shots in a_life]
    told = tools.assign(
        typed=[grouped(x) for x in band], meant=[grouped(x) for x in band * THOUSAND], why=np.where(of_class, by_class, by_use)
    )
    findings = []
    for column, holds in (("band_high", tools["band_high"].notna()), ("band_low", tools["band_high"].isna())):
        findings += mark(
            "tools", told[short & holds], column, "The band of tool {tool_id}, {typed}, is read as typed in thousands, {meant}: {why}.",
            "Write the whole number of shots.", "repaired",
        )  # fmt: skip
    low, high = tools["band_low"], tools["band_high"]
    return with_table(
        frames, "tools", tools.assign(band_low=low.where(~short, low * THOUSAND), band_high=high.where(~short, high * THOUSAND))
    ), findings
