"""What a cell can mean as a number: with a decimal point and with a decimal comma, before its column says which."""

import re
from dataclasses import dataclass
from typing import Final

from wearfit.records.choices import Decimals
from wearfit.records.sheets.units import split_multiplier, unit_of

_LONGEST: Final = 60  # characters; no number with its unit is longer

# Thin blanks, typographic apostrophes and the minus sign, as the keyboard has them.
_PLAIN: Final = {0x2009: " ", 0x200A: " ", 0x2008: " ", 0x2019: "'", 0x02BC: "'", 0xB4: "'", 0x60: "'", 0x2212: "-", 0x2013: "-"}

_SHAPE = re.compile(
    r"(?P<sign>[+-]?)\s*(?P<before>(?:us|r)?[€$£¥₹₩₺]|[a-z]{3}(?![a-z]))?\s*(?P<body>\d[\d .,']*|[.,]\d+)"
    r"(?P<power>e[+-]?\d{1,3}(?![\d.]))?(?P<behind>[^_]*)",
    re.ASCII,
)
_GROUPS: Final = {mark: re.compile(rf"[1-9]\d{{0,2}}(?:{re.escape(mark)}\d{{3}})+", re.ASCII) for mark in ".,' "}
_DIGITS = re.compile(r"\d+", re.ASCII)

_RANGE = re.compile(r"[\d.,]++\s*+(?!e-)\S{0,6}?\s*(?:-|–|—|\.\.\.?|…|to|bis)\s*[\d.,]+\D{0,12}", re.ASCII)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}.*|\d{1,2}[./]\d{1,2}[./]\d{2,4}", re.ASCII)
_ABOUT = re.compile(r"(?:~|≈|ca\.?|c\.|approx\.?|approximately|about|around|circa|over|under|[<>≤≥]=?)\s*\d.*|\d[\d.,' ]*\+", re.ASCII)
_BOOKKEEPING = re.compile(r"\(\s*[\d.,' ]+\s*\)", re.ASCII)
_TRAILING_MINUS = re.compile(r"\d[\d.,' ]*-", re.ASCII)


@dataclass(frozen=True, slots=True)
class Number:
    """What a cell can mean as a number.

    Parameters
    ----------
    point, comma : str
        The number in digits with a point, where a point and where a comma marks the decimals; "" where it cannot be so.
    grouped : bool
        Whether marks stand between thousands in every way to read it.
    factor : int
        1, or what a word such as "k" multiplies it by.
    unit : str
        In small letters, "" for none.
    below : bool
        Whether it is only said to be below.
    """

    point: str
    comma: str
    grouped: bool = False
    factor: int = 1
    unit: str = ""
    below: bool = False

    @property
    def is_open(self) -> bool:
        """Whether it depends on what marks the decimals."""
        return bool(self.point and self.comma) and self.point != self.comma

    def read_with(self, decimals: Decimals) -> str:
        return self.point if decimals == "point" else self.comma


@dataclass(frozen=True, slots=True)
class NoNumber:
    """Why a cell is no number: the end of a sentence that begins with the cell; both "" where it looks like none at all."""

    says: str = ""
    repair: str = ""


_SAYS: Final = (
    (_DATE, NoNumber("is a date.", "Write a number; where a spreadsheet made a date of it, format the cell as a number.")),
    (_BOOKKEEPING, NoNumber("is in brackets, as bookkeepers write what is negative.", "Write it with a minus before it, or without.")),
    (_TRAILING_MINUS, NoNumber("has its minus behind it.", "Write the minus before the number, or leave it out.")),
    (_RANGE, NoNumber("is a range.", "Write one number.")),
    (_ABOUT, NoNumber("is not one exact number.", "Write the number that is best known.")),
)


def number_of(text: str, may_be_below: bool = False) -> Number | NoNumber:
    """What a cell can mean as a number.

    Parameters
    ----------
    text : str
        Clean and not blank.
    may_be_below : bool
        Whether `<0.02` means a number that the gauge could not resolve.
    """
    if len(text) > _LONGEST:
        return NoNumber()
    text = text.translate(_PLAIN).casefold()
    below = may_be_below and text.startswith("<")
    if below:
        text = text[1:].strip()
    for pattern, why in _SAYS:
        if pattern.fullmatch(text):
            return why
    found = _SHAPE.fullmatch(text)
    if found is None:
        return NoNumber()
    body, power = found["body"].strip(" "), found["power"] or ""
    point, comma = (_digits(body, mark, power) for mark in ".,")
    if not (point or comma):
        return NoNumber()
    factor, unit = split_multiplier(unit_of(found["behind"]))
    if found["before"]:
        unit = found["before"] if not unit else f"{found['before']} {unit}"
    sign = "-" if found["sign"] == "-" else ""
    grouped = point == comma and not _DIGITS.fullmatch(body)
    return Number(point and sign + point + power, comma and sign + comma + power, grouped, factor, unit_of(unit), below)


def _digits(body: str, decimal: str, power: str) -> str:
    """The number in digits with a point, "" where the mark of the decimals does not allow it."""
    whole, mark, part = body.partition(decimal)
    if part and not _DIGITS.fullmatch(part):
        return ""
    if mark and not part and decimal == ",":
        return ""
    if whole and not _DIGITS.fullmatch(whole):
        groups = next((mark for mark, shape in _GROUPS.items() if mark != decimal and shape.fullmatch(whole)), None)
        if groups is None or power:
            return ""
        whole = whole.replace(groups, "")
    if not (whole or part):
        return ""
    return f"{whole or '0'}.{part}" if part else whole
