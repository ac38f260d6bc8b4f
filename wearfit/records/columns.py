"""What a record table and its columns are made of: kind, unit, bounds, and what a blank means."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "date", "month", "timestamp", "number", "count", "flag", "choice", "value"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a record table.

    Parameters
    ----------
    name : str
    kind : Kind
        What a cell holds; "value" is a number that may be below what the gauge resolves, written `<0.02`.
    required : bool
        The column must be there, and no cell of a used row may be blank.
    choices : tuple of str
        The words that a cell of kind "choice" may hold.
    low, high : float, optional
        Smallest and largest number accepted.
    unit : str
    meaning : str
        For the person who fills in the sheet.
    default : str
        What a blank cell means, in the canonical text of the kind; "" where blank means not known.
    whole : bool
        A number of things that come whole, such as shots: 12.500 in it can hardly be twelve and a half.
    free : bool
        A text for people alone, kept letter by letter.
    blank_misleads : bool
        With a blank in place of what cannot be read, a row would say something false rather than less.
    """

    name: str
    kind: Kind
    required: bool = False
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    unit: str = ""
    meaning: str = ""
    default: str = ""
    whole: bool = False
    free: bool = False
    blank_misleads: bool = False

    @property
    def names_something(self) -> bool:
        """Whether a cell is the name of a tool, plant, resin, design, maker or product."""
        return self.name.endswith("_id")


@dataclass(frozen=True)
class Table:
    """One record table.

    Parameters
    ----------
    name : str
    columns : tuple of Column
    key : tuple of str
        The columns whose cells make two rows the same row.
    required : bool
        Records cannot be used without this table.
    repeats : bool
        Rows of one file with the same key and other values all count; else the last one is used.
    one_of : tuple of tuple of str
        Of each group at least one column must be there, and one cell of a used row filled.
    meaning : str
    """

    name: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    required: bool = False
    repeats: bool = False
    one_of: tuple[tuple[str, ...], ...] = ()
    meaning: str = ""

    def column(self, name: str) -> Column:
        """The column of that name; KeyError where the table has none."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)

    def may_blank(self, name: str) -> bool:
        """Whether a row in which this column's cell cannot be read is used as if the cell were blank.

        Notes
        -----
        A row without the cell is mostly nearer the truth than no row: without a tool all that is said of it is lost, without a
        run its shots are, and without a renewal two lives become one. Not so where the cell is part of what tells rows apart.
        """
        column = self.column(name)
        return not (column.required or column.blank_misleads or name in self.key)

    def alternatives_to(self, name: str) -> tuple[tuple[str, ...], ...]:
        """Of each group of columns of which one must be filled, and to which this one belongs: the others."""
        return tuple(tuple(other for other in group if other != name) for group in self.one_of if name in group)

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)
