"""One history in many ways of writing gives the same rows: text or workbook, ISO or as the owner's country writes."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import pytest
from fleets import checked, event, region_of
from hypothesis import given
from hypothesis import strategies as st

from wearfit.errors import Refusal
from wearfit.records.choices import Choices, read_choices
from wearfit.records.identity import Row
from wearfit.records.readers.grid import Cell, Grid
from wearfit.records.sheets.interpret import interpret, read_regions
from wearfit.records.upload import digest_of

Value = str | dt.date | float | int | None
History = Mapping[str, Sequence[Mapping[str, Value]]]

# A day and a number that can be read in one way only, so that every column has one cell that tells.
TELLING_DAY = dt.date(2023, 12, 31)
SERIAL_ZERO = dt.date(1899, 12, 30)


@dataclass(frozen=True)
class Way:
    """How a country or a program writes days and numbers."""

    day: Callable[[dt.date], Cell]
    number: Callable[[float], Cell]
    semicolons: bool = False


def _grouped(value: float) -> str:
    return f"{value:,}" if value % 1 else f"{int(value):,}"


WAYS: Mapping[str, Way] = {
    "iso": Way(dt.date.isoformat, lambda value: str(int(value)) if value % 1 == 0 else repr(value)),
    "continental": Way(lambda day: day.strftime("%d.%m.%Y"), lambda value: _grouped(value).translate({44: 46, 46: 44}), semicolons=True),
    "american": Way(lambda day: f"{day.month}/{day.day}/{day.year}", _grouped),
    "year first": Way(lambda day: day.strftime("%Y/%m/%d"), lambda value: _grouped(value).replace(",", " ")),
    "named": Way(lambda day: day.strftime("%d-%b-%y"), lambda value: _grouped(value).replace(",", "'")),
    "workbook": Way(lambda day: float((day - SERIAL_ZERO).days), float),
    "workbook with days": Way(lambda day: f"{day.isoformat()} 00:00:00", float),
}


def _cell(value: Value, way: Way) -> Cell:
    if isinstance(value, dt.date):
        return way.day(value)
    if value is None or isinstance(value, str):
        return value or ""
    return way.number(float(value))


def _grids(history: History, way: Way) -> list[Grid]:
    grids = []
    for name, rows in history.items():
        header = list(dict.fromkeys(column for row in rows for column in row))
        cells: list[list[Cell]] = [list(header), *([_cell(row.get(column), way) for column in header] for row in rows)]
        grids.append(Grid(name, name, cells, semicolons=way.semicolons))
    return grids


def _said(rows: Sequence[Row]) -> list[tuple]:
    return [(row.table, row.key, row.occurrence, row.values) for row in rows]


_DAYS = st.dates(dt.date(1995, 1, 1), dt.date(2026, 12, 31))
_SHOTS = st.integers(1, 3_000_000)
_AMOUNTS = st.integers(1, 99_999_999).map(lambda cents: cents / 100)


@st.composite
def histories(draw: st.DrawFn) -> History:
    count = draw(st.integers(1, 5))
    tools = [
        {
            "tool_id": f"T{i}", "commissioned_on": draw(_DAYS), "band_low": draw(st.one_of(st.none(), _SHOTS)),
            "replacement_cost": draw(_AMOUNTS), "cavities": draw(st.integers(1, 96)),
        }
        for i in range(count)
    ]  # fmt: skip
    runs = [
        {
            "tool_id": f"T{draw(st.integers(0, count - 1))}", "plant_id": "Heath", "resin_id": "R1", "started_on": draw(_DAYS),
            "ended_on": draw(_DAYS), "shots": draw(_SHOTS), "cycle_time_s": draw(st.one_of(st.none(), st.sampled_from((12.5, 30, 8.75)))),
        }
        for _ in range(draw(st.integers(1, 6)))
    ]  # fmt: skip
    tools.append({"tool_id": "known", "commissioned_on": TELLING_DAY, "replacement_cost": 1234.5, "cavities": 2, "band_low": 5_000_000})
    runs.append(
        {**runs[0], "tool_id": "known", "started_on": TELLING_DAY, "ended_on": TELLING_DAY, "shots": 1_234_567, "cycle_time_s": 9.5}
    )
    return {"tools": tools, "runs": runs}


@checked
@given(histories())
@pytest.mark.parametrize("name", [name for name in WAYS if name != "iso"])
def test_the_same_history_gives_the_same_rows_however_it_is_written(name: str, history: History):
    plain = interpret("h", [], _grids(history, WAYS["iso"]))
    other = interpret("h", [], _grids(history, WAYS[name]))
    assert len(plain.rows) == sum(map(len, history.values()))
    assert _said(other.rows) == _said(plain.rows)
    assert other.counts == plain.counts
    assert not any(finding.severity == "set_aside" for finding in (*plain.findings, *other.findings))


@checked
@given(histories())
def test_workbooks_that_hold_days_and_numbers_leave_nothing_to_tell_of_decimals(history: History):
    findings = interpret("h", [], _grids(history, WAYS["workbook with days"])).findings
    assert not any("decimal" in finding.problem or "read as day" in finding.problem for finding in findings)


def test_an_upload_carries_what_was_handed_over():
    files = [("tools.csv", b"x"), ("a.csv", b"y")]
    grid = Grid("tools.csv", "tools", [["tool_id", "commissioned_on"], ["T1", "03/04/2024"], ["T2", "03/03/2024"]])
    upload = interpret("history", files, [grid])
    assert upload.name == "history" and upload.files == tuple(sorted(files)) and upload.digest == digest_of(files)
    assert upload.counts == {"tools": 2} and [row.row for row in upload.rows] == [3]
    chosen = interpret("history", files, [grid], choices=Choices(dates={"tools": {"commissioned_on": "day month year"}}))
    assert [row.values["commissioned_on"] for row in chosen.rows] == ["2024-04-03", "2024-03-03"]


def test_rows_of_one_table_in_two_sheets_are_counted_together():
    header = ["tool_id", "plant_id", "resin_id", "started_on", "ended_on", "shots"]
    row = ["T1", "Heath", "R1", "2024-01-01", "2024-01-02", "5"]
    grids = [
        Grid("2023.csv", "runs 2023", [header, row]),
        Grid("2024.csv", "runs 2024", [header, [*row[:3], "2025-01-01", "2025-01-02", "7"]]),
    ]
    upload = interpret("h", [], [*grids, Grid("tools.csv", "tools", [["tool_id", "commissioned_on"]])], today=dt.date(2024, 6, 1))
    assert upload.counts == {"tools": 0, "runs": 2} and upload.empty_tables == ("tools",)
    assert [(row.source, row.row) for row in upload.rows] == [("2023.csv", 2)]
    assert any(f.source == "2024.csv" and "lies in the future" in f.problem for f in upload.findings)


def test_no_table_at_all_is_refused():
    with pytest.raises(Refusal):
        interpret("h", [], [Grid("list.csv", "list", [["milk", "2"], ["bread", "1"]])])


def test_a_choice_made_for_one_sheet_holds_there_alone():
    days = [event("03.02.2020", "service"), event("04.02.2020", "service")]
    north, south = (region_of("events", days, source=source) for source in ("north.csv", "south.csv"))
    choices = read_choices('[dates.events]\ndate = "day month year"\n[dates."south.csv"]\ndate = "month day year"')
    rows, _, _ = read_regions([north, south], choices)
    assert [row.values["date"] for row in rows] == ["2020-02-03", "2020-02-04", "2020-03-02", "2020-04-02"]
