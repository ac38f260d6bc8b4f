"""What a cell can mean as a month, and the day that a month alone stands for."""

import calendar
import re
from collections.abc import Mapping
from typing import Final, Literal

FIRST_OF_LAST_CENTURY: Final = 69  # years of two digits: 69-99 are 1969-1999, 00-68 are 2000-2068. Source: POSIX.1, strptime, %y
_LONGEST: Final = 60  # characters; no month is longer

_MONTHS: Final = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december",
)  # fmt: skip
MONTHS: Final[Mapping[str, int]] = {
    "sept": 9, **{name: month for month, full in enumerate(_MONTHS, start=1) for name in (full, full[:3])},
}  # fmt: skip

# Columns in which a month alone is a day: its first, or its last.
DAYS_OF_MONTHS: Final[Mapping[str, Literal["first", "last"]]] = {"started_on": "first", "ended_on": "last"}

_YEAR_MONTH = re.compile(r"(\d{4})\s*[\-/. ]\s*(\d{1,2})|(\d{4})(\d{2})", re.ASCII)
_MONTH_YEAR = re.compile(r"(\d{1,2})\s*[\-/. ]\s*(\d{4})", re.ASCII)
_MONTH_NAME = re.compile(r"([a-z]{3,9})\.?[\s\-/.,']*(\d{4}|\d{2})", re.ASCII)
# With a hyphen, as spreadsheets write months, it is one; with a blank it may be the 23rd of March.
_MAY_BE_DAY = re.compile(r"[a-z]{3,9}\.?\s*\d{2}", re.ASCII)
_NAME_OF_YEAR = re.compile(r"(\d{4})[\s\-/.]*([a-z]{3,9})\.?", re.ASCII)


def month_of(cell: str | float) -> str:
    """YYYY-MM of a cell that is written as a month, "" for others."""
    if isinstance(cell, float):
        cell = str(int(cell)) if cell.is_integer() and 190_001 <= cell <= 210_012 else ""
    if not cell or len(cell) > _LONGEST:
        return ""
    text = cell.casefold()
    if found := _YEAR_MONTH.fullmatch(text):
        year, month = found[1] or found[3], int(found[2] or found[4])
    elif found := _MONTH_YEAR.fullmatch(text):
        year, month = found[2], int(found[1])
    elif (found := _MONTH_NAME.fullmatch(text)) and found[1] in MONTHS:
        year, month = str(full_year(found[2])), MONTHS[found[1]]
    elif (found := _NAME_OF_YEAR.fullmatch(text)) and found[2] in MONTHS:
        year, month = found[1], MONTHS[found[2]]
    else:
        return ""
    return f"{year}-{month:02d}" if 1 <= month <= 12 else ""


def first_of_month(text: str) -> str:
    """First day of the month that a text names, "" where it names none, or may as well be a day of no year, such as Mar 23."""
    month = "" if _MAY_BE_DAY.fullmatch(text.casefold()) else month_of(text)
    return f"{month}-01" if month else ""


def last_of_month(day: str) -> str:
    """Last day of the month of an ISO day."""
    year, month = int(day[:4]), int(day[5:7])
    return f"{day[:8]}{calendar.monthrange(year, month)[1]:02d}"


def full_year(digits: str) -> int:
    """The year that two digits or four mean."""
    year = int(digits)
    if len(digits) > 2:
        return year
    return year + (1900 if year >= FIRST_OF_LAST_CENTURY else 2000)
