"""What the process that reads workbooks says of a sheet, and how its cells are put into words."""

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from wearfit.records.readers.extents import Extent
from wearfit.records.readers.grid import Cell

BATCH: Final = 1_000  # rows told at a time; judgement
OUT_OF_MEMORY: Final = 3  # exit status of the process where Python itself notices

Rows = list[list[Cell]]
Tell = Callable[[Rows], None]  # takes rows of the sheet at hand, in order


@dataclass(frozen=True)
class SheetEnd:
    """A sheet whose rows have all been told.

    Parameters
    ----------
    name : str
    hidden : bool
    merged : list of [int, int, int, int]
        First row, first column, last row, last column, from 0 and inclusive.
    lost : int
        Formulas without a stored result.
    lost_at : str
        Address of the first of them.
    percents, months : list of [int, int, int]
        Cells that are shown as a percentage, or as a month without its day: column, first row and last row, as above.
    from_1904 : bool
        Whether the workbook counts days from 1904.
    """

    name: str
    hidden: bool
    merged: list[list[int]]
    lost: int
    lost_at: str
    percents: list[list[int]]
    months: list[list[int]]
    from_1904: bool


def sheet_end(name: str, hidden: bool, merged: list[list[int]], extent: Extent, from_1904: bool) -> SheetEnd:
    """The end of a sheet, with what its extent has noted."""
    return SheetEnd(name, hidden, merged, extent.lost, extent.lost_at, extent.stretches("percent"), extent.stretches("month"), from_1904)


def number_cell(value: float) -> Cell:
    """A number; what is none of finite size is text, for nothing can be reckoned with it."""
    return value if math.isfinite(value) else str(value)


def moment_text(moment: dt.datetime) -> str:
    """A date with its time as ISO 8601 writes it, to the second; midnight is the date alone."""
    # Spreadsheets hold days as fractions, which miss the second by some microseconds.
    if moment.microsecond >= 500_000 and moment < dt.datetime.max - dt.timedelta(seconds=1):
        moment += dt.timedelta(seconds=1)
    moment = moment.replace(microsecond=0)
    return moment.date().isoformat() if moment.time() == dt.time() else moment.isoformat()


def span_text(span: dt.timedelta) -> str:
    """A length of time or a time of the day as hours, minutes and seconds, such as 26:30:00."""
    seconds = round(span.total_seconds())
    sign = "-" if seconds < 0 else ""
    minutes, second = divmod(abs(seconds), 60)
    return f"{sign}{minutes // 60:02}:{minutes % 60:02}:{second:02}"


def trim(row: list[Cell]) -> list[Cell]:
    """The row without the blank cells at its end."""
    while row and row[-1] == "":
        row.pop()
    return row
