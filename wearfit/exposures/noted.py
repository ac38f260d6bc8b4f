"""Defects that notes on events tell of, in the lives under way of live tools.

A note counts at the end of its day, as a reading does. One on a renewal, or before it, is behind the tool; so is one from before
a modification that cut part of the surface new. A `worn` says itself what it is.
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from wearfit.exposures.event_order import episode_seen
from wearfit.exposures.lives import Episodes, Events
from wearfit.exposures.table import Noted
from wearfit.exposures.timeline import days, positions
from wearfit.records.findings import Finding
from wearfit.records.frames import ROW, SOURCE, cells_by_row
from wearfit.records.notes import read_note

Array = np.ndarray

MOST_OF_A_TOOL: Final = 10  # the latest; what is older has been answered, or is still there and noted again


@dataclass(frozen=True)
class Defects:
    """Noted defects in order of (tool, time). Arrays of shape (defect,)."""

    tool: Array
    episode: Array
    time: Array  # [day] the end of the day of the note
    kind: Array  # text, as in `records.notes`
    hazard: Array  # bool: sharp flash, or parts loose or broken off, and no hold came with it or after it
    note: Array  # text


def read_defects(frame: pd.DataFrame, tool_ids: Sequence[str], events: Events, episodes: Episodes) -> tuple[Defects, tuple[Finding, ...]]:
    """Defects noted in the episodes under way, and what to look at before it runs.

    Parameters
    ----------
    frame : DataFrame
        The events as the record table, cut at the as-of day; of tools in `tool_ids`.
    events, episodes
        Of the same records.
    """
    told = frame.loc[(frame["note"] != "") & (frame["event"] != "worn"), ["tool_id", "date", "event", "note", ROW, SOURCE]]
    told = told[np.array([bool(read_note(note).defects) for note in told["note"]], dtype=bool)]
    tool, day = positions(told["tool_id"], tool_ids), days(told["date"])
    episode = episode_seen(tool, day, events, episodes)
    last = np.searchsorted(episodes.tool, tool, side="right") - 1
    order = np.lexsort((told["event"].to_numpy(dtype=str), day, tool))
    order = order[((episode == last) & np.isposinf(episodes.closes[last]))[order]]
    of_tool: dict[int, list[tuple[int, str, bool]]] = {}
    findings = []
    for i, record in zip(order, cells_by_row(told.iloc[order]), strict=True):
        note = read_note(str(record["note"]))
        hazard = note.hazard and not _held(events, int(tool[i]), float(day[i]))
        of_tool.setdefault(int(tool[i]), []).extend((int(i), kind, hazard) for kind in note.defects)
        if hazard:
            findings.append(_look_first(record))
    kept = [entry for entries in of_tool.values() for entry in entries[-MOST_OF_A_TOOL:]]
    at = np.array([i for i, _, _ in kept], dtype=np.int64)
    return Defects(
        tool=tool[at],
        episode=episode[at],
        time=day[at] + 1.0,
        kind=np.array([kind for _, kind, _ in kept], dtype=object),
        hazard=np.array([hazard for _, _, hazard in kept], dtype=bool),
        note=told["note"].to_numpy(dtype=object)[at],
    ), tuple(findings)


def _held(events: Events, tool: int, day: float) -> bool:
    """Whether a tool was held on a day, or after it."""
    mine = np.flatnonzero((events.tool == tool) & np.isin(events.kind, ("hold", "release")))
    before = mine[events.time[mine] < day]
    held = len(before) > 0 and events.kind[before[-1]] == "hold"
    return bool(held or (events.kind[mine[events.time[mine] >= day]] == "hold").any())


def _look_first(record: Mapping[Hashable, Any]) -> Finding:
    tool, date = record["tool_id"], record["date"].date()
    problem = (
        f"The note of {date} on {tool} tells of sharp flash or edges, or of parts that are loose or broken off, and no hold came with it: "
        "have the tool and its parts looked at before it runs again."
    )
    repair = "Enter a hold until it is put right, and a release then; whatever the numbers say, such parts stop a run of a child's product."
    return Finding("events", int(record[ROW]), "note", str(record["note"]), problem, repair, "note", str(record[SOURCE]))


def noted_of_rows(defects: Defects, stop: Array, of_row: Array, of_defect: Array) -> Noted:
    """Defects with their place among the cells of each row of the likelihood that their episode has.

    Parameters
    ----------
    stop, of_row, of_defect : arrays, shape (pair,)
        Number of cells that come before a defect's day, for each row and defect of the row's episode, in order of (row, defect).
    """
    return Noted(defects.tool, defects.time - 1.0, defects.kind, defects.hazard, defects.note, of_row, stop, of_defect)
