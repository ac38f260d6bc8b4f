"""The template explains every column, reads back without a finding, and its example hangs together."""

import datetime as dt
import io
from pathlib import Path
from xml.etree import ElementTree
from zipfile import ZipFile

import pytest
from python_calamine import CalamineWorkbook
from xlsxwriter.workbook import Workbook

from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.records.tables import TABLES
from wearfit.records.template import CAUTION, HOW_TO, template
from wearfit.records.template_examples import EXAMPLES
from wearfit.records.template_names import EXAMPLE, TEMPLATE_ABOUT
from wearfit.records.upload import Upload

TODAY = dt.date(2026, 6, 30)
MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


@pytest.fixture(scope="module")
def content() -> bytes:
    return template()


@pytest.fixture(scope="module")
def sheets(content: bytes) -> dict[str, list[list[object]]]:
    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}


@pytest.fixture(scope="module")
def upload(content: bytes, tmp_path_factory: pytest.TempPathFactory) -> Upload:
    path = tmp_path_factory.mktemp("template") / "records.xlsx"
    path.write_bytes(content)
    return read(path, today=TODAY)


def parts(content: bytes, start: str) -> dict[str, ElementTree.Element]:
    """The XML parts of the workbook whose names begin so, by name."""
    with ZipFile(io.BytesIO(content)) as archive:
        return {name: ElementTree.fromstring(archive.read(name)) for name in archive.namelist() if name.startswith(start)}


def test_a_sheet_for_each_table_behind_the_one_that_explains_them(sheets: dict[str, list[list[object]]]):
    assert list(sheets) == [TEMPLATE_ABOUT, *TABLES]
    for name, table in TABLES.items():
        assert tuple(sheets[name][0]) == table.names


def test_the_first_sheet_explains_every_column_and_carries_the_caution(sheets: dict[str, list[list[object]]]):
    about = sheets[TEMPLATE_ABOUT]
    text = " ".join(str(cell) for row in about for cell in row)
    for sentence in (*HOW_TO, CAUTION):
        assert sentence in text
    for table in TABLES.values():
        at = next(i for i, row in enumerate(about) if str(row[0]).startswith(f"Sheet {table.name}:"))
        rows = about[at + 1 : at + 1 + len(table.columns)]
        for row, column in zip(rows, table.columns, strict=True):
            assert row[0] == column.name
            assert (row[1] == "yes") == column.required
            assert row[3] == column.unit
            assert str(row[4]).startswith(column.meaning)
            assert all(word in str(row[4]) for word in column.choices)
            assert column.default in str(row[5])


def test_every_header_carries_a_note_of_what_it_means(content: bytes):
    notes = parts(content, "xl/comments")
    assert len(notes) == len(TABLES)
    for number, table in enumerate(TABLES.values(), start=1):
        said = ["".join(note.itertext()) for note in notes[f"xl/comments{number}.xml"].iter(f"{MAIN}comment")]
        assert len(said) == len(table.columns)
        for text, column in zip(said, table.columns, strict=True):
            assert column.meaning in text
            assert column.unit in text
            assert all(word in text for word in column.choices)
            assert ("Must be filled in." in text) == column.required
            assert text.strip().endswith(".")


def test_columns_of_few_words_have_a_list_to_choose_from(content: bytes):
    pages = parts(content, "xl/worksheets/sheet")
    for number, table in enumerate(TABLES.values(), start=2):
        listed = [found.text for found in pages[f"xl/worksheets/sheet{number}.xml"].iter(f"{MAIN}formula1")]
        words = [column.choices or ("0", "1") for column in table.columns if column.choices or column.kind == "flag"]
        assert listed == ['"' + ",".join(each) + '"' for each in words]


def test_days_are_days_and_names_are_text(sheets: dict[str, list[list[object]]]):
    for name, table in TABLES.items():
        for row in sheets[name][1:]:
            for cell, column in zip(row, table.columns, strict=True):
                if cell == "":
                    continue
                if column.kind == "date":
                    assert isinstance(cell, dt.date)
                elif column.kind in ("text", "choice", "month"):
                    assert isinstance(cell, str)
                elif column.kind in ("number", "count", "flag"):
                    assert isinstance(cell, float)


def test_nothing_in_it_is_a_formula_or_a_link(content: bytes):
    for page in parts(content, "xl/worksheets/sheet").values():
        assert not list(page.iter(f"{MAIN}f"))
        assert not list(page.iter(f"{MAIN}hyperlink"))


def test_it_is_the_same_every_time(content: bytes):
    assert template() == content


def test_it_reads_back_without_a_finding(upload: Upload):
    assert upload.findings == ()
    assert upload.counts == {name: len(rows) for name, rows in EXAMPLES.items()}
    assert len(upload.rows) == sum(upload.counts.values())


def test_the_example_fills_every_column_but_those_of_the_other_form(upload: Upload):
    filled = {(row.table, column) for row in upload.rows for column in row.values}
    empty = {(table.name, column) for table in TABLES.values() for column in table.names} - filled
    assert empty == {("climate", "timestamp")}


def test_the_example_is_used_as_it_is(upload: Upload):
    records = assemble(upload.rows, upload.empty_tables)
    assert records.findings == ()
    assert {name: len(frame) for name, frame in records.tables.items()} == {name: len(rows) for name, rows in EXAMPLES.items()}


def test_every_name_of_the_example_can_be_told(upload: Upload):
    for row in upload.rows:
        for column, text in row.values.items():
            if column.endswith("_id"):
                assert text.startswith(EXAMPLE)


def test_with_the_example_deleted_and_one_tool_filled_in_there_is_nothing_to_find(tmp_path: Path):
    path = tmp_path / "mine.xlsx"
    with Workbook(path) as book:
        book.add_worksheet(TEMPLATE_ABOUT).write_string(0, 0, "tool_id")
        for name, table in TABLES.items():
            sheet = book.add_worksheet(name)
            sheet.write_row(0, 0, table.names)
            if name == "tools":
                sheet.write_row(1, 0, ["T1", "103"])
                sheet.write_string(1, table.names.index("commissioned_on"), "2024-01-15")
    upload = read(path, today=TODAY)
    assert upload.findings == ()
    assert upload.counts == {name: int(name == "tools") for name in TABLES}
    assert set(upload.empty_tables) == set(TABLES) - {"tools"}
