"""How each column is written: the order of its dates, the mark of its decimals, the unit behind its numbers."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from wearfit.records.cells import number_text
from wearfit.records.choices import Choices, DateOrder, Decimals
from wearfit.records.findings import Finding, Severity
from wearfit.records.readers.grid import Cell
from wearfit.records.sheets.columns import TypedColumn, as_text
from wearfit.records.sheets.dates import DMY, MDY, YMD, Moment
from wearfit.records.sheets.deciding import Own, named_by, own_way, shown_by, witness_of
from wearfit.records.sheets.exchanges import exchanges_of
from wearfit.records.sheets.marks import cells_of
from wearfit.records.sheets.numbers import Number
from wearfit.records.sheets.reading import Writing, order_words, readings_of
from wearfit.records.sheets.units import is_open

_DECIMALS: Final[tuple[Decimals, ...]] = ("point", "comma")


def writings_of(columns: Sequence[TypedColumn], choices: Choices, today: dt.date | None) -> list[tuple[Writing, list[Finding]]]:
    """Decide how every column of an upload is written.

    Parameters
    ----------
    columns : sequence of TypedColumn
        Of all regions.
    choices : Choices
    today : date or None
        A year of two digits is not taken to lie beyond it where the cell can be read otherwise.

    Returns
    -------
    list of (Writing, list of Finding), one a column
        With what decided it, where that is to be told.
    """
    sheets = Counter((column.region.table.name, column.column.name) for column in columns)
    own_orders = [_own_order(column, today) for column in columns]
    chosen_orders, orders, decimals = [], [], []
    for column, own_order in zip(columns, own_orders, strict=True):
        table, name = column.region.table.name, column.column.name
        alone, called = sheets[table, name] == 1, (column.region.grid.name, column.region.grid.source)
        of_table, of_sheet = choices.date_order_of(table, name), choices.date_order_of("", name, called)
        orders.append(_chosen(own_order, of_table, of_sheet, alone))
        chosen_orders.append(orders[-1].way if orders[-1].chosen else of_table if of_table == own_order.way else None)
        decimals.append(_chosen(_own_decimals(column), choices.decimals_of(table, name), choices.decimals_of("", name, called), alone))
    exchanges = exchanges_of(own_orders, chosen_orders)
    for place in exchanges:
        # Chosen of the days that the file holds; the texts beside them can be read in one order alone.
        orders[place] = own_orders[place] if chosen_orders[place] == YMD else orders[place]
    units = _units(columns)
    last = "" if today is None else today.isoformat()
    writings = []
    for place, column in enumerate(columns):
        order, of_order = _order(place, orders)
        mark, of_mark = _mark(place, decimals)
        unit = units.get((column.region.grid.source, column.column.unit), "")
        exchange, of_exchange = exchanges.get(place, ("as they stand", []))
        writings.append((Writing(order, _tells_time(column), mark, unit, exchange, last), [*of_order, *of_mark, *of_exchange]))
    return writings


def _chosen[W](own: Own[W], of_table: W | None, of_sheet: W | None, alone: bool) -> Own[W]:
    """What the user has chosen, put over what the cells say.

    A choice made for the sheet holds. Of the several sheets of a table, one whose every telling cell says otherwise keeps its way
    against a choice made for the table, which was meant for another.
    """
    choice = of_table if of_sheet is None else of_sheet
    if choice is None or (of_sheet is None and not alone and own.shows is not None and not own.unfit and own.way != choice):
        return own
    return Own(own.column, own.fits, choice, (choice,), chosen=True)


def _own_order(column: TypedColumn, today: dt.date | None) -> Own[DateOrder]:
    fits: dict[Cell, set[DateOrder]] = {}
    for cell, moment in column.moments.items():
        if isinstance(moment, Moment) and moment.by_order:
            readings = readings_of(column.column, moment)
            if today is not None and moment.two_digits and YMD in readings:
                readings = {order: day for order, day in readings.items() if int(day[:4]) <= today.year + 1} or readings
            if readings:
                fits[cell] = set(readings)
    # A year of two digits stands last unless it cannot: read as the first, nearly every such date would be a day too.
    own = own_way(column, fits, (DMY, MDY), (YMD,))
    return replace(own, forms={moment.mark for cell in fits if isinstance(moment := column.moments[cell], Moment)})


def _order(place: int, owns: Sequence[Own[DateOrder]]) -> tuple[DateOrder | None, list[Finding]]:
    own = owns[place]
    order, why = own.way, shown_by(own)
    if order is None and own.fits and (witness := witness_of(place, owns)) is not None:
        order, why = witness.way, named_by(own, witness)
    if order is None or own.chosen:
        return order, []
    column = own.column.column.name
    problem = f"{column} is read as {order_words(order)}, {why}."
    if own.shows is None:
        problem = _with_example(own, problem, {cell: _day(own.column, cell, order) for cell in own.fits})
    if own.unfit:
        problem = f"{problem[:-1]}; {cells_of(own.unfit)} cannot be read so and {'is' if own.unfit == 1 else 'are'} not used."
    return order, [_told(own.column, own.shows, problem, "dates", "note")]


def _own_decimals(column: TypedColumn) -> Own[Decimals]:
    fits: dict[Cell, set[Decimals]] = {
        cell: {mark for mark in _DECIMALS if number.read_with(mark)}
        for cell, number in column.numbers.items()
        if isinstance(number, Number) and number.point != number.comma
    }
    return own_way(column, fits, _DECIMALS, ())


def _mark(place: int, owns: Sequence[Own[Decimals]]) -> tuple[Decimals | None, list[Finding]]:
    own = owns[place]
    if own.chosen or not own.fits:
        return own.way, []
    if own.way is not None:
        return own.way, _told_of_mark(own, own.way, shown_by(own))
    witness = witness_of(place, owns)
    mark = None if witness is None else witness.way
    why = "" if witness is None else named_by(own, witness)
    numbers = {cell: number for cell in own.fits if isinstance(number := own.column.numbers[cell], Number)}
    if all(number.is_open for number in numbers.values()):
        able = [each for each in _DECIMALS if all(_within_bounds(own.column, number, each) for number in numbers.values())]
        if len(able) == 1:
            return able[0], _told_of_mark(own, able[0], why if mark == able[0] else "for only so do its numbers lie within their bounds")
        if own.column.column.whole and not (mark and all(_is_whole(number, mark) for number in numbers.values())):
            return _between_thousands(own, numbers)
    if mark is None and own.column.region.grid.semicolons:
        mark, why = "comma", "as semicolons part the columns"
    return mark, [] if mark is None else _told_of_mark(own, mark, why)


def _between_thousands(own: Own[Decimals], numbers: Mapping[Cell, Number]) -> tuple[Decimals | None, list[Finding]]:
    """Things that come whole: 12.500 shots are twelve thousand, whatever other columns make of such a mark."""
    marks = [mark for mark in _DECIMALS if all("." not in number.read_with(mark) for number in numbers.values())]
    if len(marks) != 1:
        return None, []
    first = next(cell for cell in own.column.cells.distinct if cell in numbers)
    name, count = own.column.column.name, own.column.cells.count(numbers)
    typed, read = as_text(first), numbers[first].read_with(marks[0])
    row = own.column.first_row(first)
    problem = f"The mark in {name} is taken to stand between thousands, as in {typed} in row {row}, read as {read} ({cells_of(count)})."
    return marks[0], [_told(own.column, first, problem, "decimals", "repaired")]


def _told_of_mark(own: Own[Decimals], mark: Decimals, why: str) -> list[Finding]:
    """The note on a mark of decimals, unless the numbers are written as everyone reads them."""
    if mark == "point" and not any(isinstance(cell, str) and "," in cell for cell in own.fits):
        return []
    problem = f"{own.column.column.name} is read with a decimal {mark}, {why}."
    if own.shows is None:
        problem = _with_example(own, problem, {cell: _number(own.column, cell, mark) for cell in own.fits})
    if own.unfit:
        problem = f"{problem[:-1]}; {cells_of(own.unfit)} cannot be read so and {'is' if own.unfit == 1 else 'are'} not used."
    return [_told(own.column, own.shows, problem, "decimals", "note")]


def _with_example[W](own: Own[W], problem: str, read: Mapping[Cell, str]) -> str:
    """The sentence with the first cell that hangs on it."""
    first = next((cell for cell in own.column.cells.distinct if read.get(cell)), None)
    if first is None:
        return problem
    return f"{problem[:-1]}: {as_text(first)} in row {own.column.first_row(first)} is {read[first]}."


def _day(column: TypedColumn, cell: Cell, order: DateOrder) -> str:
    moment = column.moments[cell]
    return moment.by_order.get(order, "") if isinstance(moment, Moment) else ""


def _number(column: TypedColumn, cell: Cell, mark: Decimals) -> str:
    number = column.numbers[cell]
    digits = number.read_with(mark) if isinstance(number, Number) else ""
    return number_text(float(digits)) if digits else ""


def _told(column: TypedColumn, shows: Cell | None, problem: str, section: str, severity: Severity) -> Finding:
    table, name = column.region.table.name, column.column.name
    word = '"day month year" or another order' if section == "dates" else '"point" or "comma"'
    repair = f"Nothing needs doing if that is right; if not, choose under [{section}.{table}]: {name} = {word}."
    value = None if shows is None else as_text(shows)
    return Finding(table, None, name, value, problem, repair, severity, column.region.grid.source)


def _within_bounds(column: TypedColumn, number: Number, mark: Decimals) -> bool:
    low, high, value = column.column.low, column.column.high, float(number.read_with(mark)) * number.factor
    return (low is None or value >= low) and (high is None or value <= high)


def _is_whole(number: Number, mark: Decimals) -> bool:
    return (float(number.read_with(mark)) * number.factor).is_integer()


def _units(columns: Sequence[TypedColumn]) -> dict[tuple[str, str], str]:
    """The unit that numbers of open columns have, by sheet and by what they measure, where it is one alone."""
    seen: dict[tuple[str, str], set[str]] = {}
    for column in columns:
        if is_open(column.column):
            units = seen.setdefault((column.region.grid.source, column.column.unit), set())
            units |= {number.unit for number in column.numbers.values() if isinstance(number, Number) and number.unit}
    return {place: next(iter(units)) for place, units in seen.items() if len(units) == 1}


def _tells_time(column: TypedColumn) -> bool:
    """Whether cells of a column of times say a time of day."""
    if column.column.kind != "timestamp":
        return False
    return any(column.texts.values()) or any(isinstance(moment, Moment) and bool(moment.time) for moment in column.moments.values())
