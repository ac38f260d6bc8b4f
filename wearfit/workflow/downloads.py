"""Tables to take away: CSV and XLSX in which text stays text, whatever it looks like."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Final

from wearfit.records.formulas import kept_as_text

Value = str | int | float | None

LONGEST_SHEET_NAME: Final = 31  # of a workbook


def as_csv(columns: Sequence[str], rows: Iterable[Sequence[Value]]) -> bytes:
    """A table as CSV, UTF-8 with a byte order mark, so that spreadsheets read names in other alphabets.

    Parameters
    ----------
    columns : sequence of str
    rows : iterable of rows of values
        Numbers are written as numbers, None as a blank cell.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow([kept_as_text(column) for column in columns])
    writer.writerows([kept_as_text(value) if isinstance(value, str) else value for value in row] for row in rows)
    return text.getvalue().encode("utf-8-sig")


def as_workbook(title: str, columns: Sequence[str], rows: Iterable[Sequence[Value]]) -> bytes:
    """A table as XLSX with a fixed header row; text is kept as text.

    Parameters
    ----------
    title : str
        Of the sheet.
    """
    import xlsxwriter  # type: ignore[import-untyped]

    content, rows = io.BytesIO(), [list(row) for row in rows]
    # Text that looks like a formula, a link or a number is what somebody wrote down, not something to be worked out.
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(content, options) as book:
        sheet = book.add_worksheet(title[:LONGEST_SHEET_NAME])
        bold = book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
        for place, column in enumerate(columns):
            widest = max((len(str(row[place])) for row in rows if row[place] is not None), default=0)
            sheet.set_column(place, place, min(60, max(10, widest + 2)))
            sheet.write_string(0, place, column, bold)
        for line, row in enumerate(rows, start=1):
            for place, value in enumerate(row):
                if isinstance(value, str):
                    sheet.write_string(line, place, value)
                elif value is not None:
                    sheet.write_number(line, place, value)
        sheet.freeze_panes(1, 1)
        if rows:
            sheet.autofilter(0, 0, len(rows), len(columns) - 1)
    return content.getvalue()
