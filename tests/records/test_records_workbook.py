"""Workbooks as grids: the cells as the sheet shows them, under the sheet's own row numbers."""

import datetime as dt
import io
import os
import re
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest
import xlsxwriter
from handed_books import HIDING_STYLE, ods, ods_of_xml, sheet_xml, with_part, write_cells, xlsx, xlsx_made, xlsx_of_xml

from wearfit.errors import Refusal
from wearfit.records.findings import Finding
from wearfit.records.readers.forms import grids_of
from wearfit.records.readers.grid import Grid
from wearfit.records.readers.read import read

RUN_HEADER = ("tool_id", "plant_id", "resin_id", "started_on", "ended_on", "shots")


def read_book(content: bytes, name: str = "history.xlsx") -> tuple[Mapping[str, Grid], Sequence[Finding]]:
    grids, findings = grids_of([(name, content)])
    return {grid.name: grid for grid in grids}, findings


def only(content: bytes, name: str = "history.xlsx") -> list[tuple[str | float, ...]]:
    (grid,), _ = grids_of([(name, content)])
    return list(grid.cells)


def test_texts_are_texts_and_numbers_are_numbers_in_both_forms():
    sheets = {"runs": [["tool_id", "shots"], ["0104", 1200.0], ["", ""], ["Ł 2", 0.1]], "Tools & more": [["ü", "a\nb"]]}
    wanted = {"runs": [("tool_id", "shots"), ("0104", 1200.0), (), ("Ł 2", 0.1)], "Tools & more": [("ü", "a\nb")]}
    for name, content in (("history.xlsx", xlsx(sheets)), ("history.xlsm", xlsx(sheets))):
        grids, findings = read_book(content, name)
        assert {name: list(grid.cells) for name, grid in grids.items()} == wanted
        assert findings == () and grids["runs"].source == f"{name}, sheet runs"
    grids, findings = read_book(ods({**sheets, "Tools & more": [["ü", "a b"]]}), "history.ods")
    assert {name: list(grid.cells) for name, grid in grids.items()} == {**wanted, "Tools & more": [("ü", "a b")]}
    assert findings == ()


def test_dates_times_truths_and_errors_are_text():
    def fill(book: xlsxwriter.Workbook) -> None:
        sheet = book.add_worksheet("runs")
        day, moment = book.add_format({"num_format": "dd.mm.yy"}), book.add_format({"num_format": "dd.mm.yy hh:mm"})
        clock, length = book.add_format({"num_format": "hh:mm"}), book.add_format({"num_format": "[h]:mm"})
        sheet.write_datetime(0, 0, dt.datetime(2024, 3, 1), day)
        sheet.write_datetime(0, 1, dt.datetime(2024, 3, 1), moment)
        sheet.write_datetime(0, 2, dt.datetime(2024, 3, 1, 12, 30), moment)
        sheet.write_number(0, 3, 45352 + 29 / 48 - 1e-9, moment)  # half past two, a hair before
        sheet.write_number(0, 4, 45352.9999999, moment)
        sheet.write_number(0, 5, 0.5, clock)
        sheet.write_number(0, 6, 1.75, length)
        sheet.write_boolean(0, 7, True)
        sheet.write_boolean(0, 8, False)
        sheet.write_formula(0, 9, "=NA()", None, "#N/A")
        sheet.write_formula(0, 10, "=1/0", None, "#DIV/0!")
        sheet.write_formula(0, 11, "=1+1", None, 2)
        sheet.write_formula(0, 12, '="a"', None, "a")

    assert only(xlsx_made(fill)) == [
        ("2024-03-01", "2024-03-01", "2024-03-01T12:30:00", "2024-03-01T14:30:00", "2024-03-02", "12:00:00", "42:00:00", "1", "0",
         "#N/A", "#DIV/0!", 2.0, "a"),
    ]  # fmt: skip


def test_the_calendar_that_begins_in_1904_is_read_by_itself():
    def fill(book: xlsxwriter.Workbook, serial: int) -> None:
        book.add_worksheet("runs").write_number(0, 0, serial, book.add_format({"num_format": 14}))

    usual, other = xlsx_made(lambda book: fill(book, 45_352)), xlsx_made(lambda book: fill(book, 45_352 - 1_462))
    book = zipfile.ZipFile(io.BytesIO(other)).read("xl/workbook.xml").decode()
    other = with_part(other, "xl/workbook.xml", re.sub("<workbookPr ", '<workbookPr date1904="1" ', book))
    assert only(usual) == only(other) == [("2024-03-01",)]


def runs_of_1904() -> bytes:
    """A workbook that counts days from 1904: a run whose days are numbers that are not shown as dates, and one whose days are."""
    made = io.BytesIO()
    with xlsxwriter.Workbook(made, {"in_memory": True, "date_1904": True}) as book:
        sheet = book.add_worksheet("runs")
        write_cells(sheet, 0, RUN_HEADER)
        write_cells(sheet, 1, ["K 1", "north", "abs", 45_352.0 - 1_462, 45_353.5 - 1_462, 30_000.0])
        write_cells(sheet, 2, ["K 2", "north", "abs"])
        sheet.write_datetime(2, 3, dt.datetime(2024, 3, 1), book.add_format({"num_format": 14}))
        sheet.write_string(2, 4, "43891")
        sheet.write_number(2, 5, 9_000)
    return made.getvalue()


def ods_of_1904() -> bytes:
    days = '<table:calculation-settings><table:null-date table:date-value="1904-01-01"/></table:calculation-settings>'
    rows = [[*RUN_HEADER], ["K 1", "north", "abs", 45_352.0 - 1_462, 45_353.5 - 1_462, 30_000.0]]
    rows.append(["K 2", "north", "abs", "2024-03-01", "43891", 9_000.0])
    book = ods({"runs": rows})
    content = zipfile.ZipFile(io.BytesIO(book)).read("content.xml").decode()
    return with_part(book, "content.xml", content.replace("<office:spreadsheet>", f"<office:spreadsheet>{days}"))


@pytest.mark.parametrize(("name", "content"), [("runs.xlsx", runs_of_1904()), ("runs.ods", ods_of_1904())])
def test_numbers_of_days_count_from_the_day_of_their_workbook(tmp_path: Path, name: str, content: bytes):
    (tmp_path / name).write_bytes(content)
    rows = [row.values for row in read(tmp_path / name).rows]
    assert [(row["started_on"], row["ended_on"]) for row in rows] == [("2024-03-01", "2024-03-02")] * 2


def test_rows_and_columns_keep_the_numbers_of_the_sheet():
    def fill(book: xlsxwriter.Workbook) -> None:
        sheet = book.add_worksheet("runs")
        write_cells(sheet, 3, ["a", "b"], 2)
        write_cells(sheet, 6, [1.0], 3)

    assert only(xlsx_made(fill)) == [(), (), (), ("", "", "a", "b"), (), (), ("", "", "", 1.0)]


def test_rows_and_cells_without_an_address_count_on():
    rows = (
        "<row><c><v>1</v></c><c r='D1'><v>2</v></c><c><v>3</v></c></row><row r='4'><c t='str'><v>x</v></c></row><row><c><v>5</v></c></row>"
    )
    assert only(xlsx_of_xml(sheet_xml(rows))) == [(1.0, "", "", 2.0, 3.0), (), (), ("x",), (5.0,)]


def test_errors_and_lost_formulas_are_found_where_the_program_writes_prefixes():
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    xml = (
        f'<x:worksheet xmlns:x="{main}"><x:sheetData><x:row r="2"><x:c r="B2" t="e"><x:f>NA()</x:f><x:v>#N/A</x:v></x:c>'
        '<x:c r="C2"><x:f>A1</x:f></x:c><x:c r="D2"><x:f>A1</x:f><x:v></x:v></x:c><x:c r="E2" t="str"><x:f>""</x:f><x:v></x:v></x:c>'
        '<x:c r="F2"><x:f>1</x:f><x:v>1</x:v></x:c></x:row></x:sheetData></x:worksheet>'
    )
    grids, (told,) = read_book(xlsx_of_xml(xml))
    assert list(grids["runs"].cells) == [(), ("", "#N/A", "", "", "", 1.0)]
    assert "2 cells hold formulas without a stored result" in told.problem and "C2" in told.problem
    assert (told.severity, told.table, told.source) == ("note", "runs", "history.xlsx, sheet runs")


def test_hidden_sheets_are_marked_merged_cells_kept_and_empty_and_chart_sheets_left_out():
    def fill(book: xlsxwriter.Workbook) -> None:
        sheet = book.add_worksheet("runs")
        sheet.merge_range(0, 1, 1, 3, "title")
        for name, hide in (("old", "hide"), ("older", "very_hidden")):
            getattr(other := book.add_worksheet(name), hide)()
            other.write(0, 0, "x")
        book.add_worksheet("empty")
        chart = book.add_chart({"type": "line"})
        chart.add_series({"values": "=runs!$B$1:$B$2"})
        book.add_chartsheet("chart").set_chart(chart)

    grids, _ = read_book(xlsx_made(fill))
    assert {name: grid.hidden for name, grid in grids.items()} == {"runs": False, "old": True, "older": True}
    assert grids["runs"].merged == ((0, 1, 1, 3),)


def test_cells_with_a_format_and_no_value_reach_nowhere():
    far = "".join(f'<row r="{row}"><c r="XFD{row}" s="0"/></row>' for row in (2, 1_048_576))
    assert only(xlsx_of_xml(sheet_xml('<row r="1"><c r="A1"><v>7</v></c></row>' + far, '<dimension ref="A1:XFD1048576"/>'))) == [(7.0,)]


def test_one_sheet_under_the_name_its_program_gave_it_goes_by_the_file():
    assert set(read_book(xlsx({"Sheet1": [["a"]]}), "Tool list.xlsx")[0]) == {"Tool list"}
    assert set(read_book(ods({"Tabelle2": [["a"]]}), "runs.ods")[0]) == {"runs"}
    assert set(read_book(xlsx({"shot log": [["a"]]}), "runs.xlsx")[0]) == {"shot log"}
    assert set(read_book(xlsx({"Sheet1": [["a"]], "Sheet2": [["b"]]}), "runs.xlsx")[0]) == {"Sheet1", "Sheet2"}


ODS_BODY = """<table:tracked-changes><table:table-cell office:value-type="string"><text:p>deleted</text:p></table:table-cell></table:tracked-changes>
<table:table table:name="runs">
  <table:shapes><draw:frame><text:p>drawn</text:p></draw:frame></table:shapes>
  <table:table-column table:number-columns-repeated="16384"/>
  <table:table-row table:number-rows-repeated="2"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>
  <table:table-header-rows><table:table-row>
    <table:table-cell/>
    <table:table-cell office:value-type="string" table:number-columns-spanned="2" table:number-rows-spanned="3"><text:p>a</text:p><text:p>b
      <text:span>c</text:span><text:s text:c="2"/>d<text:line-break/>e</text:p></table:table-cell>
    <table:covered-table-cell/>
    <table:table-cell office:value-type="date" office:date-value="2024-03-01"><text:p>1.3.24</text:p></table:table-cell>
    <table:table-cell office:value-type="date" office:date-value="2024-03-01T12:29:59.9999999"><text:p>x</text:p></table:table-cell>
    <table:table-cell office:value-type="time" office:time-value="PT26H30M00S"><text:p>x</text:p></table:table-cell>
    <table:table-cell office:value-type="boolean" office:boolean-value="true"><text:p>TRUE</text:p></table:table-cell>
    <table:table-cell office:value-type="percentage" office:value="0.5"><text:p>50 %</text:p></table:table-cell>
  </table:table-row></table:table-header-rows>
  <table:table-row table:number-rows-repeated="2">
    <table:table-cell table:number-columns-repeated="2"/>
    <table:table-cell table:formula="of:=1/0" office:value-type="string" office:string-value="" calcext:value-type="error"><text:p>#DIV/0!</text:p></table:table-cell>
    <table:table-cell office:value-type="float" office:value="3" table:number-columns-repeated="2"><office:annotation><text:p>said</text:p></office:annotation><text:p>3</text:p></table:table-cell>
    <table:table-cell table:formula="of:=A1"/>
    <table:table-cell table:number-columns-repeated="16000"/>
  </table:table-row>
  <table:table-row table:number-rows-repeated="1048570"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>
</table:table>
<table:table table:name="old" table:style-name="ta2"><table:table-row><table:table-cell office:value-type="float" office:value="1"/></table:table-row></table:table>
<table:table table:name="empty"/>"""  # noqa: E501


def test_an_open_document_is_read_as_it_shows():
    grids, (told,) = read_book(ods_of_xml(ODS_BODY, HIDING_STYLE), "history.ods")
    repeated = ("", "", "#DIV/0!", 3.0, 3.0)
    assert list(grids["runs"].cells) == [
        (), (), ("", "a\nb c  d\ne", "", "2024-03-01", "2024-03-01T12:30:00", "26:30:00", "1", 0.5), repeated, repeated,
    ]  # fmt: skip
    assert grids["runs"].merged == ((2, 1, 4, 2),)
    assert {name: grid.hidden for name, grid in grids.items()} == {"runs": False, "old": True}
    assert "1 cell holds a formula" in told.problem and "F4" in told.problem


def test_content_counts_and_not_the_ending():
    (grid,), (told,) = grids_of([("tools.csv", xlsx({"tools": [["a"]]}))])
    assert grid.cells == [("a",)] and "a workbook by its content" in told.problem
    (grid,), (told,) = grids_of([("tools.xls", b"tool_id\tmade\nT1\t2\n")])
    assert list(grid.cells) == [("tool_id", "made"), ("T1", "2")] and "text by its content" in told.problem
    assert (told.severity, told.table) == ("note", "tools")


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (OLE + "EncryptedPackage".encode("utf-16-le"), "protected with a password"),
        (OLE + "Workbook".encode("utf-16-le"), "old form XLS"),
        (OLE + "WordDocument".encode("utf-16-le"), "a document of an old form"),
        (with_part(xlsx({"a": [["a"]]}), "xl/workbook.bin", b""), "XLSB"),
        (with_part(ods({"a": [["a"]]}), "encrypted-package", b""), "protected with a password"),
        (with_part(ods({"a": [["a"]]}), "META-INF/manifest.xml", "<a><manifest:encryption-data/></a>"), "protected with a password"),
        (with_part(ods({"a": [["a"]]}), "mimetype", "application/vnd.oasis.opendocument.text"), "no workbook"),
        (with_part(ods({"a": [["a"]]}), "content.xml", "<a><b></a>"), "damaged"),
        (with_part(xlsx({"a": [["a"]]}), "xl/worksheets/sheet1.xml", "<worksheet><sheetData>"), "damaged"),
        (with_part(xlsx({"a": [["a"]]}), "xl/workbook.xml", "<workbook/>"), "empty"),
        (xlsx({"a": [["a"]]})[:-900], "damaged"),
        (xlsx({}), "empty"),
        (b"\x89PNG\r\n\x1a\n", "a picture"),
        (b"<html><table>", "a web page"),
    ],
)
def test_what_cannot_be_read_is_refused_in_a_sentence(content: bytes, said: str):
    with pytest.raises(Refusal) as refused:
        read_book(content)
    assert said in refused.value.problem and refused.value.problem.startswith("history.xlsx")
    for sentence in (refused.value.problem, refused.value.repair):
        assert sentence.endswith(".") and sentence.isprintable()
    assert refused.value.status == 1


def test_nothing_of_the_folder_at_hand_is_loaded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    (tmp_path / "python_calamine.py").write_text("raise SystemExit(9)\n")
    monkeypatch.chdir(tmp_path)
    assert only(xlsx({"runs": [["a"]]})) == [("a",)]
    assert os.listdir(tmp_path) == ["python_calamine.py"]
