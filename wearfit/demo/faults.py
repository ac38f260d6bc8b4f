"""Faulty rows of every kind, slipped into good tables at a fixed seed and listed with the place they ended up in."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np

from wearfit.demo.tables import Tables
from wearfit.demo.walk import Row

HEADER_ROWS = 1
UNKNOWN_COLUMN = "rack"
Fate = Literal["set_aside", "kept", "ignored"]


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault. `row` counts as a spreadsheet does, the header being row 1; None speaks of the whole table.

    `fate` is what becomes of the row: set aside until repaired, kept with a finding, or ignored as seen before.
    """

    kind: str
    table: str
    row: int | None
    column: str
    value: str
    fate: Fate

    def as_dict(self) -> dict[str, str | int | None]:
        return asdict(self)


@dataclass(frozen=True, slots=True)
class _Planted:
    kind: str
    table: str
    row: Row
    column: str
    fate: Fate = "set_aside"


def add_faults(tables: Tables, as_of: date, seed: int) -> tuple[Tables, tuple[Fault, ...]]:
    """Copy `tables` with two faulty rows of each kind in random places, and say where.

    What is set aside comes on top of the good rows, what is ignored repeats one, and a repeated key with other values
    splits a good run in two: the truth of the good rows stays true.
    """
    rng = np.random.default_rng(seed)
    faulty = {name: list(rows) for name, rows in tables.items()}
    planted: list[_Planted] = []
    for make in KINDS:
        planted += [fault for _ in range(2) for fault in make(faulty, as_of, rng)]
    for fault in planted:
        rows = faulty[fault.table]
        rows.insert(int(rng.integers(1, len(rows))), fault.row)
    faulty["tools"] = [
        {**row, UNKNOWN_COLUMN: f"{'ABCD'[i % 4]}{i % 17 + 1}"} if i % 3 == 0 else row for i, row in enumerate(faulty["tools"])
    ]
    faults = [Fault(f.kind, f.table, _place(faulty[f.table], f.row), f.column, f.row.get(f.column, ""), f.fate) for f in planted]
    return faulty, (*faults, Fault("unknown_column", "tools", None, UNKNOWN_COLUMN, "", "kept"))


def _place(rows: Sequence[Row], row: Row) -> int:
    return next(i for i, other in enumerate(rows) if other is row) + HEADER_ROWS + 1


def _pick(rows: Sequence[Row], rng: np.random.Generator) -> Row:
    return dict(rows[int(rng.integers(len(rows)))])


def _later(row: Row, days: int) -> Row:
    """The row moved by some days, so that its key is its own."""
    return {name: _moved(text, days) if name in ("date", "started_on", "ended_on") else text for name, text in row.items()}


def _moved(day: str, days: int) -> str:
    return (date.fromisoformat(day) + timedelta(days=days)).isoformat()


def _unknown_tool(tables: Tables, as_of: date, rng: np.random.Generator) -> list[_Planted]:
    run = {**_pick(tables["runs"], rng), "tool_id": f"T-9{int(rng.integers(10, 99))}"}
    event = {"tool_id": f"X-{int(rng.integers(10, 99))}", "date": _pick(tables["events"], rng)["date"], "event": "service"}
    return [_Planted("unknown_tool", "runs", run, "tool_id"), _Planted("unknown_tool", "events", event, "tool_id")]


def _reversed_dates(tables: Tables, as_of: date, rng: np.random.Generator) -> list[_Planted]:
    run = _later(_pick(tables["runs"], rng), 3)
    return [_Planted("reversed_dates", "runs", {**run, "ended_on": _moved(run["started_on"], -9)}, "ended_on")]


def _after_retirement(tables: Tables, as_of: date, rng: np.random.Generator) -> list[_Planted]:
    long_ago, used = _moved(as_of.isoformat(), -120), {r.get("tool_id") for r in tables["runs"]}
    event = _pick([e for e in tables["events"] if e["event"] == "retire" and e["date"] < long_ago and e["tool_id"] in used], rng)
    last = [r for r in tables["runs"] if r["tool_id"] == event["tool_id"]][-1]
    start = _moved(event["date"], int(rng.integers(30, 90)))
    return [_Planted("after_retirement", "runs", {**last, "started_on": start, "ended_on": _moved(start, 8)}, "started_on")]


def _negative_shots(tables: Tables, as_of: date, rng: np.random.Generator) -> list[_Planted]:
    run = _pick([r for r in tables["runs"] if "shots" in r], rng)
    return [_Planted("negative_shots", "runs", {**_later(run, 1), "shots": f"-{run['shots']}"}, "shots")]


def _before_commissioning(tables: Tables, as_of: date, rng: np.random.Generator) -> list[_Planted]:
    tool = _pick(tables["tools"], rng)
    event = {"tool_id": tool["tool_id"], "date": _moved(tool["commissioned_on"], -int(rng.integers(60, 400))), "event": "service"}
    return [_Planted("before_commissioning", "events", event, "date")]


def _unknown_event(tables: Tables, as_of: date, rng: np.random.Generator) -> list[_Planted]:
    event = _pick([e for e in tables["events"] if e["event"] == "service"], rng)
    word = ("polishing", "checked by night shift", "weld?")[int(rng.integers(3))]
    return [_Planted("unknown_event", "events", {**event, "event": word}, "event")]


def _not_a_date(tables: Tables, as_of: date, rng: np.random.Generator) -> list[_Planted]:
    run, event = _pick(tables["runs"], rng), _pick(tables["events"], rng)
    start = ("31.06.2021", "2022-02-30", "after Easter")[int(rng.integers(3))]
    return [
        _Planted("not_a_date", "runs", {**run, "started_on": start}, "started_on"),
        _Planted("not_a_date", "events", {**event, "date": f"{event['date'][:4]}-13-01"}, "date"),
    ]


def _not_a_number(tables: Tables, as_of: date, rng: np.random.Generator) -> list[_Planted]:
    run = _pick([r for r in tables["runs"] if "shots" in r], rng)
    text = ("see sheet 2", "n/a")[int(rng.integers(2))]
    return [_Planted("not_a_number", "runs", {**_later(run, 2), "shots": text}, "shots")]


def _blank_tool(tables: Tables, as_of: date, rng: np.random.Generator) -> list[_Planted]:
    run = _pick(tables["runs"], rng)
    del run["tool_id"]
    return [_Planted("blank_tool", "runs", run, "tool_id")]


def _duplicate(tables: Tables, as_of: date, rng: np.random.Generator) -> list[_Planted]:
    return [_Planted("duplicate", name, _pick(tables[name], rng), "", "ignored") for name in ("runs", "events")]


def _repeated_key(tables: Tables, as_of: date, rng: np.random.Generator) -> list[_Planted]:
    runs = tables["runs"]
    divisible = [i for i, r in enumerate(runs) if int(r.get("shots", "0")) > 5000 and "setups" not in r]
    position = divisible[int(rng.integers(len(divisible)))]
    shots = int(runs[position]["shots"])
    first = shots * 3 // 5
    runs[position] = {**runs[position], "shots": str(first)}
    return [_Planted("repeated_key", "runs", {**runs[position], "shots": str(shots - first)}, "shots", "kept")]


KINDS: tuple[Callable[[Tables, date, np.random.Generator], list[_Planted]], ...] = (
    # Repeated keys first: they divide a good run, of which no copy may have been taken yet.
    _repeated_key,
    _unknown_tool,
    _reversed_dates,
    _after_retirement,
    _negative_shots,
    _before_commissioning,
    _unknown_event,
    _not_a_date,
    _not_a_number,
    _blank_tool,
    _duplicate,
)
