"""Small invented fleets as sheets of cells, and the way from there to records."""

import datetime as dt
from collections.abc import Mapping, Sequence

from hypothesis import strategies as st
from random_examples import examples

from wearfit.records.assemble import assemble
from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.identity import Row
from wearfit.records.readers.grid import Cell, Grid
from wearfit.records.records import Records
from wearfit.records.sheets.interpret import read_regions
from wearfit.records.sheets.region import Region
from wearfit.records.sheets.sheet import Sheet
from wearfit.records.tables import TABLES

checked = examples(12)

Cells = Mapping[str, str]
Sheets = Mapping[str, Sequence[Cells]]


def tool(tool_id: str = "T1", **cells: str) -> Cells:
    return {"tool_id": tool_id, "commissioned_on": "2020-01-01", "service_class": "103", **cells}


def run(started_on: str, ended_on: str, shots: str = "1000", tool_id: str = "T1", **cells: str) -> Cells:
    return {
        "tool_id": tool_id, "plant_id": "Heath", "resin_id": "R1", "started_on": started_on, "ended_on": ended_on, "shots": shots, **cells,
    }  # fmt: skip


def event(date: str, event: str, tool_id: str = "T1", **cells: str) -> Cells:
    return {"tool_id": tool_id, "date": date, "event": event, **cells}


PLANTS: Sequence[Cells] = ({"plant_id": "Heath"}, {"plant_id": "Salt Quay"})
RESINS: Sequence[Cells] = (
    {"resin_id": "R1", "family": "ABS"},
    {"resin_id": "R2", "family": "PA66", "filler_pct": "30", "filler_kind": "GF"},
)


def fleet(**tables: Sequence[Cells]) -> dict[str, Sequence[Cells]]:
    """One tool with one run and one service, plants and resins described; each table can be given another way."""
    base: dict[str, Sequence[Cells]] = {
        "tools": [tool()],
        "runs": [run("2020-01-10", "2020-01-19")],
        "events": [event("2020-02-01", "service")],
        "plants": PLANTS,
        "resins": RESINS,
    }
    return {**base, **tables}


def region_of(name: str, rows: Sequence[Mapping[str, Cell]], source: str = "", semicolons: bool = False) -> Region:
    """A sheet with the columns of a table under their own names, the header in row 1."""
    table = TABLES[name]
    needed = [*(c.name for c in table.columns if c.required), *(group[0] for group in table.one_of)]
    header = list(dict.fromkeys([*needed, *(column for row in rows for column in row)]))
    known = {place: table.column(column) for place, column in enumerate(header) if column in table.names}
    unknown = {place: column for place, column in enumerate(header) if column not in table.names}
    cells: list[list[Cell]] = [list(header), *([row.get(column, "") for column in header] for row in rows)]
    grid = Grid(source or f"{name}.csv", name, cells, semicolons=semicolons)
    return Region(table, grid, known, unknown, range(1, len(cells)), 0, len(header))


def read_of(*regions: Region, choices: Choices | None = None, today: dt.date | None = None) -> Sheet:
    """What one upload of the regions says, all tables together."""
    rows, findings, counts = read_regions(regions, choices or Choices(), today)
    return Sheet(rows, tuple(findings), sum(counts.values()))


def sheet_of(name: str, rows: Sequence[Cells]) -> Sheet:
    return read_of(region_of(name, rows))


def rows_of(sheets: Sheets) -> list[Row]:
    """Rows of one upload, table by table in the order given."""
    rows = read_of(*(region_of(name, some) for name, some in sheets.items())).rows
    return [row for name in sheets for row in rows if row.table == name]


def records_of(sheets: Sheets) -> Records:
    empty = [name for name, rows in sheets.items() if not rows]
    return assemble(rows_of(sheets), empty)


def about(findings: Sequence[Finding], table: str, column: str | None) -> list[Finding]:
    return [finding for finding in findings if (finding.table, finding.column) == (table, column)]


def csv_of(rows: Sequence[Cells]) -> str:
    """A CSV text of cells that hold neither comma nor quote."""
    header = list(dict.fromkeys(column for row in rows for column in row))
    return "\n".join([",".join(header), *(",".join(row.get(column, "") for column in header) for row in rows)]) + "\n"


TOOL_IDS = ("T1", "T2", "Ł 3")
DAYS = st.dates(dt.date(2019, 11, 1), dt.date(2021, 12, 31)).map(dt.date.isoformat)
NUMBERS = st.one_of(st.integers(1, 99_999).map(str), st.floats(0.5, 1e6).map(repr))


def _optional(values: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    return st.one_of(st.just(""), values)


@st.composite
def _runs(draw: st.DrawFn) -> Cells:
    start = dt.date.fromisoformat(draw(DAYS))
    end = start + dt.timedelta(draw(st.integers(-1, 60)))
    shots = draw(_optional(NUMBERS))
    return {
        "tool_id": draw(st.sampled_from((*TOOL_IDS, "lost"))),
        "plant_id": draw(st.sampled_from(("Heath", "Salt Quay"))),
        "resin_id": draw(st.sampled_from(("R1", "R2"))),
        "started_on": start.isoformat(),
        "ended_on": end.isoformat(),
        "shots": shots,
        "parts": draw(NUMBERS) if not shots else draw(_optional(NUMBERS)),
        "scrap_parts": draw(_optional(NUMBERS)),
        "setups": draw(_optional(st.integers(0, 4).map(str))),
        "their own": draw(_optional(st.just("kept"))),
    }


_TOOLS = st.fixed_dictionaries(
    {"commissioned_on": DAYS, "service_class": _optional(st.sampled_from(("101", "105", "7"))), "cavities": _optional(st.just("4"))}
)
_EVENTS = st.fixed_dictionaries(
    {
        "tool_id": st.sampled_from((*TOOL_IDS, "lost")),
        "date": DAYS,
        "event": st.sampled_from(TABLES["events"].column("event").choices),
        "cause": _optional(st.sampled_from((*TABLES["events"].column("cause").choices, "boredom"))),
        "last_good_on": _optional(DAYS),
        "back_on": _optional(DAYS),
        "due_on": _optional(DAYS),
        "note": _optional(st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=8)),
    }
)
_READINGS = st.fixed_dictionaries(
    {
        "tool_id": st.sampled_from(TOOL_IDS), "date": DAYS, "feature": st.sampled_from(("gate", "step")),
        "value": st.sampled_from(("<0.02", "0.05", "-0.1", "1e-3")), "limit": st.just("0.2"),
    }
)  # fmt: skip


_COUNTS = st.fixed_dictionaries({"tool_id": st.sampled_from(TOOL_IDS), "date": DAYS, "counter_shots": NUMBERS})


@st.composite
def fleets(draw: st.DrawFn) -> dict[str, Sequence[Cells]]:
    """Fleets with faults of many kinds, each tool there once and each event once."""
    return {
        "tools": [{"tool_id": name, **draw(_TOOLS)} for name in TOOL_IDS],
        "runs": draw(st.lists(_runs(), max_size=8)),
        "events": draw(st.lists(_EVENTS, max_size=8, unique_by=lambda row: (row["tool_id"], row["date"], row["event"]))),
        "readings": draw(st.lists(_READINGS, max_size=4)),
        "counter": draw(st.lists(_COUNTS, max_size=3, unique_by=lambda row: (row["tool_id"], row["date"]))),
        "plants": PLANTS,
        "resins": RESINS,
    }
