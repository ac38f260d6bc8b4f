"""A region whose cells have been looked at one by one, column by column."""

from array import array
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from wearfit.records.findings import Finding
from wearfit.records.readers.grid import Cell
from wearfit.records.sheets.coded import Coded, coded
from wearfit.records.sheets.columns import TypedColumn, as_text, typed_column
from wearfit.records.sheets.region import Region
from wearfit.records.sheets.shown import as_shown


@dataclass(frozen=True)
class TypedRegion:
    """The cells of a region.

    Parameters
    ----------
    region : Region
    rows : sequence of int
        Rows of the grid that are not blank, counted from 0.
    columns : tuple of TypedColumn
    others : mapping of str to Coded
        Cells of the columns that are kept but not used.
    beyond : mapping of int to Cell
        By place among `rows`: a cell past the region's last column, in rows that have one.
    notes : tuple of Finding
        What was noticed in looking at them.
    """

    region: Region
    rows: Sequence[int]
    columns: tuple[TypedColumn, ...]
    others: Mapping[str, Coded]
    beyond: Mapping[int, Cell]
    notes: tuple[Finding, ...] = ()


def typed_region(region: Region, neighbour: int | None = None) -> TypedRegion:
    """Look at the cells of a region.

    Parameters
    ----------
    region : Region
    neighbour : int, optional
        Column of the grid at which another region begins to the right, whose cells are not this one's.
    """
    grid = region.grid.cells
    test = next((place for place, column in region.known.items() if column.required), region.first)
    filled = array("l", [i for i in region.body if _filled(grid[i], region, test)])
    rows = region.body if len(filled) == len(region.body) else filled
    typed = [grid[i] for i in rows]
    least = min(map(len, typed), default=0)

    def cells_of(place: int) -> list[Cell]:
        if place < least:
            return [row[place] for row in typed]
        return [row[place] if place < len(row) else "" for row in typed]

    columns: list[TypedColumn] = []
    notes: list[Finding] = []
    for place, column in region.known.items():
        cells, told = as_shown(region.table, column, region.grid, place, rows, cells_of(place))
        columns.append(typed_column(region, column, rows, coded(cells)))
        notes += told
    others = {name: coded(cells_of(place)) for place, name in region.unknown.items()}
    beyond = {}
    if max(map(len, typed), default=0) > region.end:
        for place, row in enumerate(typed):
            past = next((cell for cell in row[region.end : neighbour] if as_text(cell)), None)
            if past is not None:
                beyond[place] = past
    return TypedRegion(region, rows, tuple(columns), others, beyond, tuple(notes))


def _filled(row: Sequence[Cell], region: Region, test: int) -> bool:
    """Whether a row says anything; `test` is a column in which nearly every row does."""
    if test < len(row) and row[test] and as_text(row[test]):
        return True
    return any(as_text(cell) for cell in row[region.first : region.end] if cell != "")
