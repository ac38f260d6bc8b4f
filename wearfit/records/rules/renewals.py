"""Renewals: one that two lists give on two days, and those whose cause nobody states."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from wearfit.records.frames import Frames, cells_by_row
from wearfit.records.rules.counter.readings import whole_days
from wearfit.records.rules.events import RENEWALS
from wearfit.records.rules.marking import Judged, mark, with_table
from wearfit.records.rules.typed_counts import place_of

Array = np.ndarray

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
    events = events.loc[events["tool_id"].isin(tools), ["tool_id", "date", "event", "cause", "shots_at"]]
    runs = frames["runs"]
    runs = runs.loc[runs["tool_id"].isin(tools), ["tool_id", "started_on", "ended_on", "shots"]]
    of_tool = runs.groupby("tool_id").indices
    twins: dict[Hashable, Hashable] = {}
    kept: tuple[Hashable, Mapping[Hashable, Any]] | None = None
    opened: pd.Timestamp | None = None
    for label, event in zip(events.index, cells_by_row(events), strict=True):
        if kept is not None and kept[1]["tool_id"] != event["tool_id"]:
            kept = opened = None
        if kept is not None and _like(kept[1], event):
            use = _Use.of(runs.iloc[of_tool.get(event["tool_id"], [])])
            if _hardly_used(use, opened, kept[1], event):
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


@dataclass(frozen=True)
class _Use:
    """Runs of one tool. Arrays of shape (run,)."""

    started: Array  # [day]
    ended: Array  # [day]
    shots: Array

    @classmethod
    def of(cls, runs: pd.DataFrame) -> "_Use":
        started, ended = (whole_days(runs[name].to_numpy()) for name in ("started_on", "ended_on"))
        return cls(started, ended, runs["shots"].to_numpy(dtype=float))

    @property
    def days(self) -> Array:
        """Both ends counted."""
        return self.ended - self.started + 1

    def by(self, day: int) -> Array:
        """Shots that each run had made when a day began."""
        return self.shots * np.clip((day - self.started) / self.days, 0.0, 1.0)

    def begun_before(self, day: int) -> "_Use":
        begun = self.started < day
        return _Use(self.started[begun], self.ended[begun], self.shots[begun])


def _hardly_used(use: _Use, opened: pd.Timestamp | None, first: Mapping[Hashable, Any], second: Mapping[Hashable, Any]) -> bool:
    """Whether next to nothing was made between two renewals, the life before the first having opened on a day, None for never."""
    on, again = _day(first["date"]), _day(second["date"])
    use = use.begun_before(again)
    before = np.where(use.ended > on, use.by(on), use.shots)
    between = np.clip(use.by(again) - before, 0.0, None)
    if not between.sum():
        counts = second["shots_at"] - first["shots_at"]
        return bool(np.isnan(counts) or counts <= FEW_OF_LIFE * before.sum())
    # A row of a whole month does not tell on which side of the two days its shots were made.
    spans = (use.started < on) & (use.ended >= again)
    pace = float(np.median(use.shots / use.days))
    life = before.sum() - (0.0 if opened is None else use.by(_day(opened)).sum())
    return bool(between[~spans].sum() <= FEW_DAYS * pace and between.sum() <= FEW_OF_LIFE * life)


def _day(time: pd.Timestamp) -> int:
    """Days since 1970-01-01."""
    return int(time.to_datetime64().astype("datetime64[D]").astype(np.int64))


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
