"""The demo's records, and what somebody may do to them: one kind of change each, most of one tool."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from wearfit.demo.shipped import scenario_folder
from wearfit.records.assemble import assemble
from wearfit.records.identity import Row, key_of
from wearfit.records.readers.read import read
from wearfit.records.tables import TABLES
from wearfit.workflow.history import History, history_of

Rows = Sequence[Row]

TOOL = "T-003"  # runs on, of known class, steel and age, never measured
MEASURED = "T-014"  # runs on, of known class, steel and age, measured in the life under way
NEWCOMER = "A-000"  # comes before all others


def demo_rows() -> Rows:
    return read(scenario_folder()).rows


def row(table: str, **values: str) -> Row:
    return Row(table, key_of(TABLES[table], values), 0, values, 1, "new")


def run(tool: str, day: dt.date, shots: int, plant: str = "delta", resin: str = "abs-white") -> Row:
    return row("runs", tool_id=tool, plant_id=plant, resin_id=resin, started_on=str(day), ended_on=str(day), shots=str(shots))


def with_run(rows: Rows, day: dt.date) -> Rows:
    return [*rows, run(TOOL, day + dt.timedelta(days=5), 24_000)]


def with_wear_out(rows: Rows, day: dt.date) -> Rows:
    later = day + dt.timedelta(days=5)
    return [*rows, run(TOOL, later, 24_000), row("events", tool_id=TOOL, date=str(later), event="worn")]


def with_reading(rows: Rows, day: dt.date) -> Rows:
    last = [r for r in rows if r.table == "readings" and r.values["tool_id"] == MEASURED][-1]
    return [*rows, row("readings", **{**last.values, "date": str(day), "value": last.values["limit"]})]


def with_old_run_corrected(rows: Rows, day: dt.date) -> Rows:
    at = next(i for i, r in enumerate(rows) if r.table == "runs" and r.values["tool_id"] == TOOL)
    halved = {**rows[at].values, "shots": str(int(rows[at].values["shots"]) // 2)}
    return [*rows[:at], replace(rows[at], values=halved), *rows[at + 1 :]]


def with_event_deleted(rows: Rows, day: dt.date) -> Rows:
    """The first wear-out of a tool that lived on, and the renewal after it."""
    worn = next(r for r in rows if r.table == "events" and r.values["event"] == "worn")
    tool = worn.values["tool_id"]
    after = next(r for r in rows if r.table == "events" and r.values["tool_id"] == tool and r.values["event"] in ("retool", "refurbish"))
    return [r for r in rows if r is not worn and r is not after]


def with_newcomer(rows: Rows, day: dt.date) -> Rows:
    """A tool, a plant and a resin, each of which comes before all others, so that all of those have other numbers."""
    like = next(r for r in rows if r.table == "tools" and r.values["tool_id"] == TOOL)
    own = {
        **{k: v for k, v in like.values.items() if k != "service_class"}, "tool_id": NEWCOMER, "band_low": "300000", "band_high": "600000",
        "commissioned_on": str(day), "plant_id": "a-plant", "design_id": "a-design", "maker_id": "a-maker",
    }  # fmt: skip
    return [row("tools", **own), *rows, run(NEWCOMER, day, 9_000, "a-plant", "a-resin")]


def with_nothing(rows: Rows, day: dt.date) -> Rows:
    return rows


def with_all(rows: Rows, day: dt.date) -> Rows:
    for change in (with_old_run_corrected, with_event_deleted, with_reading, with_newcomer, with_wear_out):
        rows = change(rows, day)
    return rows


CHANGES: Mapping[str, tuple[Callable[[Rows, dt.date], Rows], int]] = {
    "nothing": (with_nothing, 0),
    "a run": (with_run, 5),
    "a wear-out": (with_wear_out, 5),
    "a reading": (with_reading, 0),
    "a run of years ago put right": (with_old_run_corrected, 0),
    "a wear-out taken out": (with_event_deleted, 0),
    "a new tool, plant and resin": (with_newcomer, 0),
    "time that passed": (with_nothing, 40),
    "all of them": (with_all, 40),
}
"""By name, what is done to the rows, and how many days later the records end."""


def changed(rows: Rows, day: dt.date, change: str) -> History:
    """The history after a change; `day` is that of the history before."""
    how, days = CHANGES[change]
    return history_of(assemble(how(rows, day)), day + dt.timedelta(days=days))
