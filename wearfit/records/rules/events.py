"""What a row of the events table must say."""

import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.marking import Judged, by_tool, mark, of_tool, with_table

RENEWALS = ("retool", "refurbish")


def judge_events(frames: Frames) -> Judged:
    """Events within the tool's own time, days in an order that can be; what `renewals` looks at comes later."""
    events = frames["events"]
    commissioned = of_tool(frames, events, "commissioned_on")
    early = events["date"] < commissioned
    findings = mark(
        "events", events[early].assign(commissioned_on=commissioned[early]), "date",
        "The {event} of {tool_id} on {date} lies before the tool was commissioned on {commissioned_on}.",
        "Correct the date, or commissioned_on in the tools table.", "set_aside",
    )  # fmt: skip
    events = events[~early] if early.any() else events
    retired = by_tool(retirement_days(events), events)
    late = events["date"] > retired
    findings += mark(
        "events", events[late].assign(retired_on=retired[late]), "date",
        "The {event} of {tool_id} on {date} lies after the tool was retired on {retired_on}.",
        "Correct the date, or delete the retire if the tool came back.", "set_aside",
    )  # fmt: skip
    events = events[~late] if late.any() else events

    findings += _notes(events)
    events, repaired = _blank_impossible_days(events)
    findings += repaired
    return with_table(frames, "events", events), findings


def retirement_days(events: pd.DataFrame) -> pd.Series:
    """First day of retirement of each retired tool, by tool_id."""
    return events[events["event"] == "retire"].groupby("tool_id")["date"].min()


def _blank_impossible_days(events: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    impossible = (
        ("last_good_on", events["last_good_on"] > events["date"], "lies after the event itself"),
        ("back_on", events["back_on"] < events["date"], "lies before the event itself"),
        ("due_on", events["due_on"] < events["date"], "lies before the event itself"),
    )
    findings = []
    for column, fault, how in impossible:
        if not fault.any():
            continue
        problem = f"{column} {{{column}}} {how} on {{date}}; it is read as blank."
        findings += mark("events", events[fault], column, problem, "Correct one of the two days.", "repaired")
        events = events.assign(**{column: events[column].where(~fault)})
    return events, findings


def _notes(events: pd.DataFrame) -> list[Finding]:
    undated = (events["event"] == "order") & events["due_on"].isna()
    nowhere = (events["event"] == "move") & (events["plant_id"] == "")
    return [
        *mark(
            "events", events[undated], "due_on", "The order for {tool_id} on {date} does not say when it is due.",
            "Fill in due_on.", "note",
        ),
        *mark(
            "events", events[nowhere], "plant_id", "The move of {tool_id} on {date} does not say where to; the next run tells.",
            "Fill in plant_id.", "note",
        ),
    ]  # fmt: skip
