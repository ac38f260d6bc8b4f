"""Rows of a sheet: words, flags, texts and errors in its cells, what is set aside, and rows that come more than once."""

import pytest
from fleets import PLANTS, about, event, read_of, region_of, run, tool

from wearfit.records.findings import LONGEST_VALUE, Finding
from wearfit.records.readers.grid import Cell, Grid
from wearfit.records.sheets.region import Region
from wearfit.records.tables import TABLES


def test_spellings_of_the_trade_are_read_and_told_once_a_column():
    rows = [event("2024-01-01", "Retooled", cause="worn out"), event("2024-01-02", "scrapped"), event("2024-01-03", "RETOOLED")]
    sheet = read_of(region_of("events", rows))
    assert [row.values["event"] for row in sheet.rows] == ["retool", "retire", "retool"]
    assert sheet.rows[0].values["cause"] == "wear"
    (told,) = about(sheet.findings, "events", "event")
    assert (told.severity, told.row) == ("repaired", None)
    assert told.problem == "In event 'Retooled' is read as retool, 'scrapped' is read as retire, 'RETOOLED' is read as retool (3 cells)."


def test_a_word_that_can_mean_more_than_one_thing_is_not_read():
    sheet = read_of(region_of("events", [event("2024-01-01", "overhaul"), event("2024-01-02", "repair")]))
    assert sheet.rows == ()
    assert {f.severity for f in sheet.findings} == {"set_aside"}


@pytest.mark.parametrize(
    ("typed", "read"),
    [("103", "103"), ("103.0", "103"), (103.0, "103"), ("Class 103", "103"), ("class-103", "103"), ("106", "106"), ("soft", "soft")],
)
def test_service_classes(typed: Cell, read: str):
    (row,) = read_of(region_of("tools", [{**tool(), "service_class": typed}])).rows
    assert row.values["service_class"] == read


@pytest.mark.parametrize(
    ("typed", "read"),
    [("P20", "prehard"), ("pre-hardened", "prehard"), ("H13", "hard"), ("Aluminum", "aluminium"), ("BeCu", "copper_alloy")],
)
def test_steels(typed: str, read: str):
    sheet = read_of(region_of("tools", [tool(cavity_steel=typed)]))
    assert sheet.rows[0].values["cavity_steel"] == read
    assert "is read as" in sheet.findings[0].problem


def test_flags_in_words_are_told_once_a_column():
    plants = [{"plant_id": f"P{i}", "conditioned": flag} for i, flag in enumerate(("yes", "N", "x", "", "0", "1.0"))]
    sheet = read_of(region_of("plants", plants))
    assert [row.values.get("conditioned", "") for row in sheet.rows] == ["1", "0", "1", "", "0", "1"]
    (told,) = sheet.findings
    assert (told.severity, told.row) == ("note", None)
    assert "'yes' is read as 1, 'N' is read as 0, 'x' is read as 1 (3 cells)" in told.problem


def test_numbers_of_the_file_are_flags_words_and_names_without_a_point():
    row = {"tool_id": 104.0, "commissioned_on": 45351.0, "service_class": 103.0, "maker_id": 7.5}
    (read,) = read_of(region_of("tools", [row])).rows
    assert read.values == {"tool_id": "104", "commissioned_on": "2024-02-29", "service_class": "103", "maker_id": "7.5"}
    assert read.key == '["104"]'


def test_words_for_nothing_known_are_blank_where_a_cell_may_be():
    rows = [
        run("2024-01-01", "2024-01-02", setups=word, tool_id=f"T{i}")
        for i, word in enumerate(("n/a", "-", "–", "?", "Unknown", "k.A.", "TBD"))
    ]
    sheet = read_of(region_of("runs", rows))
    assert all("setups" not in row.values for row in sheet.rows)
    (told,) = sheet.findings
    assert told.problem == "In 7 cells of setups a word that says that nothing is known is read as blank, such as 'n/a' in row 2."
    assert told.severity == "note"


def test_words_for_nothing_known_are_kept_where_they_are_names_or_free_words():
    row = {"tool_id": "-", "date": "2024-01-01", "event": "service", "note": "?", "plant_id": "NA"}
    (read,) = read_of(region_of("events", [row])).rows
    assert read.values == row
    for word in ("?", "tbd", "–", "none", "Unknown"):  # one maker of that name would make sisters of tools that are none
        assert "maker_id" not in read_of(region_of("tools", [tool(maker_id=word)])).rows[0].values
    assert "coating" in read_of(region_of("tools", [tool(coating="none")])).rows[0].values
    assert "coating" not in read_of(region_of("tools", [tool(coating="n/a")])).rows[0].values
    assert read_of(region_of("events", [event("n/a", "service")])).rows == ()


def test_errors_of_formulas():
    sheet = read_of(region_of("runs", [run("2024-01-01", "2024-01-02", scrap_parts="#DIV/0!"), run("#REF!", "2024-01-02")]))
    assert [row.row for row in sheet.rows] == [2] and "scrap_parts" not in sheet.rows[0].values
    blank, aside = sheet.findings
    assert (blank.severity, blank.row, blank.column) == ("repaired", None, "scrap_parts")
    assert aside.problem == "started_on holds '#REF!', an error of a formula." and aside.row == 3
    assert read_of(region_of("runs", [run("2024-01-01", "2024-01-02", tool_id="#N/A")])).rows == ()
    assert "maker_id" not in read_of(region_of("tools", [tool(maker_id="#NAME?")])).rows[0].values


def test_what_no_one_sees_is_taken_out_and_told_once_a_column():
    rows = [
        event("2024-01-01", "service", "T\u200b1"),
        event("2024-01-02", "service", "\ufeffT1"),
        event("2024-01-03", "service", "T\u00a01"),
    ]
    sheet = read_of(region_of("events", rows))
    assert [row.values["tool_id"] for row in sheet.rows] == ["T1", "T1", "T 1"]
    (told,) = sheet.findings
    assert (told.severity, told.row, told.column) == ("repaired", None, "tool_id")
    assert "3 cells of tool_id" in told.problem and "row 2" in told.problem
    assert read_of(region_of("events", [event("2024-01-01", "service", " T1\u00a0")])).findings == ()


def test_names_go_on_one_line_and_notes_keep_theirs():
    sheet = read_of(region_of("events", [event("2024-01-01", "service", "T1\n(new)", note="one\ntwo")]))
    assert sheet.rows[0].values["tool_id"] == "T1 (new)" and sheet.rows[0].values["note"] == "one\ntwo"
    assert [f.column for f in sheet.findings] == ["tool_id"]


def test_control_characters_and_pages_of_text_cost_a_note_and_a_name_its_row():
    rows = [
        event("2024-01-01", "service", note="bell \x07"),
        event("2024-01-02", "service", note="x" * 10_001),
        event("2024-01-03", "worn", tool_id="T\x071"),
    ]
    sheet = read_of(region_of("events", rows))
    assert [row.row for row in sheet.rows] == [2, 3] and not any("note" in row.values for row in sheet.rows)
    assert [f.severity for f in sheet.findings] == ["repaired", "repaired", "set_aside"]
    assert "U+0007" in sheet.findings[0].problem and "10,001 characters" in sheet.findings[1].problem
    assert all(f.problem.isprintable() and (f.value or "").isprintable() for f in sheet.findings)
    assert len(sheet.findings[1].value or "") == LONGEST_VALUE and (sheet.findings[1].value or "").endswith("…")


def test_formulas_as_text_stay_text():
    assert read_of(region_of("tools", [tool(coating="=1+1")])).rows[0].values["coating"] == "=1+1"


def test_names_that_differ_by_case_or_blanks_are_not_made_one():
    sheet = read_of(
        region_of("tools", [tool("T104")]), region_of("events", [event("2024-01-01", "worn", name) for name in ("t-104", "T 104")])
    )
    assert {row.values["tool_id"] for row in sheet.rows} == {"T104", "t-104", "T 104"}


def test_a_row_beyond_its_columns_is_set_aside_but_not_for_a_table_beside_it():
    cells = [["tool_id", "commissioned_on", "", "plant_id"], ["T1", "2020-01-01", "", "Heath"], ["T2", "2020-01-01", "stray", "Salt Quay"]]
    grid = Grid("both", "both", cells)
    tools, plants = TABLES["tools"], TABLES["plants"]
    left = Region(tools, grid, {0: tools.column("tool_id"), 1: tools.column("commissioned_on")}, {}, range(1, 3), 0, 2)
    right = Region(plants, grid, {3: plants.column("plant_id")}, {}, range(1, 3), 3, 4)
    sheet = read_of(left, right)
    assert [(row.table, row.row) for row in sheet.rows] == [("tools", 2), ("plants", 2), ("plants", 3)]
    (told,) = sheet.findings
    assert (told.row, told.value, told.column) == (3, "stray", None)
    assert read_of(left).rows == ()


def test_rows_that_end_early_and_blank_rows_are_no_fault():
    cells: list[list[Cell]] = [
        ["tool_id", "commissioned_on", "coating"],
        ["T1", "2020-01-01"],
        [" ", "", "\u00a0"],
        [],
        ["T2", "2020-01-01", 7.0],
    ]
    table = TABLES["tools"]
    known = {place: table.column(str(name)) for place, name in enumerate(cells[0])}
    sheet = read_of(Region(table, Grid("t", "t", cells), known, {}, range(1, 5), 0, 3))
    assert [(row.row, row.source) for row in sheet.rows] == [(2, "t"), (5, "t")]
    assert sheet.count == 2 and sheet.findings == ()


def test_unused_columns_are_kept_as_typed_but_for_what_no_cell_can_hold():
    sheet = read_of(region_of("tools", [tool(Rack=" 7 "), {**tool("T2"), "Rack": 8.0}, tool("T3", Rack="\x07")]))
    assert [row.values.get("Rack") for row in sheet.rows] == ["7", "8", None]
    (told,) = sheet.findings
    assert (told.column, told.row, told.severity) == ("Rack", None, "repaired")


def test_what_repeats_is_told_across_the_sheets_of_one_table():
    first = region_of("runs", [run("2024-01-01", "2024-01-02"), run("2024-02-01", "2024-02-02")], "2023.csv")
    second = region_of("runs", [run("2024-01-01", "2024-01-02", "1000.0"), run("2024-02-01", "2024-02-02", "7")], "2024.csv")
    sheet = read_of(first, second)
    assert [row.occurrence for row in sheet.rows] == [0, 0, 0, 1]
    same, other = sheet.findings
    assert same.problem == "The row says the same as row 2 of 2023.csv and is counted once." and same.source == "2024.csv"
    assert other.problem.startswith("Row 3 of 2023.csv has the same tool_id, plant_id, resin_id, started_on and other values; both count.")


def test_a_key_that_comes_ten_thousand_times_is_read_at_once():
    rows = [run("2024-01-01", "2024-01-02", str(i % 5_000 + 1)) for i in range(10_000)]
    sheet = read_of(region_of("runs", rows))
    assert max(row.occurrence for row in sheet.rows) == 4_999
    assert sum("counted once" in f.problem for f in sheet.findings) == 5_000


def test_blank_required_cells_and_neither_of_two_are_told_row_by_row():
    sheet = read_of(region_of("runs", [run("2024-01-01", "", ""), run("2024-01-01", "2024-01-02", "")]))
    assert [(f.row, f.column, f.problem) for f in sheet.findings] == [
        (2, "ended_on", "ended_on is blank."), (3, "shots", "Neither shots nor parts is filled in."),
    ]  # fmt: skip
    (note, aside) = read_of(region_of("runs", [run("2024-01-01", "2024-01-02", "#DIV/0!")])).findings
    assert aside.problem == "Neither shots nor parts is filled in: shots holds '#DIV/0!'." and note.severity == "repaired"


def test_findings_are_one_line_that_can_be_printed():
    finding = Finding("runs", 1, "note", "a\nb\x00" + "x" * 300, "It holds\n'\x07'.", "Mend\tit.", "note")
    assert finding.problem == "It holds '\N{REPLACEMENT CHARACTER}'." and finding.repair == "Mend it."
    assert finding.value is not None and finding.value.startswith("a b\N{REPLACEMENT CHARACTER}xx") and len(finding.value) == LONGEST_VALUE
    assert Finding(**finding.as_dict()) == finding  # type: ignore[arg-type]


def test_plain_sheets_need_no_finding():
    assert (
        read_of(region_of("plants", PLANTS), region_of("tools", [tool()]), region_of("runs", [run("2024-01-01", "2024-01-02")])).findings
        == ()
    )
