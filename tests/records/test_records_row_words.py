"""Columns of units, status, kind and currency beside the numbers that they speak of."""

import pytest
from grids import AS_IT_STANDS, grid

from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.identity import Row
from wearfit.records.sheets.interpret import read_regions
from wearfit.records.sheets.locate import locate

HEADER = "tool_id|plant_id|resin_id|started_on|ended_on"


def _read(
    columns: str, *rows: str, table: str = "runs", header: str = HEADER, choices: Choices = AS_IT_STANDS
) -> tuple[list[Row], list[Finding]]:
    lines = [f"T1|Heath|R1|2020-0{at}-10|2020-0{at}-19|{row}" if table == "runs" else row for at, row in enumerate(rows, start=1)]
    regions, located = locate([grid(table, "\n".join([f"{header}|{columns}" if header else columns, *lines]))], choices)
    read, findings, counts = read_regions(regions, choices)
    assert counts[table] == len(rows)
    return read, [*located, *findings]


def _counts(rows: list[Row]) -> list[tuple[str, str]]:
    return [(name, row.values[name]) for row in rows for name in ("shots", "parts", "counter_shots") if name in row.values]


@pytest.mark.parametrize("word", ["k", "thousand", "'000", "1000 shots", "K"])
def test_a_count_whose_unit_is_thousands_throughout_is_multiplied(word: str):
    rows, (finding,) = _read("shots|Unit", f"30|{word}", f"30.5|{word}", f"31|{word}")
    assert _counts(rows) == [("shots", "30000"), ("shots", "30500"), ("shots", "31000")]
    assert (finding.column, finding.value, finding.severity, finding.row) == ("shots", word, "repaired", None)
    assert "in 3 rows" in finding.problem and "multiplied by 1000" in finding.problem


@pytest.mark.parametrize("header", ["Unit", "UoM", "Units", "U/M", "Unit of measure", "Qty unit"])
def test_pieces_under_shots_are_parts_and_shots_under_a_quantity_are_shots(header: str):
    rows, findings = _read(f"shots|{header}", "900|pcs", "800|Pieces", "70|shots", "60|")
    assert _counts(rows) == [("parts", "900"), ("parts", "800"), ("shots", "70"), ("shots", "60")]
    (told,) = [finding for finding in findings if finding.severity == "repaired"]
    assert "'pcs' and 'Pieces' in 2 rows; there shots are read as parts" in told.problem
    rows, _ = _read(f"Qty|{header}", "900|cycles", "70|pcs", "5|EA")
    assert _counts(rows) == [("shots", "900"), ("parts", "70"), ("parts", "5")]


def test_rows_on_another_scale_than_most_are_set_aside():
    rows, (finding,) = _read("shots|Unit", "30000|shots", "30|k", "31000|shots")
    assert _counts(rows) == [("shots", "30000"), ("shots", "31000")]
    assert (finding.row, finding.column, finding.value, finding.severity) == (3, "Unit", "k", "set_aside")
    rows, findings = _read("shots|Unit", "30|k", "31|k", "31000|shots", "7|")
    assert _counts(rows) == [("shots", "30000"), ("shots", "31000")]
    assert [(f.row, f.severity) for f in findings] == [(None, "repaired"), (4, "set_aside"), (5, "set_aside")]


def test_a_unit_that_no_count_has_sets_a_row_aside_right_behind_the_count_alone():
    rows, findings = _read("shots|Unit", "300|shots", "25|kg", "7|million")
    assert len(rows) == 1 and [finding.severity for finding in findings] == ["set_aside"] * 2
    for other in ("kg", "shots"):
        rows, findings = _read("shots|Resin used|Unit", "300|80|kg", f"310|81|{other}")
        assert len(rows) == 2 and {finding.severity for finding in findings} == {"note"}


@pytest.mark.parametrize("columns", ["shots|Unit", "Unit|shots", "shots|Rack|Unit"])
def test_units_that_say_what_the_header_says_change_nothing(columns: str):
    cells = {"shots": "300", "Unit": "shots", "Rack": "7"}
    rows, findings = _read(columns, "|".join(cells[name] for name in columns.split("|")))
    assert _counts(rows) == [("shots", "300")]
    assert all(finding.severity == "note" for finding in findings)


def test_of_two_counts_the_one_to_the_left_is_meant():
    rows, findings = _read("shots|parts|Unit", "100|400|pcs", "100|400|pcs")
    assert len(rows) == 2 and findings == []
    rows, findings = _read("shots|Unit|parts", "100|pcs|400", "100|shots|400")
    assert [row.row for row in rows] == [3]
    assert "number of parts stands in a column of its own" in findings[0].problem


def test_a_counter_of_parts_is_set_aside_and_one_in_thousands_read():
    columns = "tool_id|date|counter_shots|Unit"
    rows, (finding,) = _read(columns, "T1|2020-01-31|30|k", "T1|2020-02-28|40|k", table="counter", header="")
    assert _counts(rows) == [("counter_shots", "30000"), ("counter_shots", "40000")] and finding.severity == "repaired"
    rows, (finding,) = _read(columns, "T1|2020-01-31|30|shots", "T1|2020-02-28|40|pcs", table="counter", header="")
    assert len(rows) == 1 and (finding.row, finding.severity) == (3, "set_aside")


def test_the_user_can_have_units_and_status_passed_over():
    unused = Choices(columns={"runs": {"Unit": "", "Status": ""}})
    rows, findings = _read("shots|Unit|Status", "30|k|planned", choices=unused)
    assert _counts(rows) == [("shots", "30")] and findings == []


@pytest.mark.parametrize("word", ["planned", "Cancelled", "CANCELED by customer", "forecast", "not started", "To do", "planned run"])
def test_what_was_not_done_is_set_aside(word: str):
    rows, (finding,) = _read("shots|Status", "30000|done", f"31000|{word}", "32000|")
    assert [row.row for row in rows] == [2, 4]
    assert (finding.row, finding.column, finding.value, finding.severity) == (3, "Status", word, "set_aside")
    assert "'Status' = \"\"" in finding.repair


@pytest.mark.parametrize("words", [("done", "open"), ("running", "released"), ("planned", "unplanned"), ("planned, done", "done")])
def test_other_words_of_a_status_set_nothing_aside(words: tuple[str, str]):
    rows, findings = _read("shots|Status", f"30000|{words[0]}", f"31000|{words[1]}")
    assert len(rows) == 2 and {finding.severity for finding in findings} == {"note"}


def test_an_event_that_is_only_planned_is_set_aside():
    rows, (finding,) = _read(
        "tool_id|date|event|State", "T1|2020-01-31|service|done", "T1|2020-03-31|retool|scheduled", table="events", header=""
    )
    assert [row.row for row in rows] == [2] and (finding.row, finding.severity) == (3, "set_aside")


def test_trials_and_corrections_are_noted_once_and_used():
    rows, (finding,) = _read("shots|Type", "300|production", "20|Trial run", "31|correction")
    assert len(rows) == 3 and (finding.row, finding.severity) == (None, "note")
    assert "'Trial run' in one row and 'correction' in one row" in finding.problem


def test_several_currencies_are_told_once_over_all_tables():
    tools = grid("tools", "tool_id|commissioned_on|replacement_cost|Currency\nT1|2020-01-01|5|EUR\nT2|2020-01-01|5|€")
    events = grid("events", "tool_id|date|event|cost|Currency\nT1|2020-01-01|worn|5|usd")
    _, findings = locate([tools, events], AS_IT_STANDS)
    (told,) = [finding for finding in findings if "currencies" in finding.problem]
    assert "€ (2 rows of tools.csv) and $ (one row of events.csv)" in told.problem
    _, findings = locate([tools], AS_IT_STANDS)
    assert not [finding for finding in findings if "currencies" in finding.problem]
