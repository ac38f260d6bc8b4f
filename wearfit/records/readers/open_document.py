"""The sheets of an OpenDocument workbook, read from its XML as it unpacks.

Read here rather than by the library that reads XLSX: that one refuses blanks between the cells of a row, as some programs write
them, and drops line ends within a cell and the text of formulas that failed (python-calamine 0.9.1, tried).
"""

import re
import zipfile
from collections.abc import Callable
from typing import Final
from xml.parsers import expat

from wearfit.errors import Refusal
from wearfit.records.readers import zips
from wearfit.records.readers.book import BATCH, Rows, SheetEnd, Tell, sheet_end, trim
from wearfit.records.readers.extents import Extent, column_letters
from wearfit.records.readers.grid import Cell
from wearfit.records.readers.limits import Bounds
from wearfit.records.readers.number_formats import Shown
from wearfit.records.readers.open_cells import OFFICE, VALUE_TYPE, shown_as, value_of
from wearfit.records.readers.workbook_guard import refuse_declarations, too_far

# Source: OpenDocument 1.3 part 3, sections 9.1 (tables), 6.1 (text), from memory.
_TABLE = "urn:oasis:names:tc:opendocument:xmlns:table:1.0 "
_TEXT = "urn:oasis:names:tc:opendocument:xmlns:text:1.0 "
_STYLE = "urn:oasis:names:tc:opendocument:xmlns:style:1.0 "

_PARAGRAPH: Final = _TEXT + "p"
_FORMULA: Final = _TABLE + "formula"
_COLUMNS_REPEATED: Final = _TABLE + "number-columns-repeated"
_COLUMNS_SPANNED: Final = _TABLE + "number-columns-spanned"
_ROWS_SPANNED: Final = _TABLE + "number-rows-spanned"
_CELLS: Final = (_TABLE + "table-cell", _TABLE + "covered-table-cell")
# Within these stand texts and cells that are none of the sheet: comments, drawings, deleted cells, copies of other books.
_ASIDE: Final = (
    OFFICE + "annotation",
    _TABLE + "tracked-changes",
    _TABLE + "dde-links",
    _TABLE + "shapes",
    "urn:oasis:names:tc:opendocument:xmlns:drawing:1.0 ",
)
_BLANKS = re.compile(r"[ \t\r\n]+")


def read_open_document(name: str, archive: zipfile.ZipFile, bounds: Bounds, tell: Tell, end: Callable[[SheetEnd], None]) -> None:
    """Tell the rows of every sheet, and each sheet when its rows are told.

    Parameters
    ----------
    name : str
        Of the workbook, for messages.
    archive : ZipFile
    bounds : Bounds
    tell : callable
    end : callable

    Raises
    ------
    Refusal
        Where it is damaged or protected, declares entities, or goes past a bound.
    """
    parts = {entry.filename: entry for entry in archive.infolist()}
    if "content.xml" not in parts:
        raise zips.damaged(name)
    manifest = parts.get("META-INF/manifest.xml")
    if manifest is not None and any(b"encryption-data" in piece for piece in zips.pieces(archive, manifest, name, zips.SMALL)):
        raise Refusal(f"{name} is protected with a password and cannot be read.", "Save it without the password.")
    book = _Book(name, bounds, tell, end)
    last = b""
    try:
        for piece in zips.pieces(archive, parts["content.xml"], name, bounds.unpacked_bytes):
            refuse_declarations(name, last + piece)
            last = piece[-16:]
            book.parser.Parse(piece, False)
        book.parser.Parse(b"", True)
    except (expat.ExpatError, ValueError):
        raise zips.damaged(name) from None


class _Book:
    """Goes over the XML of a workbook, one element after the other."""

    def __init__(self, name: str, bounds: Bounds, tell: Tell, end: Callable[[SheetEnd], None]) -> None:
        self.name, self.bounds, self.tell, self.end = name, bounds, tell, end
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.buffer_text = True
        self.parser.StartDoctypeDeclHandler = _refuse_doctype
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._stop
        self.aside = 0  # depth within what is none of the sheet
        self.style = ""
        self.hiding_styles: set[str] = set()
        self.sheets = self.cells = 0
        self.from_1904 = False
        self._begin("", False)

    def _begin(self, sheet: str, hidden: bool) -> None:
        self.sheet, self.hidden = sheet, hidden
        self.extent = Extent()
        self.merged: list[list[int]] = []
        self.row = 0
        self.blank_rows = 0  # met and not yet told: told only where a filled one follows
        self.batch: Rows = []
        self.line: list[Cell] = []
        self.blank_cells = 0  # the same within a row
        self.shown: list[tuple[Shown, int]] = []  # columns of the row whose cells are shown as something else than they hold
        self.row_times = self.cell_times = 1
        self.cell: dict[str, str] | None = None
        self.text: list[str] = []

    def _start(self, element: str, attributes: dict[str, str]) -> None:
        if self.aside:
            self.aside += 1
        elif element in _CELLS:
            self.cell = attributes
            self.cell_times = max(1, int(attributes.get(_COLUMNS_REPEATED, 1)))
            self.text.clear()
        elif element == _PARAGRAPH and self.cell is not None:
            if self.text:
                self.text.append("\n")
            self.parser.CharacterDataHandler = self._characters
        elif element.startswith(_ASIDE) or (self.cell is not None and element == _TABLE + "table"):
            self.aside += 1
        elif self.cell is not None:
            self._start_text(element, attributes)
        elif element == _TABLE + "table-row":
            self.row_times = max(1, int(attributes.get(_TABLE + "number-rows-repeated", 1)))
            self.line, self.blank_cells, self.shown = [], 0, []
        elif element == _TABLE + "table":
            self.sheets += 1
            if self.sheets > self.bounds.sheets:
                problem = f"{self.name} has more than the {self.bounds.sheets:,} sheets that are read."
                raise Refusal(problem, "Leave out what is not records.")
            self._begin(attributes.get(_TABLE + "name", ""), attributes.get(_TABLE + "style-name") in self.hiding_styles)
        elif element == _TABLE + "null-date":
            self.from_1904 = attributes.get(_TABLE + "date-value") == "1904-01-01"
        elif element == _STYLE + "style":
            self.style = attributes.get(_STYLE + "name", "")
        elif element == _STYLE + "table-properties" and attributes.get(_TABLE + "display") == "false":
            self.hiding_styles.add(self.style)

    def _start_text(self, element: str, attributes: dict[str, str]) -> None:
        if element == _TEXT + "s":
            self.text.append(" " * min(int(attributes.get(_TEXT + "c", 1)), 1_000))
        elif element == _TEXT + "tab":
            self.text.append("\t")
        elif element == _TEXT + "line-break":
            self.text.append("\n")

    def _characters(self, text: str) -> None:
        if not self.aside:
            self.text.append(_BLANKS.sub(" ", text))

    def _stop(self, element: str) -> None:
        if self.aside:
            self.aside -= 1
        elif element == _PARAGRAPH:
            self.parser.CharacterDataHandler = None
        elif element in _CELLS:
            self._end_cell()
        elif element == _TABLE + "table-row":
            self._end_row()
        elif element == _TABLE + "table":
            self._flush()
            self.end(sheet_end(self.sheet, self.hidden, self.merged, self.extent, self.from_1904))

    def _end_cell(self) -> None:
        attributes, self.cell = self.cell or {}, None
        column = len(self.line) + self.blank_cells
        cell = value_of(attributes, "".join(self.text))
        if cell == "":
            self.blank_cells += self.cell_times
        else:
            self._check(self.row, column, column + self.cell_times - 1)
            self.line += [""] * self.blank_cells + [cell] * self.cell_times
            self.blank_cells = 0
            if shown := shown_as(attributes, "".join(self.text)):
                self.shown += [(shown, column + at) for at in range(self.cell_times)]
        if cell == "" and _FORMULA in attributes and VALUE_TYPE not in attributes:
            self.extent.lost += 1
            self.extent.lost_at = self.extent.lost_at or f"{column_letters(column)}{self.row + 1}"
        if _COLUMNS_SPANNED in attributes or _ROWS_SPANNED in attributes:
            rows, columns = int(attributes.get(_ROWS_SPANNED, 1)), int(attributes.get(_COLUMNS_SPANNED, 1))
            if rows > 1 or columns > 1:
                self.merged.append([self.row, column, self.row + rows - 1, column + columns - 1])

    def _end_row(self) -> None:
        if not self.line:
            self.blank_rows += self.row_times
            self.row += self.row_times
            return
        self._check(self.row + self.row_times - 1, 0, len(self.line) - 1)
        for _ in range(self.blank_rows):
            self._add([])
        self.blank_rows = 0
        for _ in range(self.row_times):
            self._add(self.line)
        for shown, column in self.shown:
            self.extent.show(shown, self.row, column, self.row + self.row_times - 1)
        self.row += self.row_times

    def _check(self, row: int, first: int, last: int) -> None:
        """Refuse before anything is repeated so far."""
        before = self.extent.block
        self.extent.fill(row, first)
        self.extent.fill(row, last)
        self.cells += self.extent.block - before
        if row >= self.bounds.rows or last >= self.bounds.columns or self.cells > self.bounds.cells:
            raise too_far(self.name, self.sheet, self.extent, self.bounds)

    def _add(self, row: list[Cell]) -> None:
        self.batch.append(trim(row))
        if len(self.batch) >= BATCH:
            self._flush()

    def _flush(self) -> None:
        if self.batch:
            self.tell(self.batch)
            self.batch = []


def _refuse_doctype(*_: object) -> None:
    raise ValueError("a document type")
