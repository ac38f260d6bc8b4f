"""A sheet of cells before anything is known of its meaning: what every form of file is read into."""

from collections.abc import Sequence
from dataclasses import dataclass

Cell = str | float  # text as it stands; a float only where the file itself holds a number, so that nothing need be guessed of it


@dataclass(frozen=True)
class Grid:
    """One sheet of a workbook, or the one of a text file.

    Parameters
    ----------
    source : str
        What the sheet is called in messages, such as "runs.csv" or "history.xlsx, sheet runs".
    name : str
        What may say which table it holds: the name of the sheet, or of the file without its ending.
    cells : sequence of rows of cells
        The first is row 1 of the sheet, blank rows included; rows may differ in length. A cell that the file itself holds as a
        date is text as ISO 8601 writes it, a truth value 1 or 0, a formula its last result, a blank cell "".
    merged : tuple of (int, int, int, int)
        Merged cells: first row, first column, last row, last column, all counted from 0 and inclusive.
    hidden : bool
        Whether the workbook hides the sheet.
    semicolons : bool
        Whether semicolons part the columns, as they do where a comma marks the decimals.
    percents, months : tuple of (int, int, int)
        Cells that the file shows as a percentage though they hold the share, or as a month though they hold its day: column, first
        row and last row, all counted from 0 and inclusive.
    from_1904 : bool
        Whether the numbers of days in the file count from 1 January 1904 rather than from 1900; days that it holds as dates are right.
    """

    source: str
    name: str
    cells: Sequence[Sequence[Cell]]
    merged: tuple[tuple[int, int, int, int], ...] = ()
    hidden: bool = False
    semicolons: bool = False
    percents: tuple[tuple[int, int, int], ...] = ()
    months: tuple[tuple[int, int, int], ...] = ()
    from_1904: bool = False
