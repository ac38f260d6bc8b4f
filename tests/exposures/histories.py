"""Small invented histories as cells of text, and the way from there to exposures."""

import dataclasses
import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from wearfit.exposures.build import build_exposures
from wearfit.exposures.live import LiveTools, build_live
from wearfit.exposures.table import Exposures
from wearfit.records.assemble import assemble
from wearfit.records.identity import Row
from wearfit.records.readers.grid import Grid
from wearfit.records.records import Records
from wearfit.records.sheets.interpret import interpret
from wearfit.records.tables import TABLES

Cells = Mapping[str, str]
Array = np.ndarray

PLANTS: Sequence[Cells] = ({"plant_id": "Heath", "conditioned": "1"}, {"plant_id": "Salt Quay", "conditioned": "1"})
RESINS: Sequence[Cells] = (
    {"resin_id": "R1", "family": "ABS"},
    {"resin_id": "R2", "family": "PA66", "filler_pct": "30", "filler_kind": "GF"},
)


def tool(tool_id: str = "T1", **cells: str) -> Cells:
    return {"tool_id": tool_id, "commissioned_on": "2020-01-01", "service_class": "103", "cavity_steel": "prehard", **cells}


def run(started_on: str, ended_on: str, shots: float = 1000, tool_id: str = "T1", **cells: str) -> Cells:
    return {
        "tool_id": tool_id,
        "plant_id": "Heath",
        "resin_id": "R1",
        "started_on": started_on,
        "ended_on": ended_on,
        "shots": str(shots),
        **cells,
    }


def event(date: str, event: str, tool_id: str = "T1", **cells: str) -> Cells:
    return {"tool_id": tool_id, "date": date, "event": event, **cells}


def rows_of(tables: Mapping[str, Sequence[Cells]]) -> list[Row]:
    grids = []
    for name, cells in tables.items():
        header = list(TABLES[name].names)
        grids.append(Grid(f"{name}.csv", name, [header, *([row.get(column, "") for column in header] for row in cells)]))
    upload = interpret("history", [], grids)
    assert not [finding for finding in upload.findings if finding.severity == "set_aside"]
    return list(upload.rows)


def records_of(
    runs: Sequence[Cells],
    events: Sequence[Cells] = (),
    tools: Sequence[Cells] = (tool(),),
    as_of: str = "2021-12-31",
    **others: Sequence[Cells],
) -> Records:
    """Records in use at the end of a day; plants and resins are described unless given another way."""
    tables = {"tools": tools, "runs": runs, "events": events, "plants": PLANTS, "resins": RESINS, **others}
    empty = [name for name, rows in tables.items() if not rows]
    return assemble(rows_of(tables), empty).as_of(dt.date.fromisoformat(as_of))


def exposures_of(
    runs: Sequence[Cells],
    events: Sequence[Cells] = (),
    tools: Sequence[Cells] = (tool(),),
    as_of: str = "2021-12-31",
    **others: Sequence[Cells],
) -> Exposures:
    return build_exposures(records_of(runs, events, tools, as_of, **others))


def state_of(records: Records) -> tuple[Exposures, LiveTools]:
    exposures = build_exposures(records)
    return exposures, build_live(records, exposures)


def live_of(
    runs: Sequence[Cells],
    events: Sequence[Cells] = (),
    tools: Sequence[Cells] = (tool(),),
    as_of: str = "2021-12-31",
    **others: Sequence[Cells],
) -> LiveTools:
    return state_of(records_of(runs, events, tools, as_of, **others))[1]


def shots_by_part(exposures: Exposures) -> list[list[float]]:
    """Shots of each row of the likelihood: before the records, while known to be good, after."""
    cells = exposures.cells
    return [
        [float(cells.shots[(cells.episode == row) & (cells.part == part)].sum()) for part in range(3)]
        for row in range(len(exposures.history.source))
    ]


def shots_by_life(exposures: Exposures) -> list[float]:
    """Shots of each row of the likelihood in all."""
    return [sum(parts) for parts in shots_by_part(exposures)]


def arrays_of(value: Any, name: str = "") -> dict[str, Any]:
    """Every field of a tree of dataclasses by its path."""
    if not dataclasses.is_dataclass(value):
        return {name: value}
    found: dict[str, Any] = {}
    for field in dataclasses.fields(value):
        found |= arrays_of(getattr(value, field.name), f"{name}.{field.name}" if name else field.name)
    return found


def assert_same(one: Any, other: Any, but: Sequence[str] = ()) -> None:
    """Equal to the last bit, but for the fields named."""
    first, second = arrays_of(one), arrays_of(other)
    assert first.keys() == second.keys()
    for name, value in first.items():
        if name in but:
            continue
        if isinstance(value, np.ndarray):
            np.testing.assert_array_equal(value, second[name], err_msg=name, strict=True)
        else:
            assert value == second[name], name
