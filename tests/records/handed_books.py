"""Workbooks and archives as owners hand them over, made in memory."""

import io
import zipfile
from collections.abc import Callable, Mapping, Sequence
from xml.sax.saxutils import escape

import xlsxwriter
from xlsxwriter.worksheet import Worksheet

from wearfit.records.readers.grid import Cell

_NAMESPACES = " ".join(
    f'xmlns:{prefix}="urn:{urn}:1.0"'
    for prefix, urn in (
        ("office", "oasis:names:tc:opendocument:xmlns:office"),
        ("table", "oasis:names:tc:opendocument:xmlns:table"),
        ("text", "oasis:names:tc:opendocument:xmlns:text"),
        ("style", "oasis:names:tc:opendocument:xmlns:style"),
        ("draw", "oasis:names:tc:opendocument:xmlns:drawing"),
    )
)
_ERRORS = 'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"'
HIDING_STYLE = '<style:style style:name="ta2" style:family="table"><style:table-properties table:display="false"/></style:style>'


def xlsx(sheets: Mapping[str, Sequence[Sequence[Cell]]]) -> bytes:
    """A workbook of texts and numbers."""

    def fill(book: xlsxwriter.Workbook) -> None:
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            for number, row in enumerate(rows):
                write_cells(sheet, number, row)

    return xlsx_made(fill)


def xlsx_made(fill: Callable[[xlsxwriter.Workbook], None]) -> bytes:
    """A workbook that a function fills."""
    content = io.BytesIO()
    with xlsxwriter.Workbook(content, {"in_memory": True}) as book:
        fill(book)
    return content.getvalue()


def write_cells(sheet: Worksheet, row: int, cells: Sequence[Cell], column: int = 0) -> None:
    for at, cell in enumerate(cells, start=column):
        if isinstance(cell, str):
            sheet.write_string(row, at, cell)
        else:
            sheet.write_number(row, at, cell)


def sheet_xml(rows: str, before: str = "") -> str:
    """The XML of a sheet with the given rows."""
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    return f'<?xml version="1.0" encoding="UTF-8"?><worksheet xmlns="{main}">{before}<sheetData>{rows}</sheetData></worksheet>'


def with_part(book: bytes, part: str, content: str | bytes) -> bytes:
    """The same workbook or archive with another content of one part, or with one more."""
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.infolist():
            if entry.filename != part:
                new.writestr(entry.filename, old.read(entry))
        new.writestr(part, content)
    return made.getvalue()


def xlsx_of_xml(sheet: str) -> bytes:
    """A workbook whose one sheet, runs, has the given XML."""
    return with_part(xlsx({"runs": [["a"]]}), "xl/worksheets/sheet1.xml", sheet)


def ods_of_xml(body: str, styles: str = "") -> bytes:
    """An OpenDocument workbook with the given tables."""
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {_NAMESPACES} {_ERRORS}>'
        f"<office:automatic-styles>{styles}</office:automatic-styles>"
        f"<office:body><office:spreadsheet>{body}</office:spreadsheet></office:body></office:document-content>"
    )
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet", zipfile.ZIP_STORED)
        archive.writestr("META-INF/manifest.xml", "<manifest/>")
        archive.writestr("content.xml", content)
    return made.getvalue()


def ods(sheets: Mapping[str, Sequence[Sequence[Cell]]]) -> bytes:
    """An OpenDocument workbook of texts and numbers, padded with blank cells and rows as spreadsheet programs do."""
    padding = '<table:table-cell table:number-columns-repeated="16370"/>'
    last = f'<table:table-row table:number-rows-repeated="1048000">{padding}</table:table-row>'
    tables = []
    for name, rows in sheets.items():
        lines = "".join(f"<table:table-row>{''.join(map(ods_cell, row))}{padding}</table:table-row>" for row in rows)
        tables.append(f'<table:table table:name="{escape(name)}">{lines}{last}</table:table>')
    return ods_of_xml("".join(tables))


def ods_cell(cell: Cell) -> str:
    if isinstance(cell, float):
        return f'<table:table-cell office:value-type="float" office:value="{cell!r}"><text:p>{cell}</text:p></table:table-cell>'
    return (
        f'<table:table-cell office:value-type="string"><text:p>{escape(cell)}</text:p></table:table-cell>'
        if cell
        else "<table:table-cell/>"
    )


def packed(members: Mapping[str, bytes | str]) -> bytes:
    """A ZIP archive of members in the given order."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return made.getvalue()
