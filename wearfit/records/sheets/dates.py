"""What a cell can mean as a day: read once into all that it may say, before anything is known of its column."""

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

from wearfit.records.choices import DateOrder
from wearfit.records.sheets.months import MONTHS, full_year, month_of

How = Literal["iso", "numbers", "year first", "compact", "named", "serial", "month"]

DMY: Final[DateOrder] = "day month year"
MDY: Final[DateOrder] = "month day year"
YMD: Final[DateOrder] = "year month day"

LEAST_SERIAL: Final = 10_000  # 18 May 1927; a smaller number is rather a year or a slip; judgement
MOST_SERIAL: Final = 73_415  # 31 December 2100
_FALSE_DAY: Final = 60  # 29 February 1900, which spreadsheets count though it never was; days before are one off
_BEFORE_SERIALS: Final = dt.date(1899, 12, 30)
_FROM_1904: Final = 1_462  # days by which the number of a day is smaller where 0 stands for 1 January 1904
_LONGEST: Final = 60  # characters; no date is longer

_NUMBERS = re.compile(r"(\d{1,4})\s*([./\- ])\s*(\d{1,2})\s*\2\s*(\d{1,4})", re.ASCII)
_ISO = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})", re.ASCII)
_SERIAL = re.compile(r"\d{5}([.,]\d+)?", re.ASCII)
_CLOCK = re.compile(
    r"(?:t|[\s,]\s*)(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d{1,9})?)?\s*([ap]\.?m\.?)?\s*(z|utc|gmt|[a-z]{3,4}|[+-]\d{2}:?\d{2})?", re.ASCII
)
_WEEKDAY = re.compile(r"(?:mon|tue|tues|wed|thu|thur|thurs|fri|sat|sun|(?:mon|tues|wednes|thurs|fri|satur|sun)day)[.,]?\s+", re.ASCII)
_DAY_NAME = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?\.?[\s\-/,]*(?:of\s+)?([a-z]{3,9})\.?[\s.\-/,']*(\d{4}|\d{2})", re.ASCII)
_NAME_DAY = re.compile(r"([a-z]{3,9})\.?[\s.\-/]*(\d{1,2})(?:st|nd|rd|th)?(?:\s*,\s*|[\s.\-/]+)'?(\d{4}|\d{2})", re.ASCII)
_YEAR_NAME = re.compile(r"(\d{4})[\s.\-/]*([a-z]{3,9})\.?[\s.\-/]*(\d{1,2})", re.ASCII)

_WEEK = re.compile(r"(?<![a-z])(?:kw|cw|wk|w|week)\.?\s*-?\d{1,2}(?!\d)", re.ASCII)
_PART_OF_YEAR = re.compile(r"(?<![a-z])[qh][1-4](?!\d)|(?<!\d)[1-4]\.?\s*q(?![a-z])|quarter|half", re.ASCII)
_SEASON = re.compile(r"(?<![a-z])(?:spring|summer|autumn|fall|winter|easter|christmas)(?![a-z])", re.ASCII)
_YEAR = re.compile(r"(?:19|20)\d{2}", re.ASCII)
_NO_YEAR = re.compile(r"\d{1,2}\s*[./\-]\s*\d{1,2}\s*[./\-]?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Moment:
    """What a cell can mean as a day, with the time of that day where it says one.

    Parameters
    ----------
    how : How
        How it is written.
    day : str
        YYYY-MM-DD, "" where that hangs on the order of day, month and year.
    by_order : mapping of DateOrder to str
        In that case: YYYY-MM-DD for each order that gives a day of the calendar.
    time : str
        HH:MM:SS, "" where none is said.
    two_digits : bool
        Whether the year is written with two digits.
    mark : str
        What parts day, month and year where that hangs on the order: a full stop, slash, hyphen or blank.
    """

    how: How
    day: str = ""
    by_order: Mapping[DateOrder, str] = field(default_factory=dict)
    time: str = ""
    two_digits: bool = False
    mark: str = ""


@dataclass(frozen=True, slots=True)
class NoMoment:
    """Why a cell is no day: the end of a sentence that begins with the cell; both "" where it looks like none at all."""

    says: str = ""
    repair: str = ""


NOT_OF_THE_CALENDAR: Final = NoMoment("is not a day of the calendar.", "Correct the day or the month.")
NOT_OF_THE_CLOCK: Final = NoMoment("is not a time of the calendar.", "Correct the day or the hour.")
_WRITE_THE_DAY: Final = "Write the day, such as 2024-03-31."


def moment_of(cell: str | float, from_1904: bool = False) -> Moment | NoMoment:
    """What a cell can mean as a day.

    Parameters
    ----------
    cell : str or float
        Clean text that is not blank, or a number that the file itself holds.
    from_1904 : bool
        Whether the file's numbers of days count from 1904.
    """
    if isinstance(cell, float):
        return _of_number(cell, from_1904)
    if len(cell) > _LONGEST:
        return NoMoment()
    text = cell.casefold()
    # A clock's first digit follows a blank, a comma or a T; only the last such place in so short a text can be one.
    clock = next((found for place in range(len(text)) if (found := _CLOCK.fullmatch(text, place))), None) if ":" in text else None
    if clock is None:
        return _day_of(text, from_1904)
    day = _day_of(text[: clock.start()].strip(), from_1904)
    if isinstance(day, NoMoment):
        return day
    if clock[5]:
        return NoMoment("has a time zone.", "Write it as 2024-03-31T14:00, without a time zone, by the clock of the plant.")
    time = _time_of(int(clock[1]), int(clock[2]), int(clock[3] or 0), clock[4])
    if not time:
        return NOT_OF_THE_CLOCK
    return replace(day, time=time)


def exchanged(day: str) -> str:
    """An ISO day, or time of a day, with the numbers of its day and month exchanged; both are 12 or less."""
    return f"{day[:5]}{day[8:10]}-{day[5:7]}{day[10:]}"


def _of_number(number: float, from_1904: bool) -> Moment | NoMoment:
    if number.is_integer() and (found := _COMPACT.fullmatch(str(int(number)))) and 1900 <= int(found[1]) <= 2100:
        return _fixed("compact", found[1], int(found[2]), int(found[3]))
    if number.is_integer() and 1900 <= number <= 2100:
        return NoMoment("is a year alone, and a day is needed.", _WRITE_THE_DAY)
    if from_1904:
        number += _FROM_1904
    if not LEAST_SERIAL <= number < MOST_SERIAL + 1:
        return NoMoment("is a number, and not one that a spreadsheet would give a day of our time.", _WRITE_THE_DAY)
    return serial_moment(number)


def serial_moment(number: float) -> Moment | NoMoment:
    """The day and time of a spreadsheet's day number, 1 for 1 January 1900.

    Notes
    -----
    The 1900 date system counts a 29 February 1900. Source: ECMA-376 part 1, 18.17.4.1; the false day from memory.
    """
    days, seconds = divmod(round(number * 86_400), 86_400)
    if days == _FALSE_DAY:
        return NOT_OF_THE_CALENDAR
    day = _BEFORE_SERIALS + dt.timedelta(days + (days < _FALSE_DAY))
    hour, rest = divmod(seconds, 3600)
    return Moment("serial", day.isoformat(), time=f"{hour:02d}:{rest // 60:02d}:{rest % 60:02d}" if seconds else "")


def _day_of(text: str, from_1904: bool) -> Moment | NoMoment:
    if found := _NUMBERS.fullmatch(text):
        return _of_three(text, found[1], found[2], found[3], found[4])
    if found := _COMPACT.fullmatch(text):
        return _fixed("compact", found[1], int(found[2]), int(found[3]))
    if _SERIAL.fullmatch(text):
        return _of_number(float(text.replace(",", ".")), from_1904)
    return _named(text) or _no_day(text)


def _named(text: str) -> Moment | NoMoment | None:
    weekday = _WEEKDAY.match(text)
    text = text[weekday.end() :] if weekday else text
    if (found := _DAY_NAME.fullmatch(text)) and found[2] in MONTHS:
        return _fixed("named", found[3], MONTHS[found[2]], int(found[1]))
    if (found := _NAME_DAY.fullmatch(text)) and found[1] in MONTHS:
        return _fixed("named", found[3], MONTHS[found[1]], int(found[2]))
    if (found := _YEAR_NAME.fullmatch(text)) and found[2] in MONTHS:
        return _fixed("named", found[1], MONTHS[found[2]], int(found[3]))
    return None


def _of_three(text: str, first: str, mark: str, second: str, third: str) -> Moment | NoMoment:
    if len(first) == 4 and len(third) <= 2:
        return _fixed("iso" if _ISO.fullmatch(text) else "year first", first, int(second), int(third))
    if len(first) > 2 or len(third) not in (2, 4):
        return NoMoment()
    places = {DMY: (third, second, first), MDY: (third, first, second)}
    if len(first) == len(third) == 2:
        places[YMD] = (first, second, third)
    by_order = {order: day for order, (y, m, d) in places.items() if (day := _iso(full_year(y), int(m), int(d)))}
    return Moment("numbers", by_order=by_order, two_digits=len(third) == 2, mark=mark) if by_order else NOT_OF_THE_CALENDAR


def _fixed(how: How, year: str, month: int, day: int) -> Moment | NoMoment:
    iso = _iso(full_year(year), month, day)
    return Moment(how, iso, two_digits=len(year) == 2) if iso else NOT_OF_THE_CALENDAR


def _iso(year: int, month: int, day: int) -> str:
    try:
        return dt.date(year, month, day).isoformat()
    except ValueError:
        return ""


def _time_of(hour: int, minute: int, second: int, half: str | None) -> str:
    if half:
        if not 1 <= hour <= 12:
            return ""
        hour = hour % 12 + (12 if half.startswith("p") else 0)
    if hour > 23 or minute > 59 or second > 59:
        return ""
    return f"{hour:02d}:{minute:02d}:{second:02d}"


def _no_day(text: str) -> NoMoment:
    for pattern, what in ((_WEEK, "a week"), (_PART_OF_YEAR, "a part of a year"), (_SEASON, "a time of the year")):
        if pattern.search(text):
            return NoMoment(f"is {what}, and a day is needed.", _WRITE_THE_DAY)
    if month_of(text):
        return NoMoment("is a month, and a day is needed.", _WRITE_THE_DAY)
    if _YEAR.fullmatch(text):
        return NoMoment("is a year alone, and a day is needed.", _WRITE_THE_DAY)
    if _NO_YEAR.fullmatch(text):
        return NoMoment("has no year.", "Write the day with its year, such as 2024-03-31.")
    return NoMoment()
