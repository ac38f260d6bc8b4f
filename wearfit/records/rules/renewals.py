"""Renewals: one that two lists give on two days, and those whose cause nobody states."""

from collections.abc import Hashable, Mapping
from typing import Any, Final

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.events import RENEWALS
from wearfit.records.rules.marking import Judged, mark, with_table
from wearfit.records.rules.paces import days_of
from wearfit.records.rules.typed_counts import place_of

SAME_WITHIN_DAYS: Final = 60  # an invoice, or a tool's return, may come so long after the work; judgement
FEW_DAYS: Final = 3.0  # days of use between two renewals that are sampling, or days written loosely; judgement
FEW_OF_LIFE: Final = 0.05  # share of the shots of the life before, of which no real life is so short; judgement


def judge_renewals(frames: Frames) -> Judged:
    """Set aside the second of two like renewals with next to no use between them.

    Parameters
    ----------
    frames : Frames
        The shots of every run filled in.

    Notes
    -----
    The surfaces that are renewed were hardly used, so a second renewal of the same kind within SAME_WITHIN_DAYS is the first
    once more: the day of the work in one list, of the invoice or the return in the other. The life ends at the first. Two that
    state different causes, and two with a `worn` between them, stay two. Nothing that was made or happened after the second has
    a say, so that records cut at a day are those written by that day; for the same reason a cause that the second alone states is
    not carried back to the first.
    """
    events = frames["events"]
    if not events["event"].isin(RENEWALS).any():
        return dict(frames), []
    # On one day a tool is found worn before it is renewed.
    renewals = events.assign(renews=events["event"].isin(RENEWALS)).sort_values(["tool_id", "date", "renews"], kind="stable")
    twins = _twins(frames, renewals[renewals["renews"] | (renewals["event"] == "worn")])
    findings = []
    if twins:
        first, second = events.loc[list(twins.values())], events.loc[list(twins)]
        place = place_of(first, second)
        missing = (first["cause"] == "").to_numpy() & (second["cause"] != "").to_numpy()
        whole = [
            f"write its cause into {row} and delete this one" if lacks else "delete it" for row, lacks in zip(place, missing, strict=True)
        ]
        findings = mark(
            "events", second.assign(was=first["date"].to_numpy(), place=place, whole=whole), "date",
            "The {event} of {tool_id} on {date} follows that on {was} ({place}) with next to no use between them, so the two are taken for "
            "one renewal with two days, as of the work and of its bill; it counts on {was}, and this row is not used.",
            "If they are one, {whole}; if there were two, add the runs made between them.", "set_aside",
        )  # fmt: skip
    events = events.drop(index=list(twins))
    return with_table(frames, "events", events), findings


def _twins(frames: Frames, events: pd.DataFrame) -> dict[Hashable, Hashable]:
    """Label of each renewal that is another once more, with the label of that other; the events in order of tool and day."""
    near = (events["tool_id"] == events["tool_id"].shift()) & ((events["date"] - events["date"].shift()).dt.days <= SAME_WITHIN_DAYS)
    tools = events.loc[near & events["event"].isin(RENEWALS), "tool_id"].unique()
    events = events[events["tool_id"].isin(tools)]
    runs = frames["runs"]
    of_tool = dict(list(runs[runs["tool_id"].isin(tools)].groupby("tool_id")))
    twins: dict[Hashable, Hashable] = {}
    for tool, rows in events.groupby("tool_id"):
        kept: tuple[Hashable, Mapping[Hashable, Any]] | None = None
        opened: pd.Timestamp | None = None
        for label, event in zip(rows.index, rows.to_dict("records"), strict=True):
            if kept is not None and _like(kept[1], event) and _hardly_used(of_tool.get(tool, runs.iloc[:0]), opened, kept[1], event):
                twins[label] = kept[0]
                continue
            if kept is not None and kept[1]["event"] in RENEWALS:
                opened = kept[1]["date"]
            kept = (label, event)
    return twins


def _like(first: Mapping[Hashable, Any], second: Mapping[Hashable, Any]) -> bool:
    """Whether two events one after the other can be one renewal."""
    causes = {first["cause"], second["cause"]} - {""}
    near = 0 <= (second["date"] - first["date"]).days <= SAME_WITHIN_DAYS
    return bool(near and first["event"] == second["event"] and second["event"] in RENEWALS and len(causes) < 2)


def _hardly_used(runs: pd.DataFrame, opened: pd.Timestamp | None, first: Mapping[Hashable, Any], second: Mapping[Hashable, Any]) -> bool:
    """Whether next to nothing was made between two renewals, the life before the first having opened on a day, None for never."""
    runs = runs[runs["started_on"] < second["date"]]
    before = _made_by(runs, first["date"]).where(runs["ended_on"] > first["date"], runs["shots"])
    between = _made_by(runs, second["date"]).sub(before).clip(lower=0.0)
    if not between.sum():
        counts = second["shots_at"] - first["shots_at"]
        return bool(np.isnan(counts) or counts <= FEW_OF_LIFE * before.sum())
    # A row of a whole month does not tell on which side of the two days its shots were made.
    spans = (runs["started_on"] < first["date"]) & (runs["ended_on"] >= second["date"])
    pace = float((runs["shots"] / days_of(runs)).median())
    life = before.sum() - (0.0 if opened is None else _made_by(runs, opened).sum())
    return bool(between[~spans].sum() <= FEW_DAYS * pace and between.sum() <= FEW_OF_LIFE * life)


def _made_by(runs: pd.DataFrame, day: pd.Timestamp) -> pd.Series:
    """Shots that each run had made when a day began, shape (run,)."""
    return runs["shots"] * ((day - runs["started_on"]).dt.days / days_of(runs)).clip(0.0, 1.0)


def note_unstated(frames: Frames) -> Judged:
    """Note renewals whose cause is not stated.

    Parameters
    ----------
    frames : Frames
        After `judge_renewals`.
    """
    events = frames["events"]
    unstated = events["event"].isin(RENEWALS) & (events["cause"] == "") & ~_found_worn(events)
    return dict(frames), mark(
        "events", events[unstated], "cause", "The cause of the {event} of {tool_id} on {date} is not stated; it counts partly as wear.",
        "Fill in the cause: wear, damage, planned, obsolete or design_change.", "note",
    )  # fmt: skip


def _found_worn(events: pd.DataFrame) -> pd.Series:
    """Whether a `worn` stands open before each event, shape (event,): since the last renewal, or on the same day."""
    ordered = events.assign(is_renewal=events["event"].isin(RENEWALS)).sort_values(["tool_id", "date", "is_renewal"], kind="stable")
    found = []
    tool, worn = None, False
    for name, event in zip(ordered["tool_id"], ordered["event"], strict=True):
        worn = worn and name == tool
        tool = name
        found.append(worn)
        worn = event == "worn" or (worn and event not in RENEWALS)
    return pd.Series(found, index=ordered.index, dtype=bool).reindex(events.index)
