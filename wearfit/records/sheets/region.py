"""One table found in a sheet: which columns of the sheet are which, and which of its rows are records."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from wearfit.records.readers.grid import Grid
from wearfit.records.sheets.conversions import Conversion
from wearfit.records.tables import Column, Table


@dataclass(frozen=True)
class Region:
    """One table found in a grid.

    Parameters
    ----------
    table : Table
    grid : Grid
        Where it stands.
    known : mapping of int to Column
        Columns of the grid, counted from 0, and what they are.
    unknown : mapping of int to str
        Columns of the grid that are kept but not used, and the header each goes under; no header comes twice, none is
        the name of a column of the table.
    body : sequence of int
        Rows of the grid that hold records, counted from 0. A spreadsheet numbers them one higher.
    conversions : mapping of str to Conversion
        Columns whose header names another unit, by name.
    first, end : int
        The grid's columns that belong to the table: first <= column < end. Cells beyond belong to a row that is too long.
    """

    table: Table
    grid: Grid
    known: Mapping[int, Column]
    unknown: Mapping[int, str]
    body: Sequence[int]
    first: int
    end: int
    conversions: Mapping[str, Conversion] = field(default_factory=dict)
