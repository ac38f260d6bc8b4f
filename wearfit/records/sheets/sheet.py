"""The records of one region: rows that can be read, and a finding for each that cannot."""

import datetime as dt
from array import array
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from wearfit.records.cells import Unreadable, quoted, refuse_unfit
from wearfit.records.columns import Column
from wearfit.records.findings import Finding, Severity
from wearfit.records.readers.grid import Cell
from wearfit.records.rows import Rows, TableRows, one_text, text_column
from wearfit.records.sheets.coded import Coded
from wearfit.records.sheets.columns import TypedColumn, as_text, read_open_cells
from wearfit.records.sheets.marks import told_of_marks
from wearfit.records.sheets.reading import Writing
from wearfit.records.sheets.typed import TypedRegion

# Days by which a row says that something has happened. A day ahead of today may be one already farther east.
_HAPPENED: Final[Mapping[str, tuple[str, ...]]] = {
    "runs": ("started_on", "ended_on"), "counter": ("date",), "events": ("date",), "readings": ("date",),
}  # fmt: skip
_SLACK: Final = dt.timedelta(days=1)


@dataclass(frozen=True)
class Sheet:
    """The rows that can be read, what was noticed, and how many rows there are."""

    rows: Rows
    findings: tuple[Finding, ...]
    count: int


@dataclass(frozen=True)
class Texts:
    """Canonical text of the cells of one column: of each distinct one, in the order of the column's distinct cells."""

    distinct: Sequence[str]
    cells: Coded

    def by_row(self) -> Iterator[str]:
        return self.cells.spread(self.distinct)


class _Noticed(NamedTuple):
    """A finding about one row, with the row's place among the rows and the column's among the columns."""

    place: int
    order: int
    finding: Finding


def read_region(typed: TypedRegion, writings: Sequence[Writing], today: dt.date | None) -> Sheet:
    """Read the rows of a region.

    Parameters
    ----------
    typed : TypedRegion
    writings : sequence of Writing, one a column
    today : date or None
        Rows of what has happened on a later day are set aside; None: not looked at.

    Returns
    -------
    Sheet
        Every row with `occurrence` 0.
    """
    columns = [read_open_cells(column, writing) for column, writing in zip(typed.columns, writings, strict=True)]
    notes = [finding for column in columns for finding in told_of_marks(column)]
    noticed = [*_too_long(typed), *_unreadable(typed, columns)]
    texts = {column.column.name: _texts_of(column) for column in columns}
    noticed += _unfilled(typed, texts, _aside(noticed))
    if today is not None:
        noticed += _in_the_future(typed, texts, today, _aside(noticed))
    for name, cells in typed.others.items():
        texts[name], told = _kept(typed, name, cells)
        notes += told
    noticed.sort(key=lambda each: each[:2])
    rows = _rows(typed, texts, _aside(noticed))
    return Sheet(Rows((rows,) if len(rows) else ()), (*notes, *(each.finding for each in noticed)), len(typed.rows))


def _aside(noticed: Sequence[_Noticed]) -> set[int]:
    return {each.place for each in noticed if each.finding.severity == "set_aside"}


def _notice(
    typed: TypedRegion, place: int, order: int, column: str | None, value: str | None, said: Unreadable, severity: Severity = "set_aside"
) -> _Noticed:
    table, row, source = typed.region.table.name, typed.rows[place] + 1, typed.region.grid.source
    return _Noticed(place, order, Finding(table, row, column, value, said.problem, said.repair, severity, source))


def _too_long(typed: TypedRegion) -> list[_Noticed]:
    said = Unreadable("The row has more cells than the header has columns.", "Put a text that holds a comma in double quotes.")
    return [_notice(typed, place, 0, None, as_text(cell), said) for place, cell in typed.beyond.items()]


def _unreadable(typed: TypedRegion, columns: Sequence[TypedColumn]) -> list[_Noticed]:
    table = typed.region.table
    by_name = {column.column.name: column for column in columns}
    noticed = []
    for order, column in enumerate(columns):
        if not column.faults:
            continue
        name = column.column.name
        may_blank = table.may_blank(name)
        alternatives = [[by_name[other] for other in group if other in by_name] for group in table.alternatives_to(name)]
        blanked = {cell: _blanked(table.column(name), fault) for cell, fault in column.faults.items()} if may_blank else {}
        for place, cell in column.cells.places(column.faults):
            if place in typed.beyond:
                continue
            if may_blank and all(any(_is_filled(other, place) for other in group) for group in alternatives):
                noticed.append(_notice(typed, place, order, name, as_text(cell) or None, blanked[cell], "repaired"))
            else:
                noticed.append(_notice(typed, place, order, name, as_text(cell) or None, column.faults[cell]))
    return noticed


def _is_filled(column: TypedColumn, place: int) -> bool:
    return bool(column.texts.get(column.cells.at(place)))


def _blanked(column: Column, fault: Unreadable) -> Unreadable:
    stands_for = f" A blank there means {column.default}." if column.default else ""
    return Unreadable(f"{fault.problem} The cell is taken as blank.{stands_for}", fault.repair)


def _texts_of(column: TypedColumn) -> Texts:
    return Texts([column.texts.get(cell, "") for cell in column.cells.distinct], column.cells)


def _unfilled(typed: TypedRegion, texts: Mapping[str, Texts], aside: Collection[int]) -> list[_Noticed]:
    """Rows in which none of a group of columns is filled in, of which one must be."""
    noticed = []
    for group in typed.region.table.one_of:
        given = [texts[name].by_row() for name in group if name in texts]
        for place, cells in enumerate(zip(*given, strict=True)):
            if any(cells) or place in aside:
                continue
            stands = [(column.column.name, as_text(column.cells.at(place))) for column in typed.columns if column.column.name in group]
            instead = " and ".join(f"{name} holds '{quoted(text)}'" for name, text in stands if text)
            problem = f"Neither {' nor '.join(group)} is filled in{': ' if instead else ''}{instead}."
            said = Unreadable(problem, "Fill in one of them.")
            noticed.append(_notice(typed, place, 0, group[0], None, said))
    return noticed


def _in_the_future(typed: TypedRegion, texts: Mapping[str, Texts], today: dt.date, aside: set[int]) -> list[_Noticed]:
    last = (today + _SLACK).isoformat()
    noticed: dict[int, _Noticed] = {}
    for name in _HAPPENED.get(typed.region.table.name, ()):
        if not any(text > last for text in texts[name].distinct):
            continue
        for place, text in enumerate(texts[name].by_row()):
            if text > last and place not in aside and place not in noticed:
                said = Unreadable(f"{name} {text} lies in the future: today is {today}.", "Correct the day.")
                noticed[place] = _notice(typed, place, 0, name, text, said)
    return list(noticed.values())


def _kept(typed: TypedRegion, name: str, cells: Coded) -> tuple[Texts, list[Finding]]:
    """Cells of a column that is not used, as typed; what no cell can hold is left out."""
    kept: list[str] = []
    left_out: set[Cell] = set()
    for cell in cells.distinct:
        try:
            refuse_unfit(Column(name, "text"), as_text(cell))
        except Unreadable:
            left_out.add(cell)
        kept.append("" if cell in left_out else as_text(cell))
    findings = []
    if left_out:
        count = cells.count(left_out)
        held = "1 cell holds" if count == 1 else f"{count:,} cells hold"
        problem = f"In the column '{name}', which is not used, {held} a page of text or characters that no one can see; left out."
        source = typed.region.grid.source
        findings.append(Finding(typed.region.table.name, None, name, None, problem, "Nothing needs doing.", "repaired", source))
    return Texts(kept, cells), findings


def _rows(typed: TypedRegion, texts: Mapping[str, Texts], aside: Collection[int]) -> TableRows:
    # Each text is written anew: those of the cells lie scattered among the rows of the grid, whose memory they would keep.
    columns = {
        name: text_column([text.encode().decode() for text in texts_of.distinct], texts_of.cells.codes)
        for name, texts_of in texts.items()
        if any(texts_of.distinct)
    }
    numbers = array("i", (row + 1 for row in typed.rows))
    rows = TableRows(typed.region.table.name, columns, numbers, one_text(typed.region.grid.source, len(numbers)))
    if not aside:
        return rows
    return rows.take([place for place in range(len(rows)) if place not in aside])
