"""One cell of a sheet: from what was typed to canonical text, by the kind of its column."""

import datetime as dt
import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from typing import Final

from wearfit.records.names import offer, plain_name
from wearfit.records.tables import Column, Kind

FIRST_YEAR: Final = 1900  # years outside are taken for slips of the keyboard, lest one of them become the latest day; judgement
LAST_YEAR: Final = 2100

_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_MONTH = re.compile(r"\d{4}-\d{2}", re.ASCII)
_TIMESTAMP = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2})?", re.ASCII)
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)


class Unreadable(Exception):
    """A cell that cannot be read, with the problem and the repair in a sentence each."""

    def __init__(self, problem: str, repair: str) -> None:
        super().__init__(problem)
        self.problem = problem
        self.repair = repair


def canonical(column: Column, typed: str) -> str:
    """Canonical text of a cell: two cells that say the same have the same text.

    Parameters
    ----------
    column : Column
    typed : str
        The cell as it came.

    Returns
    -------
    str
        Dates as YYYY-MM-DD, months as YYYY-MM, timestamps as YYYY-MM-DDTHH:MM:SS (ISO 8601, extended format, local time),
        numbers as short as they can be written without loss, flags as 0 or 1, words of a list as the list writes them,
        "" for a blank cell. A word that its list lacks comes back as typed.

    Raises
    ------
    Unreadable
        Where the cell cannot hold what its column means.
    """
    text = clean(typed)
    return _READERS[column.kind](column, text) if text else ""


def clean(typed: str) -> str:
    """Text without blanks at its ends, each letter in one encoding (Unicode form C)."""
    return unicodedata.normalize("NFC", typed).strip().replace("\r\n", "\n")


def number_text(value: float) -> str:
    """Shortest text that reads back as the same number; whole numbers without a point."""
    if value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return repr(value)


def _text(column: Column, text: str) -> str:
    return text


def _choice(column: Column, text: str) -> str:
    plain = plain_name(text)
    for choice in column.choices:
        if plain == plain_name(choice) or (choice.isdigit() and plain == choice + ".0"):
            return choice
    return text


def _checked_year(column: Column, text: str, iso: str) -> str:
    if not FIRST_YEAR <= int(iso[:4]) <= LAST_YEAR:
        raise Unreadable(
            f"{column.name} '{text}' lies outside the years {FIRST_YEAR} to {LAST_YEAR}.", "Correct the year, or leave the row out."
        )
    return iso


def _date(column: Column, text: str) -> str:
    if not _DATE.fullmatch(text):
        raise Unreadable(f"{column.name} '{text}' is not a date of the form 2024-03-31.", "Write it as year-month-day, such as 2024-03-31.")
    try:
        return _checked_year(column, text, dt.date.fromisoformat(text).isoformat())
    except ValueError:
        raise Unreadable(f"{column.name} '{text}' is not a day of the calendar.", "Correct the day or the month.") from None


def _month(column: Column, text: str) -> str:
    if not _MONTH.fullmatch(text):
        raise Unreadable(f"{column.name} '{text}' is not a month of the form 2024-03.", "Write it as year-month, such as 2024-03.")
    if not 1 <= int(text[5:]) <= 12:
        raise Unreadable(f"{column.name} '{text}' is not a month of the calendar.", "Correct the month.")
    return _checked_year(column, text, text)


def _timestamp(column: Column, text: str) -> str:
    if not _TIMESTAMP.fullmatch(text):
        raise Unreadable(
            f"{column.name} '{text}' is not a local date and time of the form 2024-03-31T14:00.",
            "Write it as 2024-03-31T14:00, without a time zone.",
        )
    try:
        return _checked_year(column, text, dt.datetime.fromisoformat(text).isoformat(timespec="seconds"))
    except ValueError:
        raise Unreadable(f"{column.name} '{text}' is not a time of the calendar.", "Correct the day or the hour.") from None


def _parsed(column: Column, text: str) -> float:
    value = float(text) if _NUMBER.fullmatch(text) else math.nan
    if not math.isfinite(value):
        raise Unreadable(
            f"{column.name} '{text}' is not a plain number.",
            "Write digits with a point for the decimals and no thousands marks or units, such as 12500.5.",
        )
    return value + 0.0  # so that -0 is 0


def _number(column: Column, text: str) -> str:
    value = _parsed(column, text)
    repair = "Correct it." if column.required else "Correct it, or leave the cell blank if it is not known."
    if column.low is not None and value < column.low:
        raise Unreadable(f"{column.name} {text} is less than {number_text(column.low)}.", repair)
    if column.high is not None and value > column.high:
        raise Unreadable(f"{column.name} {text} is more than {number_text(column.high)}.", repair)
    return number_text(value)


def _count(column: Column, text: str) -> str:
    counted = _number(column, text)
    if not float(counted).is_integer():
        raise Unreadable(f"{column.name} {text} is not a whole number.", "Write a whole number.")
    return counted


def _flag(column: Column, text: str) -> str:
    if text not in ("0", "1", "0.0", "1.0"):
        raise Unreadable(f"{column.name} '{text}' is neither 0 nor 1.", "Write 1 for yes, 0 for no, or leave it blank.")
    return text[0]


def _value(column: Column, text: str) -> str:
    if text.startswith("<"):
        return "<" + _number(column, text[1:].strip())
    return _number(column, text)


_READERS: Final[Mapping[Kind, Callable[[Column, str], str]]] = {
    "text": _text, "choice": _choice, "date": _date, "month": _month, "timestamp": _timestamp,
    "number": _number, "count": _count, "flag": _flag, "value": _value,
}  # fmt: skip


def word_not_listed(column: Column, word: str) -> Unreadable:
    """What to say of a word that the column's list lacks."""
    listed = ", ".join(column.choices)
    return Unreadable(f"{column.name} '{word}' is not one of {listed}.", offer(word, column.choices, "Write one of these."))
