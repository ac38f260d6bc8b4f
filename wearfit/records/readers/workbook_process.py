"""The process that reads one workbook: bytes in, sheets out as lines of JSON, under limits of memory and time.

A library that reads workbooks may ask for more memory than there is and take its process along, so it has one of its own. JSON,
because whoever reads the answer need not trust it. Started by `wearfit.records.readers.workbook`; loads nothing that is slow.
"""

import contextlib
import datetime as dt
import io
import json
import sys
import zipfile
from collections.abc import Callable
from dataclasses import asdict
from typing import Any, Final

import python_calamine as calamine

from wearfit.errors import Refusal
from wearfit.records.readers import zips
from wearfit.records.readers.book import BATCH, OUT_OF_MEMORY, Rows, SheetEnd, Tell, moment_text, number_cell, sheet_end, span_text, trim
from wearfit.records.readers.extents import Extent
from wearfit.records.readers.grid import Cell
from wearfit.records.readers.limits import Bounds
from wearfit.records.readers.open_document import read_open_document
from wearfit.records.readers.workbook_guard import look_through

_PLAIN: Final = frozenset({str, float})

End = Callable[[SheetEnd], None]


def main(name: str, form: str, bounds_text: str) -> int:
    """Read the workbook on standard input, tell it on standard output.

    Each line is one JSON value: a list of rows; an object with "sheet" when the rows of a sheet are told; last an object with
    "done", or with "problem" and "repair" where the workbook is refused.
    """
    bounds = Bounds(**json.loads(bounds_text))
    _limit_memory_and_time(bounds)
    out = sys.stdout.buffer

    def say(message: Any) -> None:
        out.write(json.dumps(message, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode("utf-8", "replace") + b"\n")

    def tell(rows: Rows) -> None:
        try:
            say(rows)
        except ValueError:  # a number of no finite size, which no spreadsheet writes: hardly ever, so nothing is looked at for it
            say([[number_cell(cell) if isinstance(cell, float) else cell for cell in row] for row in rows])

    try:
        content = sys.stdin.buffer.read()
        read = read_open_document if form == "open document" else _ReadXlsx(content)
        read(name, zips.opened(name, content), bounds, tell, lambda sheet: say({"sheet": asdict(sheet)}))
        say({"done": True})
    except Refusal as refusal:
        say({"problem": refusal.problem, "repair": refusal.repair})
    except MemoryError:
        return OUT_OF_MEMORY
    return 0


def _limit_memory_and_time(bounds: Bounds) -> None:
    # A system without these limits still has those that are looked at before, and the clock of the process that waits.
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_CPU, (bounds.cpu_s, bounds.cpu_s + 1))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_AS, (bounds.memory_bytes, bounds.memory_bytes))


class _ReadXlsx:
    """Reads an XLSX workbook from its bytes, as `read_open_document` reads the other kind."""

    def __init__(self, content: bytes) -> None:
        self.content = content

    def __call__(self, name: str, archive: zipfile.ZipFile, bounds: Bounds, tell: Tell, end: End) -> None:
        seen = look_through(name, archive, bounds)
        try:
            with calamine.load_workbook(io.BytesIO(self.content)) as book:
                for sheet in book.sheets_metadata:
                    extent = seen.extents.get(sheet.name, Extent())
                    if sheet.typ == calamine.SheetTypeEnum.WorkSheet and extent.block:
                        merged = _tell_rows(book.get_sheet_by_name(sheet.name), extent, tell)
                        hidden = sheet.visible != calamine.SheetVisibleEnum.Visible
                        end(sheet_end(sheet.name, hidden, merged, extent, seen.from_1904))
        except calamine.PasswordError:
            raise Refusal(f"{name} is protected with a password and cannot be read.", "Save it without the password.") from None
        except calamine.CalamineError:
            raise Refusal(f"{name} is not a workbook that can be read.", "Save it anew as XLSX, or each sheet as 'CSV UTF-8'.") from None


def _tell_rows(sheet: calamine.CalamineSheet, extent: Extent, tell: Tell) -> list[list[int]]:
    """Tell all rows of a sheet from its first, those included that are blank; give its merged cells."""
    left = (sheet.start or (0, 0))[1]
    errors: dict[int, list[tuple[int, str]]] = {}
    for (row, column), text in sorted(extent.errors.items()):
        errors.setdefault(row, []).append((column, text))
    rows: Rows = []
    # The library gives the rows from the sheet's first, the cells from the first column that is filled.
    for number, found in enumerate(sheet.iter_rows()):
        cells: list[Cell] = [""] * left
        cells += map(_cell, found) if set(map(type, found)) - _PLAIN else found  # type: ignore[arg-type]
        for column, text in errors.get(number, ()):
            cells += [""] * (column + 1 - len(cells))
            cells[column] = text
        rows.append(trim(cells))
        if len(rows) >= BATCH:
            tell(rows)
            rows = []
    tell(rows)
    return [[*first, *last] for first, last in sheet.merged_cell_ranges or []]


def _cell(value: object) -> Cell:
    match value:
        case str():
            return value
        case bool():
            return "1" if value else "0"
        case int() | float():
            return number_cell(float(value))
        case dt.datetime():
            return moment_text(value)
        case dt.date():
            return value.isoformat()
        case dt.time():
            return span_text(dt.timedelta(hours=value.hour, minutes=value.minute, seconds=value.second, microseconds=value.microsecond))
        case dt.timedelta():
            return span_text(value)
    return str(value)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
