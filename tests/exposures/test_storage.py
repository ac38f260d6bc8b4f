"""Stays in store and long idle times, against a walk through the days and against answers by hand."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

import numpy as np
import pytest
from day_by_day import SAME_DAY
from histories import Cells, assert_same, event, exposures_of, live_of, records_of, run, shots_by_part, tool
from hypothesis import given
from hypothesis import strategies as st
from random_histories import END, OTHERS, Tables, checked, exposed, fleets

from wearfit.exposures.lives import CENSORED, EXACT, INTERVAL
from wearfit.exposures.table import Exposures

NIGHT = dt.timedelta(1)
YEAR = 365.25
PLANTS = [{"plant_id": "Heath", "conditioned": "1"}, {"plant_id": "Quay"}, {"plant_id": "Shed"}]
FIRST, SECOND = run("2020-01-06", "2020-01-15", 1000), run("2020-12-01", "2020-12-10", 500)

Standings = dict[tuple[str, float], int]  # days by (place, how far preserved), idle time with a preservation of -1


def standings(exposures: Exposures) -> list[Standings]:
    """Days that the tools stood by episode, as the exposures have them."""
    found: list[Standings] = [defaultdict(int) for _ in exposures.episodes.tool]
    standing = exposures.standing
    for episode, start, end, plant, preserved, stored in zip(
        standing.episode, standing.start, standing.end, standing.plant, standing.preserved, standing.stored, strict=True
    ):
        found[episode][(*exposures.plant_ids, "")[plant], preserved if stored else -1.0] += round(end - start)
    return [dict(days) for days in found]


def years_by_part(exposures: Exposures) -> list[list[float]]:
    cells = exposures.cells
    return [[float(cells.years[(cells.episode == row) & (cells.part == part)].sum() * YEAR) for part in range(3)] for row in range(99)]


# --- against a walk through the nights ---------------------------------------------------------------------------------


def walked(of_tool: Cells, runs: Sequence[Cells], events: Sequence[Cells], last: str) -> list[Standings]:
    """Nights of one tool by episode: each ends on its day, before what happens on it, save a run that has gone on through it."""
    runs = sorted(runs, key=lambda r: r["started_on"])
    events = sorted(events, key=lambda e: (e["date"], SAME_DAY.index(e["event"])))
    found: list[Standings] = [defaultdict(int)]
    plant, store, idle, worn, retired = of_tool.get("plant_id", ""), None, None, False, False
    day, end = min([r["started_on"] for r in runs] + [e["date"] for e in events]), last

    def happen(e: Cells) -> None:
        nonlocal plant, store, idle, worn, retired
        kind, share = e["event"], float(e.get("renewed_share") or 0.0)
        if kind == "store":
            store = [e.get("plant_id") or plant, {"1": 1.0, "0": 0.0}.get(e.get("preserved", ""), 0.5)]
        if kind == "take_out":
            store, idle = None, 0 if idle is not None else None
        if kind == "move" and e.get("plant_id"):
            plant = e["plant_id"]
            if store:
                store[0] = plant
        if kind in ("retool", "refurbish") or (kind == "modify" and share > 0):
            worn = worn and kind == "modify" and share < 1
            found.append(defaultdict(int))
            idle = 0 if idle is not None else None
        worn = worn or kind == "worn"
        retired = retired or kind == "retire"

    night = dt.date.fromisoformat(day)
    while night <= dt.date.fromisoformat(end):
        today = night.isoformat()
        running = [r for r in runs if r["started_on"] < today <= r["ended_on"]]
        if running:
            store = idle = None
        elif store and today > day and not worn and not retired:
            found[-1][store[0], store[1]] += 1
        elif idle is not None:
            idle += 1
            if idle > 60 and not worn and not retired and not store:
                found[-1][plant, -1.0] += 1
        # Of one day: runs that end come first (one of a day is over with them), then events, then runs that begin.
        for r in runs:
            if r["ended_on"] == today:
                plant, idle = r["plant_id"], 0
                store = None
        for e in events:
            if e["date"] == today:
                happen(e)
        for r in runs:
            if r["started_on"] == today < r["ended_on"]:
                store = None
        night += NIGHT
    return [dict(days) for days in found]


@st.composite
def stored_fleets(draw: st.DrawFn) -> dict[str, Sequence[Cells]]:
    """Fleets with stays, their runs further apart than the others'."""
    tables = draw(fleets())
    shift: dict[str, int] = defaultdict(int)
    runs = []
    for row in tables["runs"]:
        shift[row["tool_id"]] += draw(st.sampled_from((0, 0, 70, 150)))
        moved = {c: (dt.date.fromisoformat(row[c]) + NIGHT * shift[row["tool_id"]]).isoformat() for c in ("started_on", "ended_on")}
        runs.append({**row, **moved})
    given_too = {(e["tool_id"], e["date"], e["event"]): e for e in tables["events"]}
    for _ in range(draw(st.integers(0, 6))):
        name, day = draw(st.sampled_from([t["tool_id"] for t in tables["tools"]])), draw(st.integers(0, 800))
        date, kind = (dt.date(2020, 1, 1) + NIGHT * day).isoformat(), draw(st.sampled_from(("store", "store", "take_out", "move")))
        cells = {"plant_id": draw(st.sampled_from(("", "Heath", "Salt Quay"))), "preserved": draw(st.sampled_from(("", "0", "1")))}
        given_too.setdefault((name, date, kind), event(date, kind, name, **cells))
    last = {row["tool_id"]: row["ended_on"] for row in runs}
    given_too = {key: e for key, e in given_too.items() if e["event"] != "retire" or e["date"] > last[e["tool_id"]]}
    retired = {e["tool_id"]: e["date"] for e in given_too.values() if e["event"] == "retire"}
    return {**tables, "runs": runs, "events": [e for e in given_too.values() if e["date"] <= retired.get(e["tool_id"], END)]}


@given(stored_fleets())
@checked
def test_tools_stand_as_in_a_walk_through_the_nights(tables: Tables) -> None:
    exposures = exposed(tables)
    frame = records_of(tables["runs"], tables["events"], tables["tools"], END, **OTHERS).tables["events"]
    used = set(zip(frame["tool_id"], frame["date"].dt.date.astype(str), frame["event"], strict=True))
    # One renewal written twice is one; that is another rule's.
    tables = {**tables, "events": [e for e in tables["events"] if (e["tool_id"], e["date"], e["event"]) in used]}
    expected = [
        episode
        for of_tool in tables["tools"]
        for episode in walked(of_tool, *([r for r in tables[t] if r["tool_id"] == of_tool["tool_id"]] for t in ("runs", "events")), END)
    ]
    assert standings(exposures) == expected
