"""Where headers and records stand: titles, two-line headers, totals and footers, tables below and beside each other."""

import random

import pytest
from grids import AS_IT_STANDS, checked, columns, grid, only, said, typed
from hypothesis import given
from hypothesis import strategies as st

from wearfit.errors import Refusal
from wearfit.records.readers.grid import Grid
from wearfit.records.sheets.body import CHUNK
from wearfit.records.sheets.header_units import is_unit_line
from wearfit.records.sheets.headers import text_of
from wearfit.records.sheets.layout import count_words
from wearfit.records.sheets.locate import locate
from wearfit.records.tables import TABLES

RUN_COLUMNS = {0: "tool_id", 1: "plant_id", 2: "resin_id", 3: "started_on", 4: "ended_on", 5: "shots"}
RUN_HEADER = "tool_id|plant_id|resin_id|started_on|ended_on|shots"
RUN = "T1|Heath|R1|2020-01-10|2020-01-19|1000"


def run_row(tool_id: str = "T1") -> list[str]:
    return RUN.replace("T1", tool_id).split("|")


def test_titles_above_the_header_are_quoted_once():
    sheet = grid("runs", f"\nNorthfield tooling\nprinted on 3 March 2024\n\n{RUN_HEADER}\n{RUN}")
    (region,), (finding,) = locate([sheet], AS_IT_STANDS)
    assert list(region.body) == [4]
    assert columns(region) == RUN_COLUMNS
    assert finding.severity == "note"
    assert "Rows 1 to 2" in finding.problem
    assert "'Northfield tooling / printed on 3 March 2024'" in finding.problem


def test_rows_above_the_header_that_look_like_records_are_not_passed_over_in_a_note():
    sheet = grid("runs", f"T0|Heath|R1|2019-01-10|2019-01-19|1000\nT1|Heath|R1|2019-02-10|2019-02-19|1000\n{RUN_HEADER}\n{RUN}")
    (region,), (finding,) = locate([sheet], AS_IT_STANDS)
    assert list(region.body) == [3]
    assert (finding.severity, finding.problem[:11]) == ("set_aside", "Rows 1 to 2")


def test_a_title_that_speaks_of_thousands_is_told():
    _, findings = locate([grid("runs", f"all counts in thousands\n{RUN_HEADER}\n{RUN}")], AS_IT_STANDS)
    assert any("stand in thousands" in finding.problem for finding in findings)


@pytest.mark.parametrize("rows", [39, 40])
def test_the_header_is_looked_for_in_the_first_forty_rows(rows: int):
    sheet = grid("runs", "title\n" * rows + f"{RUN_HEADER}\n{RUN}")
    if rows < 40:
        assert list(only(sheet).body) == [40]
    else:
        with pytest.raises(Refusal, match="has no column tool_id"):
            only(sheet)


TWO_LINES = ["Tool | Plant | Resin | Run |    | Good", "No. |  | grade | from | to | parts"]


def test_a_header_of_two_lines_is_joined_where_blanks_follow_a_group():
    region = only(grid("runs", "\n".join([*TWO_LINES, RUN])))
    assert columns(region) == {**RUN_COLUMNS, 5: "parts"}
    assert list(region.body) == [2]


def test_a_header_of_two_lines_is_joined_over_merged_cells():
    text = "Log|||||\nTool No.|Site|Material|Run||Strokes\n|||from|to|\n" + RUN
    merged = ((0, 0, 0, 5), (1, 3, 1, 4), *((1, column, 2, column) for column in (0, 1, 2, 5)))
    region = only(grid("runs", text, merged))
    assert columns(region) == RUN_COLUMNS
    assert list(region.body) == [3]


def test_a_group_that_says_more_than_its_columns_is_not_dropped():
    text = "tool_id|plant_id|resin_id|Planned||Actual||shots\n|||start|end|start|end|\nT1|a|b|1.1.20|2.1.20|1.1.20|2.1.20|5"
    with pytest.raises(Refusal, match="has no column started_on"):
        only(grid("runs", text))


def test_a_line_of_units_belongs_to_the_header():
    region = only(grid("readings", "Tool|Date|Feature|Value|Limit\n|dd.mm.yyyy||mm|mm\nT1|1.2.2020|gate|1|2"))
    assert list(region.body) == [2]
    assert only(grid("climate", "plant_id|month|temp_c|rh_pct\n||°F|%\na|2020-01|50|60")).conversions["temp_c"].unit == "°F"


def test_blank_rows_do_not_end_a_table_and_totals_are_quoted():
    text = f"""
{RUN_HEADER}
{RUN}

Subtotal 2020|||||1000
{RUN}
||||Sum:|1000
T2|Heath|R1|2020-02-10|2020-02-19|

Grand total|||||2000
|||||2000
Prepared by J. Doe
Page 1 of 3
"""
    (region,), findings = locate([grid("runs", text)], AS_IT_STANDS)
    assert list(region.body) == [1, 4, 6]
    assert [finding.row for finding in findings] == [4, 6, 9, 10, 11, 12]
    assert {finding.severity for finding in findings} == {"note"}
    quoted = ["Subtotal 2020 | 1000", "Sum: | 1000", "Grand total | 2000", "2000", "Prepared by J. Doe", "Page 1 of 3"]
    assert [finding.value for finding in findings] == quoted
    assert all(f"'{finding.value}'" in finding.problem for finding in findings)


@pytest.mark.parametrize(
    "row",
    [
        "Total Cap|Heath|R1|2020-01-10|2020-01-19|1000",  # a tool may be called so
        "Sum-7|Heath|R1|2020-01-10|2020-01-19|",
        "T9||||2020-01-19|1000",
        "|Heath|R1|2020-01-10|2020-01-19|1000",
        "T9|||||",
        "T9|Heath||||",
        "Mould|Heath|R1|2020-01-10|2020-01-19|1000",
        "Note 5|Heath|R1|2020-01-10|2020-01-19|1000",
    ],
)
def test_what_may_be_a_record_is_left_to_be_read(row: str):
    for text in (f"{RUN_HEADER}\n{RUN}\n{row}\n{RUN}", f"{RUN_HEADER}\n{RUN}\n{row}"):
        region = only(grid("runs", text))
        assert 2 in region.body


@pytest.mark.parametrize("name", ["Key Point", "Source Hill", "Max", "Notes Lane", "Page Mill", "Total Works"])
def test_a_plant_may_be_called_almost_anything(name: str):
    assert list(only(grid("plants", f"plant_id\nHeath\n{name}\nQuay")).body) == [1, 2, 3]


@pytest.mark.parametrize("word", ["Total", "Summe", "Gesamt", "Gesamtsumme:", "Zwischensumme"])
def test_a_total_is_told_by_its_word_in_german_too(word: str):
    (region,), (finding,) = locate([grid("runs", f"{RUN_HEADER}\n{RUN}\n{word}|||||1000\n{RUN}")], AS_IT_STANDS)
    assert list(region.body) == [1, 3]
    assert finding.problem.startswith(f"The row '{word} | 1000' is a total")


def test_lines_below_a_list_of_names_are_no_names():
    assert list(only(grid("plants", "plant_id\nHeath\nTotal\nPrinted on 3 March\nPage 1 of 2")).body) == [1]


def test_many_lines_that_are_no_records_are_counted_after_the_first_twenty():
    rows = [line for number in range(30) for line in (run_row(f"T{number}"), [f"Subtotal {number}"])]
    (region,), findings = locate([Grid("runs.csv", "runs", [RUN_HEADER.split("|"), *rows])], AS_IT_STANDS)
    assert len(region.body) == 30
    assert len(findings) == 21
    assert findings[-1].problem.startswith("10 more rows, from row 43 to row 61,")


def test_a_header_printed_again_is_skipped_without_a_word():
    two = "\n".join(TWO_LINES)
    for header in (RUN_HEADER, two):
        (region,), findings = locate([grid("runs", f"{header}\n{RUN}\n{RUN}\n\n{header}\n{RUN}")], AS_IT_STANDS)
        assert len(region.body) == 3
        assert said(findings, "header") == []


def test_tables_below_each_other_are_regions_of_their_own():
    text = f"Tools\ntool_id|commissioned_on\nT1|2020-01-01\n\nRuns\n{RUN_HEADER}\n{RUN}\ntool_id|date|event\nT1|2020-02-01|service"
    regions, findings = locate([grid("everything", text)], AS_IT_STANDS)
    assert [(region.table.name, list(region.body)) for region in regions] == [("tools", [2]), ("runs", [6]), ("events", [8])]
    assert len(said(findings, "as its columns say")) == 3
    assert [finding.row for finding in said(findings, "'Runs'")] == [5]


def test_a_second_header_of_the_same_table_may_order_its_columns_anew():
    text = f"{RUN_HEADER}\n{RUN}\n\nshots|started_on|ended_on|resin_id|plant_id|tool_id\n1000|2020-01-10|2020-01-19|R1|Heath|T1"
    regions, _ = locate([grid("runs", text)], AS_IT_STANDS)
    assert [list(region.body) for region in regions] == [[1], [4]]
    assert columns(regions[1])[5] == "tool_id"


def test_a_part_under_a_header_that_lacks_columns_is_not_read_as_the_table_above():
    text = "tool_id|commissioned_on\nT1|2020-01-01\n\ntool_id|date|cause|cost\nT1|2020-02-01|wear|5\nT2|2020-02-01|wear|5"
    (region,), findings = locate([grid("tools", text)], AS_IT_STANDS)
    assert list(region.body) == [1]
    (finding,) = findings
    assert (finding.table, finding.row, finding.severity) == ("events", None, "set_aside")
    assert finding.problem == "Rows 5 to 6 stand under the header in row 4, which lacks the column event of events, and were not read."


def test_tables_side_by_side_are_regions_of_their_own():
    text = "tool_id|commissioned_on|Rack||plant_id|latitude\nT1|2020-01-01|A||Heath|50\nT2|2020-01-01|B||Quay|51\nT3|2020-01-01|C||"
    tools, plants = locate([grid("lists", text)], AS_IT_STANDS)[0]
    assert (tools.table.name, tools.first, tools.end, list(tools.body)) == ("tools", 0, 3, [1, 2, 3])
    assert (plants.table.name, plants.first, plants.end, list(plants.body)) == ("plants", 4, 6, [1, 2])
    assert dict(tools.unknown) == {2: "Rack"}
    assert columns(plants) == {4: "plant_id", 5: "latitude"}


def test_tables_side_by_side_may_begin_in_different_rows():
    text = "tool_id|commissioned_on||\nT1|2020-01-01||plant_id|latitude\nT2|2020-01-01||Heath|50"
    regions, _ = locate([grid("lists", text)], AS_IT_STANDS)
    assert [(region.table.name, list(region.body)) for region in regions] == [("tools", [1, 2]), ("plants", [2])]


def test_tables_side_by_side_above_a_wide_one():
    text = f"tool_id|commissioned_on||plant_id|latitude|\nT1|2020-01-01||Heath|50|\nT2|2020-01-01||||\n\n{RUN_HEADER}\n{RUN}\n{RUN}"
    regions, _ = locate([grid("lists", text)], AS_IT_STANDS)
    found = [(region.table.name, list(region.body), region.first, region.end) for region in regions]
    assert found == [("tools", [1, 2], 0, 2), ("plants", [1], 3, 6), ("runs", [5, 6], 0, 6)]
    assert columns(regions[0]) == {0: "tool_id", 1: "commissioned_on"}


def test_a_blank_column_inside_one_table_does_not_split_it():
    region = only(grid("tools", "tool_id|commissioned_on||coating\nT1|2020-01-01||chrome"))
    assert columns(region) == {0: "tool_id", 1: "commissioned_on", 3: "coating"}
    assert dict(region.unknown) == {}


def test_a_table_that_does_not_begin_in_the_first_column():
    region = only(grid("tools", "||\n|tool_id|commissioned_on\n1|T1|2020-01-01\n2|T2|2020-01-01"))
    assert columns(region) == {1: "tool_id", 2: "commissioned_on"}
    assert dict(region.unknown) == {0: "column 1"}


def test_the_end_of_a_text_file_is_that_of_its_header_and_of_a_workbook_that_of_the_sheet():
    text = "tool_id|commissioned_on|\nT1|2020-01-01||stray"
    assert (only(grid("tools", text)).end, dict(only(grid("tools", text)).unknown)) == (3, {})
    region = only(typed("tools", ["tool_id", "commissioned_on"], ["T1", "2020-01-01", "", "a remark"], [104.0, "2020-01-01", "", 0.0]))
    assert (region.end, dict(region.unknown)) == (4, {3: "column 4"})


def test_numbers_of_a_workbook_are_filled_cells_though_they_be_naught():
    region = only(typed("climate", ["plant_id", "month", "temp_c", "rh_pct"], ["a", "2020-01", 0.0, 0.0], [0.0, "2020-02", 0.0, 1.0]))
    assert list(region.body) == [1, 2]


@pytest.mark.parametrize("odd", ["Subtotal", "tool_id", ""])
def test_a_row_that_is_no_record_is_found_wherever_it_stands_in_a_long_sheet(odd: str):
    rng = random.Random(7)
    places = [0, 1, CHUNK - 2, CHUNK - 1, CHUNK, 2 * CHUNK + 5, 4 * CHUNK - 1]
    for place in places:
        rows = [run_row(f"T{rng.randrange(50)}") for _ in range(4 * CHUNK)]
        rows[place] = RUN_HEADER.split("|") if odd == "tool_id" else [odd, "", "", "", "", "5" if odd else ""]
        region = only(Grid("runs.csv", "runs", [RUN_HEADER.split("|"), *rows]))
        assert set(range(1, 4 * CHUNK + 1)) - set(region.body) == {place + 1}


WORDS = ("tool_id", "Tool", "plant_id", "commissioned_on", "date", "event", "month", "temp_c", "rh_pct", "shots", "from", "to", "Total",
         "Page 1 of 2",
         "2020-01-01", "5", "", "", " ", "x", "note: y", "°C", "Shots [k]", "\u200b", "resin_id", "family", "parts")  # fmt: skip
CELLS = st.one_of(st.sampled_from(WORDS), st.floats(), st.text(max_size=6))
MERGED = st.lists(st.tuples(*[st.integers(0, 7)] * 4), max_size=3).map(tuple)


@checked
@given(
    st.lists(st.lists(CELLS, max_size=9), max_size=14),
    st.sampled_from((*TABLES, "Tool list", "shot log", "Sheet1", "plants 2", "x")),
    MERGED,
    st.booleans(),
)
def test_any_sheet_is_read_or_refused_and_no_filled_row_is_lost(rows: list, name: str, merged: tuple, headed: bool):
    if headed:
        rows = [["tool_id", "date", "event", "note"], *rows, ["plant_id", "latitude"], *rows]
    sheet = Grid(f"{name}.csv", name, rows, merged)
    try:
        regions, findings = locate([sheet], AS_IT_STANDS)
    except Refusal as refusal:
        sentences = [refusal.problem, refusal.repair]
        regions, findings = (), ()
    else:
        sentences = [sentence for finding in findings for sentence in (finding.problem, finding.repair)]
    assert all(sentence.endswith(".") and sentence.isprintable() for sentence in sentences)
    if not regions:
        return
    bodies = [row for region in regions for row in region.body]
    told = {finding.row - 1 for finding in findings if finding.row}
    spans = [finding.problem.split() for finding in findings if finding.problem.startswith(("Rows ", "Row "))]
    for words in spans:
        last = int(words[3]) if words[0] == "Rows" else int(words[1])
        told |= set(range(int(words[1]) - 1, last))
    for region in regions:
        assert region.first <= min(region.known) and max(region.known) < region.end
        assert set(region.known).isdisjoint(region.unknown)
        labels = list(region.unknown.values())
        assert len(set(labels)) == len(labels) and set(labels).isdisjoint(region.table.names)
        assert list(region.body) == sorted(set(region.body))
        assert {column.name for column in region.known.values()} >= {c.name for c in region.table.columns if c.required}
    left = [row for at, row in enumerate(rows) if at not in bodies and at not in told and any(map(text_of, row))]
    # What is in no body and in no finding can only be a header: its cells name columns or units.
    assert all(count_words(row, AS_IT_STANDS) or all(is_unit_line(text_of(cell)) for cell in row) for row in left)
    assert len({tuple(map(text_of, row)) for row in left}) <= 3 * len(regions)
    assert all(len(finding.value or "") <= 200 for finding in findings)


@checked
@given(st.data())
def test_rows_with_their_cells_filled_are_always_records(data: st.DataObject):
    words = st.sampled_from(("Total", "Page 1 of 2", "T1", "note: y", "tool", "Sum", "x"))
    days = st.sampled_from(("2020-01-01", "1.2.20", "Mar 3, 2024"))
    rows = data.draw(st.lists(st.tuples(words, words, words, days, days, st.just("5")).map(list), max_size=12))
    junk = data.draw(st.lists(st.sampled_from((["Total"], [""], ["Printed on", "3.3.2024"], ["", "", "", "", "", "99"])), max_size=12))
    mixed = data.draw(st.permutations([*rows, *junk]))
    region = only(Grid("runs.csv", "runs", [RUN_HEADER.split("|"), *mixed]))
    assert {number for number, row in enumerate(mixed, start=1) if row in rows and len(row) == 6 and row[0]} <= set(region.body)
