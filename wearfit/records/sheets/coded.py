"""The cells of a column as the few distinct ones and which of them stands in each row: a history says the same over and over."""

from array import array
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from wearfit.records.readers.grid import Cell


@dataclass(frozen=True)
class Coded:
    """Cells of one column.

    Parameters
    ----------
    distinct : sequence of Cell
        In the order in which they first come.
    codes : sequence of int
        Place among `distinct` of each row's cell.
    """

    distinct: Sequence[Cell]
    codes: Sequence[int]

    def spread[T](self, of_distinct: Sequence[T]) -> Iterator[T]:
        """What is known of each distinct cell, row by row."""
        return map(of_distinct.__getitem__, self.codes)

    def at(self, place: int) -> Cell:
        return self.distinct[self.codes[place]]

    def count(self, which: Collection[Cell]) -> int:
        """Number of rows whose cell is one of some."""
        counts = Counter(self.codes)
        return sum(counts[code] for code, cell in enumerate(self.distinct) if cell in which)

    def places(self, which: Collection[Cell]) -> list[tuple[int, Cell]]:
        """The rows whose cell is one of some, with that cell, in order."""
        sought = {code: cell for code, cell in enumerate(self.distinct) if cell in which}
        return [(place, sought[code]) for place, code in enumerate(self.codes) if code in sought] if sought else []

    def first_place(self, cell: Cell) -> int:
        """The first row with a cell."""
        return self.codes.index(self.distinct.index(cell))


def coded(cells: Iterable[Cell]) -> Coded:
    """The cells of a column, one a row, as distinct ones and codes."""
    known: dict[Cell, int] = {}
    codes = array("i", [known.setdefault(cell, len(known)) for cell in cells])
    return Coded(list(known), codes)
