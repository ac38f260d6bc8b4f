"""A cell whose column's way of writing is known: from all that it can mean to its canonical text."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

from wearfit.records.cells import (
    Unreadable,
    bounded_number,
    checked_year,
    not_a_date,
    not_a_month,
    not_a_number,
    not_a_timestamp,
    quoted,
)
from wearfit.records.choices import DateOrder, Decimals
from wearfit.records.columns import Column
from wearfit.records.sheets.dates import DMY, MDY, NOT_OF_THE_CALENDAR, How, Moment, NoMoment
from wearfit.records.sheets.header_units import SPELLINGS, spelling_of
from wearfit.records.sheets.months import DAYS_OF_MONTHS, last_of_month
from wearfit.records.sheets.numbers import NoNumber, Number
from wearfit.records.sheets.units import is_open, may_be_unit, takes_multiplier

# What was done to a cell on the way that its column's findings tell once.
Mark = Literal[
    "unseen", "line break", "error", "blank word", "flag word", "variant", "unit", "factor", "thousands",
    "year first", "compact", "named", "serial", "two digits", "time", "midnight", "month", "first of month", "last of month",
]  # fmt: skip

# Days of which a program exchanged day and month: read as they stand, exchanged back, or left open.
Exchange = Literal["as they stand", "exchanged back", "open"]


@dataclass(frozen=True, slots=True)
class Writing:
    """How the cells of one column are written, as far as can be told.

    Parameters
    ----------
    order : DateOrder or None
        Order of day, month and year.
    clocks : bool
        Whether cells of the column say a time of day, so that a day alone is its midnight.
    decimals : Decimals or None
        What marks the decimals.
    unit : str
        The unit that stands behind numbers of a column that names none itself; "" for none.
    exchange : Exchange
        What is made of the days that the file itself holds.
    today : str
        ISO day on which a month that is not over ends; "" where that is not looked at.
    """

    order: DateOrder | None = None
    clocks: bool = False
    decimals: Decimals | None = None
    unit: str = ""
    exchange: Exchange = "as they stand"
    today: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """Canonical text of a cell, and what was done on the way."""

    text: str
    marks: tuple[Mark, ...] = ()


_ORDERS: Final = (DMY, MDY)
_SHARE: Final = "share, 0 to 1"  # the unit of shares, of which a percentage is a hundred times as much
_MARKS_OF_DATES: Final[Mapping[How, tuple[Mark, ...]]] = {
    "year first": ("year first",), "compact": ("compact",), "named": ("named",), "serial": ("serial",),
}  # fmt: skip


def order_words(order: DateOrder) -> str:
    """An order for a sentence: day/month/year."""
    return order.replace(" ", "/")


def readings_of(column: Column, moment: Moment) -> dict[DateOrder, str]:
    """The days that a cell whose reading hangs on the order can mean in its column; of months only first days."""
    if column.kind == "month":
        return {order: day for order, day in moment.by_order.items() if day.endswith("-01")}
    return dict(moment.by_order)


def read_moment(column: Column, typed: str, moment: Moment | NoMoment, writing: Writing, table: str) -> Reading:
    """Canonical text of a date, month or timestamp.

    Parameters
    ----------
    column : Column
    typed : str
        The cell, for sentences.
    moment : Moment or NoMoment
    writing : Writing
    table : str
        Its name, for sentences.

    Raises
    ------
    Unreadable
        Where it is none, or what it is cannot be told.
    """
    if isinstance(moment, NoMoment):
        raise _no_moment(column, typed, moment)
    if moment.how == "month":
        return _month_end(column, typed, moment.day, writing.today)
    day = moment.day or _ordered(column, typed, moment, writing, table)
    marks: tuple[Mark, ...] = _MARKS_OF_DATES.get(moment.how, ())
    if moment.two_digits:
        marks += ("two digits",)
    if column.kind == "timestamp":
        if not moment.time and not writing.clocks:
            raise not_a_timestamp(column, typed)
        midnight: tuple[Mark, ...] = () if moment.time else ("midnight",)
        return Reading(checked_year(column, typed, f"{day}T{moment.time or '00:00:00'}"), marks + midnight)
    if moment.time not in ("", "00:00:00"):
        marks += ("time",)
    if column.kind == "date":
        return Reading(checked_year(column, typed, day), marks)
    if not day.endswith("-01"):
        raise Unreadable(f"{column.name} '{quoted(typed)}' is a day, and a month is needed.", "Write it as year-month, such as 2024-03.")
    return Reading(checked_year(column, typed, day[:7]), ("month",))


def _month_end(column: Column, typed: str, first: str, today: str) -> Reading:
    """The first or last day of a month that stands alone; of a month that is not over, today."""
    checked_year(column, typed, first)
    if DAYS_OF_MONTHS[column.name] == "first":
        return Reading(first, ("first of month",))
    last = last_of_month(first)
    return Reading(today if first <= today < last else last, ("last of month",))


def _no_moment(column: Column, typed: str, why: NoMoment) -> Unreadable:
    if column.kind == "month" and why is not NOT_OF_THE_CALENDAR:
        return not_a_month(column, typed)
    if why.says:
        return Unreadable(f"{column.name} '{quoted(typed)}' {why.says}", why.repair)
    return not_a_timestamp(column, typed) if column.kind == "timestamp" else not_a_date(column, typed)


def _ordered(column: Column, typed: str, moment: Moment, writing: Writing, table: str) -> str:
    readings = readings_of(column, moment)
    if not readings:
        return next(iter(moment.by_order.values()))  # a month's cell that is a day in every order, which is said of it
    if writing.order is not None:
        if writing.order in readings:
            return readings[writing.order]
        problem = f"{column.name} '{quoted(typed)}' does not fit {order_words(writing.order)}, in which the column is read."
        raise Unreadable(problem, "Correct it, or write it as year-month-day, such as 2024-03-31.")
    days = [readings.get(order, "") for order in _ORDERS]
    if len(set(days)) == 1 and days[0]:
        return days[0]
    choose = f'or choose the order under [dates.{table}], such as {column.name} = "day month year".'
    if all(days):
        problem = f"{column.name} '{quoted(typed)}' is {days[0]} or {days[1]}, and nothing in the records tells which."
        raise Unreadable(problem, f"Write the dates as year-month-day, {choose}")
    problem = f"{column.name} '{quoted(typed)}' fits one order of day and month, and as many cells of the column fit the other alone."
    raise Unreadable(problem, f"Write the dates as year-month-day, {choose}")


def read_number(column: Column, typed: str, number: Number | NoNumber, writing: Writing, table: str) -> Reading:
    """Canonical text of a number, count or reading; parameters and errors as of `read_moment`."""
    if isinstance(number, NoNumber):
        if number.says:
            raise Unreadable(f"{column.name} '{quoted(typed)}' {number.says}", number.repair)
        raise not_a_number(column, typed)
    marks: tuple[Mark, ...] = ("thousands",) if number.grouped else ()
    is_percent = column.unit == _SHARE and spelling_of(number.unit) in SPELLINGS["%"]
    if is_percent:
        marks += ("unit",)
    elif number.unit:
        _check_unit(column, typed, number.unit, writing)
        marks += ("unit",)
    if number.factor > 1:
        if not takes_multiplier(column):
            raise not_a_number(column, typed)
        marks += ("factor",)
    digits = _digits(column, typed, number, writing, table)
    value = float(digits) if number.factor == 1 else float(Decimal(digits) * number.factor)
    if is_percent:
        value = float(Decimal(digits) / 100)
    if not math.isfinite(value):
        raise not_a_number(column, typed)
    return Reading(("<" if number.below else "") + bounded_number(column, value, typed), marks)


def _check_unit(column: Column, typed: str, unit: str, writing: Writing) -> None:
    if not may_be_unit(column, unit):
        wanted = f"a number in {column.unit}" if column.unit and not is_open(column) else "a number"
        raise Unreadable(f"{column.name} '{quoted(typed)}' is not {wanted}.", "Write the number alone, in the unit of the column.")
    if is_open(column) and unit != writing.unit:
        problem = f"{column.name} '{quoted(typed)}' has a unit, and the sheet holds numbers of more than one."
        raise Unreadable(problem, "Write all of them in one unit, as numbers alone.")


def _digits(column: Column, typed: str, number: Number, writing: Writing, table: str) -> str:
    if number.point == number.comma:
        return number.point
    choose = f'or choose the mark of the decimals under [decimals.{table}], such as {column.name} = "comma".'
    if writing.decimals is not None:
        if digits := number.read_with(writing.decimals):
            return digits
        problem = f"{column.name} '{quoted(typed)}' does not fit a decimal {writing.decimals}, with which the column is read."
        raise Unreadable(problem, "Correct it, or write digits with a point for the decimals alone, such as 12500.5.")
    if number.point and number.comma:
        problem = (
            f"{column.name} '{quoted(typed)}' is {_short(number.comma)} or {_short(number.point)}, and nothing in the records tells which."
        )
        raise Unreadable(problem, f"Write it without a mark between thousands, {choose}")
    mark, other = ("point", "comma") if number.point else ("comma", "point")
    problem = f"{column.name} '{quoted(typed)}' fits a decimal {mark} alone, and as many cells of the column fit a decimal {other} alone."
    raise Unreadable(problem, f"Write all of them one way, {choose}")


def mark_of(decimals: Decimals) -> str:
    """What marks decimals, for a sentence."""
    return f"a decimal {decimals}"


def _short(digits: str) -> str:
    return digits.rstrip("0").rstrip(".") if "." in digits else digits
