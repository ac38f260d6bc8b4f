"""Deciding in which of a few ways a column is written: by its own cells where they tell, else by the columns around it."""

from collections.abc import Callable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from wearfit.records.readers.grid import Cell
from wearfit.records.sheets.columns import TypedColumn, as_text


@dataclass(frozen=True)
class Own[W]:
    """What the cells of one column say by themselves of the way in which they are written.

    Parameters
    ----------
    column : TypedColumn
    fits : mapping of Cell to set of W
        Cells that do not read the same in every way, and the ways in which they can be read.
    way : W or None
        The one way, None where the cells leave it open.
    candidates : tuple of W
        The ways that are left.
    chosen : bool
        Whether the user has chosen it.
    shows : Cell or None
        A cell that shows it.
    unfit : int
        Cells that do not fit it.
    forms : set of str
        What else tells one hand from another, such as the marks between day, month and year.
    """

    column: TypedColumn
    fits: Mapping[Cell, AbstractSet[W]]
    way: W | None
    candidates: tuple[W, ...]
    chosen: bool = False
    shows: Cell | None = None
    unfit: int = 0
    forms: AbstractSet[str] = frozenset()


def own_way[W](column: TypedColumn, fits: Mapping[Cell, AbstractSet[W]], ways: tuple[W, ...], last: tuple[W, ...]) -> Own[W]:
    """What a column says of itself.

    Parameters
    ----------
    column : TypedColumn
    fits : mapping of Cell to set of W
    ways : tuple of W
        The usual ways. One that all cells fit, where another does not, is the column's; of several that some cell leaves
        out, the one that most cells fit.
    last : tuple of W
        Ways that are looked at only where no usual one fits every cell.
    """
    telling = {cell for cell, which in fits.items() if not which >= set(ways)}
    if not telling:
        return Own(column, fits, None, ways)
    fitting = [way for way in ways if all(way in fits[cell] for cell in telling)]
    fitting = fitting or [way for way in last if all(way in which for which in fits.values())]
    if not fitting:
        counts = {way: column.cells.count({cell for cell, which in fits.items() if way in which}) for way in (*ways, *last)}
        fitting = [way for way in counts if counts[way] == max(counts.values())]
    if len(fitting) > 1:
        return Own(column, fits, None, ways)
    way = fitting[0]
    shows = next(cell for cell in column.cells.distinct if cell in telling and way in fits[cell])
    return Own(column, fits, way, (way,), False, shows, column.cells.count({cell for cell, which in fits.items() if way not in which}))


def witness_of[W](place: int, owns: Sequence[Own[W]]) -> Own[W] | None:
    """A column whose way of writing an undecided one shares.

    Those of the same name in other sheets are asked first, then those of the same sheet, then all of the upload. Where the
    nearest that can tell do not agree, none is taken. A column of other forms is another hand: 12/31/2023 says nothing of
    03.04.2024.
    """
    mine, me = owns[place], owns[place].column
    circles: tuple[Callable[[TypedColumn], bool], ...] = (
        lambda other: other.column.name == me.column.name,
        lambda other: other.region.grid.source == me.region.grid.source,
        lambda other: True,
    )
    for belongs in circles:
        able = [
            own
            for own in owns
            if own.way is not None and own.way in mine.candidates and own.fits and own.forms >= mine.forms and belongs(own.column)
        ]
        if able:
            return able[0] if len({own.way for own in able}) == 1 else None
    return None


def shown_by[W](own: Own[W]) -> str:
    """Why a column is read as it is, where its own cells show it, as the end of a sentence."""
    if own.shows is None:
        return ""
    most = " and most others" if own.unfit else ""
    verb = "show" if own.unfit else "shows"
    return f"as {as_text(own.shows)} in row {own.column.first_row(own.shows)}{most} {verb}"


def named_by[W](own: Own[W], witness: Own[W]) -> str:
    """Why a column is read as another is, as the end of a sentence."""
    mine, other = own.column, witness.column
    if mine.region.grid.source == other.region.grid.source:
        return f"as {other.column.name} is"
    return f"as {other.column.name} in {other.region.grid.source} is"
