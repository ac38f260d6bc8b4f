"""One column of a region: what needs no other cell is read at once, the rest is kept open until the column's writing is known."""

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from wearfit.records.cells import (
    Unreadable,
    bounded_number,
    canonical_of_clean,
    checked_year,
    clean,
    holds_unseen,
    listed_word,
    not_a_number,
    number_text,
    quoted,
    refuse_unfit,
    word_not_listed,
)
from wearfit.records.columns import Column, Kind
from wearfit.records.readers.grid import Cell
from wearfit.records.sheets.coded import Coded
from wearfit.records.sheets.conversions import Conversion
from wearfit.records.sheets.dates import Moment, NoMoment, exchanged, moment_of
from wearfit.records.sheets.months import DAYS_OF_MONTHS, first_of_month, month_of
from wearfit.records.sheets.numbers import NoNumber, Number, number_of
from wearfit.records.sheets.reading import Mark, Writing, read_moment, read_number
from wearfit.records.sheets.region import Region
from wearfit.records.sheets.words import flag_of, is_error, says_nothing, variant_of

DATED: Final[tuple[Kind, ...]] = ("date", "month", "timestamp")
NUMBERED: Final[tuple[Kind, ...]] = ("number", "count", "value")

_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


@dataclass(frozen=True)
class TypedColumn:
    """The cells of one column of a region, each distinct one looked at once.

    Parameters
    ----------
    region : Region
    column : Column
    rows : sequence of int
        Rows of the grid, counted from 0, in which the records stand.
    cells : Coded
        As typed, one a row.
    texts : dict of Cell to str
        Canonical text of the cells that can be read by themselves; "" for blank ones.
    faults : dict of Cell to Unreadable
        Cells that cannot be read in any way.
    moments, numbers : dict of Cell to what it can mean
        Cells whose reading may hang on others.
    marks : dict of Cell to tuple of Mark
        What was done to cells on the way.
    """

    region: Region
    column: Column
    rows: Sequence[int]
    cells: Coded
    texts: dict[Cell, str] = field(default_factory=dict)
    faults: dict[Cell, Unreadable] = field(default_factory=dict)
    moments: dict[Cell, Moment | NoMoment] = field(default_factory=dict)
    numbers: dict[Cell, Number | NoNumber] = field(default_factory=dict)
    marks: dict[Cell, tuple[Mark, ...]] = field(default_factory=dict)

    def first_row(self, cell: Cell) -> int:
        """Row of the first such cell, as a spreadsheet counts it."""
        return self.rows[self.cells.first_place(cell)] + 1


def as_text(cell: Cell) -> str:
    """A cell as it would be typed: a number of the file without a point where it is whole, as in "104"."""
    return clean(cell) if isinstance(cell, str) else number_text(cell)


def typed_column(region: Region, column: Column, rows: Sequence[int], cells: Coded) -> TypedColumn:
    """Look at each distinct cell of a column."""
    if conversion := region.conversions.get(column.name):
        column = conversion.before(column)
    typed = TypedColumn(region, column, rows, cells)
    for cell in cells.distinct:
        try:
            if isinstance(cell, str):
                _look_at_text(typed, cell)
            else:
                _look_at_number(typed, cell)
        except Unreadable as unreadable:
            typed.faults[cell] = unreadable
    return typed


def _look_at_number(typed: TypedColumn, cell: float) -> None:
    """A cell that the file itself holds as a number."""
    column = typed.column
    if column.kind in NUMBERED:
        if cell - cell != 0:  # not a number, or without end
            raise not_a_number(column, number_text(cell))
        typed.texts[cell] = bounded_number(column, cell, number_text(cell))
    elif column.kind == "month" and (month := month_of(cell)):
        typed.texts[cell] = checked_year(column, number_text(cell), month)
    elif column.kind in DATED:
        typed.moments[cell] = moment_of(cell, typed.region.grid.from_1904)
    else:
        _look_at_word(typed, cell, number_text(cell))


def _look_at_text(typed: TypedColumn, cell: str) -> None:
    column = typed.column
    if column.kind in NUMBERED and cell.isascii() and cell.isdigit() and len(cell) <= 15 and (cell[0] != "0" or len(cell) == 1):
        typed.texts[cell] = bounded_number(column, float(cell), cell)
        return
    if column.kind == "date" and _ISO_DATE.fullmatch(cell):  # the two shortest ways, for most cells of a long history
        try:
            typed.texts[cell] = checked_year(column, cell, dt.date.fromisoformat(cell).isoformat())
            return
        except ValueError:
            pass
    text = clean(cell)
    if not text:
        if column.required:
            raise Unreadable(f"{column.name} is blank.", "Fill it in.")
        typed.texts[cell] = ""
        return
    refuse_unfit(column, text)
    if is_error(text):
        if column.required or column.blank_misleads:
            raise Unreadable(f"{column.name} holds '{quoted(text)}', an error of a formula.", "Mend the formula, or type what is meant.")
        typed.texts[cell] = ""
        typed.marks[cell] = ("error",)
    elif says_nothing(column, text):
        typed.texts[cell] = ""
        typed.marks[cell] = ("blank word",)
    elif column.kind in NUMBERED:
        typed.numbers[cell] = number_of(text, column.kind == "value")
    elif column.kind in DATED:
        _look_at_date(typed, cell, text)
    else:
        _look_at_word(typed, cell, text)
        if holds_unseen(cell):
            typed.marks[cell] = (*typed.marks.get(cell, ()), "unseen")


def _look_at_date(typed: TypedColumn, cell: str, text: str) -> None:
    column = typed.column
    if text[4:5] == "-":
        try:
            typed.texts[cell] = canonical_of_clean(column, text)
            return
        except Unreadable as unreadable:
            if column.kind == "month" and text[7:] == "":
                raise unreadable from None
    if column.kind == "month" and (month := month_of(text)):
        typed.texts[cell] = checked_year(column, text, month)
        typed.marks[cell] = ("month",)
    elif column.name in DAYS_OF_MONTHS and (first := first_of_month(text)):
        typed.moments[cell] = Moment("month", first)
    else:
        typed.moments[cell] = moment_of(text, typed.region.grid.from_1904)


def _look_at_word(typed: TypedColumn, cell: Cell, text: str) -> None:
    """A cell of a column of texts, words of a list or flags."""
    column = typed.column
    if column.kind == "text":
        if not column.free and ("\n" in text or "\t" in text):
            text = " ".join(text.split())
            typed.marks[cell] = ("line break",)
        typed.texts[cell] = text
    elif column.kind == "flag":
        flag = flag_of(text)
        typed.texts[cell] = canonical_of_clean(column, text) if flag is None else flag
        if flag is not None and text not in ("0", "1", "0.0", "1.0"):
            typed.marks[cell] = ("flag word",)
    else:
        word = listed_word(column, text)
        if word not in column.choices and (variant := variant_of(column, text)) is not None:
            word = variant
            typed.marks[cell] = ("variant",)
        # A word outside its list can be repaired later, but not where it tells one row from another.
        if word not in column.choices and column.name in typed.region.table.key:
            raise word_not_listed(column, text)
        typed.texts[cell] = word


def held_days(typed: TypedColumn) -> dict[Cell, str]:
    """Cells that are days as the file itself holds them: written as ISO 8601 has them, as a workbook's own are, or its number of a day."""
    if typed.column.kind not in ("date", "timestamp"):
        return {}
    of_moments = {
        cell: moment.day for cell, moment in typed.moments.items() if isinstance(moment, Moment) and moment.how in ("iso", "serial")
    }
    return {**{cell: text for cell, text in typed.texts.items() if text}, **of_moments}


def read_open_cells(typed: TypedColumn, writing: Writing) -> TypedColumn:
    """The column with every cell either read or at fault, now that its way of writing is known."""
    table = typed.region.table.name
    texts, faults, marks = dict(typed.texts), dict(typed.faults), dict(typed.marks)
    for cell in (*typed.moments, *typed.numbers):
        try:
            if cell in typed.moments:
                reading = read_moment(typed.column, as_text(cell), typed.moments[cell], writing, table)
            else:
                reading = read_number(typed.column, as_text(cell), typed.numbers[cell], writing, table)
        except Unreadable as unreadable:
            faults[cell] = unreadable
            continue
        texts[cell] = reading.text
        if reading.marks:
            marks[cell] = reading.marks
    if writing.exchange != "as they stand":
        _exchange(typed, writing, texts, faults)
    if conversion := typed.region.conversions.get(typed.column.name):
        _convert(typed.region.table.column(typed.column.name), conversion, texts, faults)
    return TypedColumn(typed.region, typed.column, typed.rows, typed.cells, texts, faults, {}, {}, marks)


def _exchange(typed: TypedColumn, writing: Writing, texts: dict[Cell, str], faults: dict[Cell, Unreadable]) -> None:
    """Exchange day and month of the days that the file itself holds, or say that it cannot be told whether to."""
    name, table = typed.column.name, typed.region.table.name
    for cell in held_days(typed):
        if cell not in texts:
            continue
        day, other = texts[cell], exchanged(texts[cell])
        if writing.exchange == "exchanged back":
            texts[cell] = other
        elif other != day:
            problem = f"{name} '{quoted(as_text(cell))}' is {day[:10]} as it stands, or {other[:10]} if a program exchanged day and month."
            repair = f"Write every day of the column as year-month-day, or choose under [dates.{table}], as is said of the column."
            faults[cell] = Unreadable(problem, repair)
            del texts[cell]


def _convert(column: Column, conversion: Conversion, texts: dict[Cell, str], faults: dict[Cell, Unreadable]) -> None:
    """Turn the texts into the column's unit; what then lies outside its bounds is at fault."""
    for cell, text in list(texts.items()):
        try:
            texts[cell] = conversion.after(column, text) if text else ""
        except Unreadable as unreadable:
            faults[cell] = unreadable
            del texts[cell]
