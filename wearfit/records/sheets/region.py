"""One table found in a sheet: which columns of the sheet are which, and which of its rows are records."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from wearfit.records.cells import Unreadable
from wearfit.records.columns import Column, Table
from wearfit.records.readers.grid import Grid
from wearfit.records.sheets.conversions import Conversion


@dataclass(frozen=True)
class RowWords:
    """A column that the table does not know, whose words say of each row what its number counts, or that it was never done.

    Parameters
    ----------
    header : str
        Under which it is kept.
    count : str
        Column of the number that it speaks of, "" for none.
    moved : mapping of str to str
        By word: the column that the number belongs to instead.
    refused : mapping of str to Unreadable
        By word: why a row cannot be used.
    """

    header: str
    count: str = ""
    moved: Mapping[str, str] = field(default_factory=dict)
    refused: Mapping[str, Unreadable] = field(default_factory=dict)


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
    row_words : tuple of RowWords
    """

    table: Table
    grid: Grid
    known: Mapping[int, Column]
    unknown: Mapping[int, str]
    body: Sequence[int]
    first: int
    end: int
    conversions: Mapping[str, Conversion] = field(default_factory=dict)
    row_words: tuple[RowWords, ...] = ()
