"""Units, multipliers and currencies that people write behind a number."""

from collections.abc import Mapping
from typing import Final

from wearfit.records.columns import Column
from wearfit.records.sheets.header_units import SPELLINGS, spelling_of

# By the unit of a column: what stands behind a number beside the spellings that headers have. In a header these would be words of
# a name, as in "cost per piece".
_BEHIND_NUMBERS: Final[Mapping[str, frozenset[str]]] = {
    "shots": frozenset(("shot", "cycle", "stroke", "presscycles")),
    "shots a month": frozenset(("shots", "shots/mo", "pm")),
    "parts": frozenset(("part", "piece", "goodparts", "stk", "stück")),
    "units": frozenset(("unit", "pc", "piece", "set", "sets")),
    "parts a unit": frozenset(("part", "pc", "partsaunit", "partsperunit", "x")),
    "cavities": frozenset(("cavity", "x")),
    "set-ups": frozenset(("setup", "set-up", "x")),
    "HRC": frozenset(("rc",)),
    "%": frozenset(("wt%", "%bymass")),
    "degC": frozenset(("degreec", "degcelsius")),
    "money": frozenset(
        ("us$", "dollar", "dollars", "pound", "pounds", "yen", "fr", "zł", "zl", "kč", "ft", "lei", "kr", "₹", "₩", "₺", "r$", "sgd", "hkd",
         "twd", "thb", "vnd")
    ),
    "as measured": frozenset(("m", "mils", '"', "°", "deg", "g", "kg", "hrc", "%")),
}  # fmt: skip

# Of these a column names none: any one will do that its sheet uses alone.
_OPEN: Final = ("money", "as measured")

_SAME: Final[Mapping[str, str]] = {
    "eur": "€", "euro": "€", "euros": "€", "usd": "$", "us$": "$", "dollar": "$", "dollars": "$", "gbp": "£", "pound": "£", "pounds": "£",
    "jpy": "¥", "zł": "pln", "zl": "pln", "kč": "czk", "ft": "huf", "lei": "ron", "₹": "inr", "₩": "krw", "₺": "try", "r$": "brl",
    "um": "µm", "μm": "µm", "micron": "µm", "microns": "µm", "mils": "mil", "thou": "mil", "inch": "in", "inches": "in", '"': "in",
    "deg": "°",
}  # fmt: skip

MULTIPLIERS: Final[Mapping[str, int]] = {
    "k": 1_000, "thousand": 1_000, "thousands": 1_000, "tsd": 1_000,
    "m": 1_000_000, "mio": 1_000_000, "mill": 1_000_000, "mn": 1_000_000, "million": 1_000_000, "millions": 1_000_000,
}  # fmt: skip

_CURRENCY_SIGNS: Final = frozenset("€$£¥₹₩₺")


def is_open(column: Column) -> bool:
    """Whether the column takes whatever unit its sheet uses alone."""
    return column.unit in _OPEN


def may_be_unit(column: Column, unit: str) -> bool:
    """Whether a unit can stand behind a number of the column."""
    spelling = spelling_of(unit)
    return spelling in SPELLINGS.get(column.unit, ()) or spelling in _BEHIND_NUMBERS.get(column.unit, ())


def takes_multiplier(column: Column) -> bool:
    """Whether "k" behind a number of the column can only mean thousands."""
    return column.whole or column.unit == "money"


def split_multiplier(words: str) -> tuple[int, str]:
    """The factor that begins what stands behind a number, 1 where none does, and the rest.

    Parameters
    ----------
    words : str
        In small letters.
    """
    first, _, rest = words.partition(" ")
    factor = MULTIPLIERS.get(first.rstrip("."))
    if factor is None and first[:1] in ("k", "m") and first[1:] in _CURRENCY_SIGNS:
        factor, rest = MULTIPLIERS[first[0]], first[1:]
    return (1, words) if factor is None else (factor, rest.strip())


def unit_of(words: str) -> str:
    """The unit without full stops behind it, in one of its spellings."""
    unit = words.strip().rstrip(".").strip()
    return _SAME.get(unit, unit)
