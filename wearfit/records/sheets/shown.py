"""Cells that a workbook shows as something else than they hold: 0.3 as 30 %, the first of a month as the month."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from typing import Final

from wearfit.records.cells import number_text
from wearfit.records.columns import Column, Table
from wearfit.records.findings import Finding
from wearfit.records.readers.grid import Cell, Grid
from wearfit.records.sheets.marks import cells_of
from wearfit.records.sheets.months import DAYS_OF_MONTHS

_FIRST: Final = "-01"


def as_shown(
    table: Table, column: Column, grid: Grid, place: int, rows: Sequence[int], cells: list[Cell]
) -> tuple[Sequence[Cell], tuple[Finding, ...]]:
    """The cells of one column as the workbook shows them, where that is what is meant.

    Parameters
    ----------
    table : Table
    column : Column
    grid : Grid
    place : int
        Column of the grid.
    rows : sequence of int
        Rows of the grid, in order.
    cells : list of Cell, one a row

    Returns
    -------
    sequence of Cell, one a row
        A number shown as a percentage is one of percent where the column is of percent, blank where it counts things; else as it
        stands. The first day of a month that is shown without its day is that month, in the columns of the first and last day of
        runs.
    tuple of Finding
        One where percentages were read or left out.
    """
    if column.unit == "%" and any(_stretches(grid.percents, place)):
        return _in_percent(table, column, grid, place, rows, cells)
    if column.whole and any(_stretches(grid.percents, place)):
        return _without_shares(table, column, grid, place, rows, cells)
    if column.name in DAYS_OF_MONTHS and any(_stretches(grid.months, place)):
        return _months(grid, place, rows, cells), ()
    return cells, ()


def _stretches(stretches: Sequence[tuple[int, int, int]], place: int) -> Iterator[tuple[int, int]]:
    return ((first, last + 1) for at, first, last in stretches if at == place)


def _shown(stretches: Sequence[tuple[int, int, int]], place: int, rows: Sequence[int]) -> list[int]:
    """Which of the rows are shown so."""
    return [at for first, end in _stretches(stretches, place) for at in range(bisect_left(rows, first), bisect_right(rows, end - 1))]


def _in_percent(
    table: Table, column: Column, grid: Grid, place: int, rows: Sequence[int], cells: list[Cell]
) -> tuple[Sequence[Cell], tuple[Finding, ...]]:
    read = list(cells)
    most = float("inf") if column.high is None else column.high / 100.0
    turned = [at for at in _shown(grid.percents, place, rows) if isinstance(share := cells[at], float) and share <= most]
    for at in turned:
        read[at] = _hundredfold(cells[at])
    if not turned:
        return cells, ()
    first = turned[0]
    held, shown = _text(cells[first]), _text(read[first])
    problem = (
        f"In {cells_of(len(turned))} of {column.name} the workbook shows a percentage, such as {shown} % in row {rows[first] + 1}, which "
        f"holds {held}; read as {shown}."
    )
    return read, (Finding(table.name, None, column.name, held, problem, "Nothing needs doing if that is right.", "note", grid.source),)


def _without_shares(
    table: Table, column: Column, grid: Grid, place: int, rows: Sequence[int], cells: list[Cell]
) -> tuple[Sequence[Cell], tuple[Finding, ...]]:
    """The cells without shares of what the column counts; a share of none is none."""
    read = list(cells)
    blanked = [at for at in _shown(grid.percents, place, rows) if isinstance(share := cells[at], float) and 0.0 < share < 1.0]
    for at in blanked:
        read[at] = ""
    if not blanked:
        return cells, ()
    first = blanked[0]
    problem = (
        f"In {cells_of(len(blanked))} of {column.name} the workbook shows a percentage, such as {_text(_hundredfold(cells[first]))} % in "
        f"row {rows[first] + 1}, and a number of {column.unit} is needed; read as blank."
    )
    repair = f"Write the number of {column.unit} where it is known."
    return read, (Finding(table.name, None, column.name, _text(cells[first]), problem, repair, "repaired", grid.source),)


def _months(grid: Grid, place: int, rows: Sequence[int], cells: list[Cell]) -> Sequence[Cell]:
    """The cells with months for first days, unless another day shows that the format only hides the days."""
    days = {at: cell for at in _shown(grid.months, place, rows) if isinstance(cell := cells[at], str) and len(cell) == 10}
    if not all(day.endswith(_FIRST) for day in days.values()):
        return cells
    read = list(cells)
    for at, day in days.items():
        read[at] = day.removesuffix(_FIRST)
    return read


def _hundredfold(share: Cell) -> float:
    # Fifteen digits: 0.07 is 7 %, not 7.000000000000001.
    return float(f"{100.0 * float(share):.15g}")


def _text(cell: Cell) -> str:
    return number_text(float(cell))
