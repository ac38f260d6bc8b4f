"""One cell of a sheet: from what was typed to canonical text, by the kind of its column."""

import datetime as dt
import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from typing import Final

from wearfit.records.columns import Column, Kind
from wearfit.records.findings import shown
from wearfit.records.formulas import unmarked
from wearfit.records.names import offer, plain_name

FIRST_YEAR: Final = 1900  # years outside are taken for slips of the keyboard, lest one of them become the latest day; judgement
LAST_YEAR: Final = 2100
LONGEST_CELL: Final = 10_000  # characters; a longer cell is a page pasted by mistake; judgement
_LONGEST_QUOTE: Final = 60  # characters of a cell in a sentence

_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_MONTH = re.compile(r"\d{4}-\d{2}", re.ASCII)
_TIMESTAMP = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2})?", re.ASCII)
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)

# Characters that no one sees: soft hyphen, zero-width blanks and joiners, marks of writing direction, byte order mark.
_UNSEEN: Final = dict.fromkeys([0xAD, *range(0x200B, 0x2010), *range(0x202A, 0x202F), *range(0x2060, 0x2070), 0xFEFF])
_NO_BREAK: Final = {0xA0: " ", 0x2007: " ", 0x202F: " "}
_TIDY: Final = {**_UNSEEN, **_NO_BREAK}


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
        The cell as it came, in the one way of writing that needs no other cell to be understood.

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
    return canonical_of_clean(column, text) if text else ""


def canonical_of_clean(column: Column, text: str) -> str:
    """`canonical` of a cell that is clean already and not blank."""
    refuse_unfit(column, text)
    return _READERS[column.kind](column, text)


def clean(typed: str) -> str:
    """Text without blanks at its ends or characters that no one sees, each letter in one encoding (Unicode form C).

    The mark that keeps a text from being a formula is no part of it.
    """
    if typed.isascii():
        text = unmarked(typed.strip())
        return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text
    tidy = typed.translate(_TIDY).replace("\r\n", "\n").replace("\r", "\n")
    return unmarked(unicodedata.normalize("NFC", tidy).strip())


def holds_unseen(typed: str) -> bool:
    """Whether a cell holds characters that look like nothing, or like a blank and are none, between others."""
    text = typed.strip()
    return not text.isascii() and text.translate(_TIDY) != text


def refuse_unfit(column: Column, text: str) -> None:
    """Unreadable where a clean text holds what no cell can: control characters, or a page and more."""
    if len(text) > LONGEST_CELL:
        raise Unreadable(
            f"{column.name} is {len(text):,} characters long; a cell may have {LONGEST_CELL:,}.", "Shorten it; something was pasted."
        )
    if text.isprintable():
        return
    for letter in text:
        # Controls other than tab and new line, and halves of characters, which no file of text can hold.
        if unicodedata.category(letter) in ("Cc", "Cs") and letter not in "\t\n":
            raise Unreadable(
                f"{column.name} '{quoted(text)}' holds the control character U+{ord(letter):04X}, which no one can see.",
                "Type the cell again.",
            )


def quoted(text: str) -> str:
    """A cell as a sentence quotes it: in one line, cut where it is long."""
    return shown(text, _LONGEST_QUOTE)


def number_text(value: float) -> str:
    """Shortest text that reads back as the same number; whole numbers without a point."""
    if value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return repr(value)


def checked_year(column: Column, text: str, iso: str) -> str:
    """The ISO date, month or time; Unreadable where its year is none that a record of a tool can have."""
    if not FIRST_YEAR <= int(iso[:4]) <= LAST_YEAR:
        raise Unreadable(
            f"{column.name} '{quoted(text)}' lies outside the years {FIRST_YEAR} to {LAST_YEAR}.", "Correct the year, or leave the row out."
        )
    return iso


def bounded_number(column: Column, value: float, text: str) -> str:
    """Canonical text of a number; Unreadable where the column's bounds leave it out, or it counts things and is not whole.

    Parameters
    ----------
    column : Column
    value : float
        Finite.
    text : str
        As typed, for the sentence.
    """
    repair = "Correct it." if column.required else "Correct it, or leave the cell blank if it is not known."
    if column.low is not None and value < column.low:
        raise Unreadable(f"{column.name} {quoted(text)} is less than {number_text(column.low)}.", repair)
    if column.high is not None and value > column.high:
        raise Unreadable(f"{column.name} {quoted(text)} is more than {number_text(column.high)}.", repair)
    if column.kind == "count" and not value.is_integer():
        raise Unreadable(f"{column.name} {quoted(text)} is not a whole number.", "Write a whole number.")
    return number_text(value + 0.0)  # so that -0 is 0


def not_a_number(column: Column, text: str) -> Unreadable:
    """What to say of a cell that no rule reads as a number."""
    return Unreadable(
        f"{column.name} '{quoted(text)}' is not a plain number.",
        "Write digits with a point for the decimals and no thousands marks or units, such as 12500.5.",
    )


def not_a_date(column: Column, text: str) -> Unreadable:
    """What to say of a cell that no rule reads as a date."""
    return Unreadable(
        f"{column.name} '{quoted(text)}' is not a date of the form 2024-03-31.", "Write it as year-month-day, such as 2024-03-31."
    )


def not_a_month(column: Column, text: str) -> Unreadable:
    """What to say of a cell that no rule reads as a month."""
    return Unreadable(f"{column.name} '{quoted(text)}' is not a month of the form 2024-03.", "Write it as year-month, such as 2024-03.")


def not_a_timestamp(column: Column, text: str) -> Unreadable:
    """What to say of a cell that no rule reads as a time of a day."""
    return Unreadable(
        f"{column.name} '{quoted(text)}' is not a local date and time of the form 2024-03-31T14:00.",
        "Write it as 2024-03-31T14:00, without a time zone.",
    )


def word_not_listed(column: Column, word: str) -> Unreadable:
    """What to say of a word that the column's list lacks."""
    listed = ", ".join(column.choices)
    return Unreadable(f"{column.name} '{quoted(word)}' is not one of {listed}.", offer(word, column.choices, "Write one of these."))


def listed_word(column: Column, text: str) -> str:
    """The word of the column's list that differs from the text by case, blanks, hyphens and underscores alone; else the text."""
    plain = plain_name(text)
    for choice in column.choices:
        if plain == plain_name(choice) or (choice.isdigit() and plain == choice + ".0"):
            return choice
    return text


def _text(column: Column, text: str) -> str:
    return text


def _date(column: Column, text: str) -> str:
    if not _DATE.fullmatch(text):
        raise not_a_date(column, text)
    try:
        return checked_year(column, text, dt.date.fromisoformat(text).isoformat())
    except ValueError:
        raise Unreadable(f"{column.name} '{text}' is not a day of the calendar.", "Correct the day or the month.") from None


def _month(column: Column, text: str) -> str:
    if not _MONTH.fullmatch(text):
        raise not_a_month(column, text)
    if not 1 <= int(text[5:]) <= 12:
        raise Unreadable(f"{column.name} '{text}' is not a month of the calendar.", "Correct the month.")
    return checked_year(column, text, text)


def _timestamp(column: Column, text: str) -> str:
    if not _TIMESTAMP.fullmatch(text):
        raise not_a_timestamp(column, text)
    try:
        return checked_year(column, text, dt.datetime.fromisoformat(text).isoformat(timespec="seconds"))
    except ValueError:
        raise Unreadable(f"{column.name} '{text}' is not a time of the calendar.", "Correct the day or the hour.") from None


def _number(column: Column, text: str) -> str:
    value = float(text) if _NUMBER.fullmatch(text) else math.nan
    if not math.isfinite(value):
        raise not_a_number(column, text)
    return bounded_number(column, value, text)


def _flag(column: Column, text: str) -> str:
    if text not in ("0", "1", "0.0", "1.0"):
        raise Unreadable(f"{column.name} '{quoted(text)}' is neither 0 nor 1.", "Write 1 for yes, 0 for no, or leave it blank.")
    return text[0]


def _value(column: Column, text: str) -> str:
    if text.startswith("<"):
        return "<" + _number(column, text[1:].strip())
    return _number(column, text)


_READERS: Final[Mapping[Kind, Callable[[Column, str], str]]] = {
    "text": _text, "choice": listed_word, "date": _date, "month": _month, "timestamp": _timestamp,
    "number": _number, "count": _number, "flag": _flag, "value": _value,
}  # fmt: skip
