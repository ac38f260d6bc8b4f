"""Cells that cannot be read: which cost the cell alone, and which the row."""

import pytest
from fleets import event, read_of, region_of, run, tool

READING = {"tool_id": "T1", "date": "2024-01-01", "feature": "gate", "value": "<0.02", "limit": "0.2"}


def test_an_unreadable_cell_that_may_be_blank_costs_the_cell_and_another_the_row():
    tools = read_of(region_of("tools", [tool(cavities="four", history_from="spring 2020"), tool("T2", commissioned_on="?")]))
    assert [row.values["tool_id"] for row in tools.rows] == ["T1"] and "cavities" not in tools.rows[0].values
    assert [(f.row, f.column, f.severity) for f in tools.findings] == [
        (2, "cavities", "repaired"), (2, "history_from", "repaired"), (3, "commissioned_on", "set_aside"),
    ]  # fmt: skip
    assert tools.findings[0].problem == "cavities 'four' is not a plain number. The cell is taken as blank. A blank there means 1."
    assert tools.findings[1].problem.endswith("The cell is taken as blank.")


@pytest.mark.parametrize(
    ("table", "row"),
    [
        ("runs", {"setups": "two", "scrap_parts": "a few", "cycle_time_s": "0", "active_cavities": "3 of 4"}),
        ("events", {"back_on": "soon", "due_on": "31/31/2024", "last_good_on": "spring", "shots_at": "~100k", "cost": "4-5 k"}),
        ("events", {"preserved": "perhaps", "renewed_share": "half"}),
        ("readings", {"resolution": "fine"}),
        ("plants", {"latitude": "north", "conditioned": "partly"}),
    ],
)
def test_a_row_is_used_without_what_cannot_be_read_in_it(table: str, row: dict[str, str]):
    full = {
        "runs": run("2024-01-01", "2024-01-02"), "events": event("2024-01-01", "retool"), "plants": {"plant_id": "Heath"},
        "readings": READING,
    }[table]  # fmt: skip
    sheet = read_of(region_of(table, [{**full, **row}]))
    assert [dict(read.values) for read in sheet.rows] == [full]
    assert {(f.row, f.column, f.severity) for f in sheet.findings} == {(2, column, "repaired") for column in row}
    assert all("The cell is taken as blank." in f.problem for f in sheet.findings)


@pytest.mark.parametrize(
    ("table", "row", "column"),
    [
        ("readings", {**READING, "new_value": "two"}, "new_value"),
        ("climate", {"plant_id": "Heath", "month": "2024-01", "temp_c": "9", "rh_pct": "80", "place": "in the shed"}, "place"),
        ("climate", {"plant_id": "Heath", "month": "2024-13", "timestamp": "2024-01-01T12:00", "temp_c": "9", "rh_pct": "80"}, "month"),
        ("plan", {"month": "2024-01", "tool_id": "T\x071", "design_id": "D1", "shots": "9"}, "tool_id"),
    ],
)  # fmt: skip
def test_a_row_that_would_say_something_else_with_a_blank_is_set_aside(table: str, row: dict[str, str], column: str):
    sheet = read_of(region_of(table, [row]))
    assert sheet.rows == ()
    assert [(f.column, f.severity) for f in sheet.findings] == [(column, "set_aside")]
    assert "blank" not in sheet.findings[0].problem


def test_of_columns_of_which_one_must_be_filled_one_that_cannot_be_read_is_blank_where_the_other_is_filled():
    rows = [
        run("2024-01-01", "2024-01-02", "1 box", parts="400"), run("2024-02-01", "2024-02-02", "100", parts="1 box"),
        run("2024-03-01", "2024-03-02", "1 box"), run("2024-04-01", "2024-04-02", "1 box", parts="2 boxes"),
        run("2024-05-01", "2024-05-02", "", parts="2 boxes"),
    ]  # fmt: skip
    sheet = read_of(region_of("runs", rows))
    assert [(row.row, row.values.get("shots"), row.values.get("parts")) for row in sheet.rows] == [(2, None, "400"), (3, "100", None)]
    assert [(f.row, f.column, f.severity) for f in sheet.findings] == [
        (2, "shots", "repaired"), (3, "parts", "repaired"), (4, "shots", "set_aside"), (5, "shots", "set_aside"), (5, "parts", "set_aside"),
        (6, "parts", "set_aside"),
    ]  # fmt: skip
