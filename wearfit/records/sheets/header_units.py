"""Units that people write into a header: told from the name, and set against the unit of the column."""

import unicodedata
from collections.abc import Mapping
from functools import lru_cache
from itertools import pairwise
from typing import Final, Literal

from wearfit.records.columns import Column

Verdict = Literal["agrees", "differs", "not a unit"]

# By the unit of a column: what people write for it. Blanks, points and brackets do not matter.
SPELLINGS: Final[Mapping[str, frozenset[str]]] = {
    "shots": frozenset(("shots", "cycles", "strokes", "count", "number")),
    "parts": frozenset(("parts", "pcs", "pieces", "pc", "ea", "each", "count", "number")),
    "cavities": frozenset(("cavities", "cav", "cavs", "count", "number")),
    "set-ups": frozenset(("setups", "set-ups", "count", "number")),
    "units": frozenset(("units", "pcs", "pieces", "count", "number")),
    "parts a unit": frozenset(("parts", "pcs", "pieces", "parts/unit", "pcs/unit", "perunit", "count", "number")),
    "degC": frozenset(("°c", "c", "degc", "celsius", "degreesc", "degreescelsius")),
    "s": frozenset(("s", "sec", "secs", "second", "seconds")),
    "%": frozenset(("%", "pct", "percent", "percentage", "%rh", "rh%")),
    "weeks": frozenset(("weeks", "week", "wk", "wks", "w")),
    "degrees": frozenset(("°", "deg", "degree", "degrees", "decimaldegrees", "°n", "°e", "n", "e")),
    "HRC": frozenset(("hrc", "rockwellc")),
    "mg/(m2 day)": frozenset(("mg/m2day", "mg/m2/day", "mg/m2d", "mg/m2/d", "mg/m2perday", "mgm-2d-1", "mgm-2day-1", "mgperm2perday")),
    "money": frozenset(
        ("€", "$", "£", "¥", "eur", "euro", "euros", "usd", "gbp", "jpy", "cny", "rmb", "chf", "czk", "pln", "huf", "ron", "sek", "nok",
         "dkk", "inr", "krw", "try", "mxn", "brl", "cad", "aud", "nzd", "money")
    ),
    "shots a month": frozenset(("/month", "permonth", "amonth", "shots/month", "shotspermonth", "shotsamonth", "monthly")),
    "share, 0 to 1": frozenset(("0-1", "0to1", "share", "fraction")),
    "as measured": frozenset(("mm", "µm", "um", "micron", "microns", "cm", "in", "inch", "inches", "mil", "thou")),
}  # fmt: skip

THOUSANDS: Final = frozenset(
    ("k", "thousand", "thousands", "tsd", "'000", "000", "'000s", "000s", "x1000", "×1000", "1000", "1,000", "1000s", "1,000s", "x1,000",
     "x000", "inthousands", "kshots", "kcycles", "kpcs", "1000shots", "1,000shots", "thousandshots", "thousandsofshots", "1000cycles",
     "1000pcs", "thousandcycles", "k€", "k$", "k£", "keur", "kusd", "kgbp")
)  # fmt: skip
MILLIONS: Final = frozenset(("m", "mio", "million", "millions", "mn"))

_SCALES: Final = frozenset(("thousand", "thousands", "'000", "'000s", "000s", "x1000", "×1000", "1000s", "million", "millions"))

_OTHERS: Final = frozenset(
    ("°f", "f", "degf", "fahrenheit", "kelvin", "°k", "min", "mins", "minute", "minutes", "h", "hr", "hrs", "hour", "hours", "ms", "msec",
     "days", "day", "d", "months", "month", "mo", "years", "year", "yr", "hb", "hv", "hrb", "hra", "brinell", "vickers", "rad", "kg", "g",
     "lb", "lbs", "kgs", "tonnes", "g/m3", "g/kg", "ppm", "µg/m3", "ug/m3", "µg/m2", "/year", "peryear", "/week", "perweek", "/day",
     "perday", "boxes", "cartons", "pallets", "shifts")
)  # fmt: skip

UNITS: Final = frozenset(spelling for spellings in SPELLINGS.values() for spelling in spellings) | THOUSANDS | MILLIONS | _OTHERS

_WITHOUT_MEANING: Final = frozenset(("required", "optional", "mandatory", "text", "date", "id", "no", "number"))
# The two letters mu look alike; the one that sheets hold most is kept.
_SPELLED: Final = str.maketrans("\u03bc", "\u00b5", " .^·*()[]")
_MARKS: Final = frozenset(" ,/")
_BRACKETS: Final = {")": "(", "]": "[", "}": "{"}


@lru_cache(maxsize=20_000)
def split_unit(header: str) -> tuple[str, str]:
    """A header's name and what stands behind it as its unit, "" where nothing does.

    Parameters
    ----------
    header : str
        Such as "Temp (°C)", "Weight, kg", "Cycle time / s", "Cycle time in s", "Scrap %".

    Notes
    -----
    What stands in brackets is split off whatever it is; without brackets only what is a unit.
    """
    text = header.rstrip(" *:")
    opening = _BRACKETS.get(text[-1:])
    if opening:
        name, found, inside = text[:-1].rpartition(opening)
        if found and name.strip():
            return name.strip(), inside.strip()
    if _MARKS.isdisjoint(text):
        return text, ""
    splits = (text.rpartition(mark) for mark in (",", "/", " in ", " "))
    named = [(name.strip(" ,/"), unit.strip()) for name, _, unit in splits if is_unit(unit)]
    named = [(name, unit) for name, unit in named if name]
    if named:
        return min(named, key=lambda pair: len(pair[0]))  # of "chloride mg/m2/day" the whole unit, not "day" alone
    return text, ""


def is_unit(text: str) -> bool:
    """Whether a text is a unit, in brackets or not."""
    return spelling_of(text) in UNITS


def is_unit_line(text: str) -> bool:
    """Whether a cell may stand in a line of units below a header: a unit, the pattern of a date, or a word such as "text"."""
    word = text.strip(" ()[]-–").casefold()
    return not word or word in _WITHOUT_MEANING or _is_date_pattern(text) or (is_unit(text) and not word.isdigit())


def in_thousands(unit: str) -> bool:
    """Whether what stands behind a count says that it is counted in thousands or more."""
    return spelling_of(unit) in THOUSANDS | MILLIONS


def speaks_of_thousands(line: str) -> bool:
    """Whether a line above or below a table may say that its counts stand in thousands or more."""
    words = line.casefold().replace(",", "").replace("(", " ").replace(")", " ").rstrip(" .:*").split()
    if not _SCALES.isdisjoint(word.strip(".:*") for word in words):
        return True
    return any(first in ("in", "x", "×", "by") and second.strip(".:*") in ("1000", "k") for first, second in pairwise(words))


def verdict(column: Column, unit: str) -> Verdict:
    """Whether what stands behind a header's name is the column's unit, another, or none.

    A column that is no quantity has a pattern of dates for a unit, or a word that says no more than its name.
    """
    spelling = spelling_of(unit)
    if spelling in SPELLINGS.get(column.unit, ()) or spelling in _WITHOUT_MEANING or spelling == spelling_of(column.unit):
        return "agrees"
    if column.kind in ("date", "month", "timestamp") and _is_date_pattern(unit):
        return "agrees"
    return "differs" if column.unit and spelling in UNITS else "not a unit"


def length_unit(unit: str) -> str:
    """The unit of length in one spelling, "" where it is none."""
    spelling = spelling_of(unit)
    same = {"um": "µm", "micron": "µm", "microns": "µm", "inch": "in", "inches": "in", "thou": "mil"}
    return same.get(spelling, spelling) if spelling in SPELLINGS["as measured"] else ""


def spelling_of(unit: str) -> str:
    """A unit in one spelling, without blanks, points and brackets."""
    return unicodedata.normalize("NFKC", unit[:60]).casefold().translate(_SPELLED)


def _is_date_pattern(text: str) -> bool:
    letters = text.strip(" ()[]").casefold()
    return len(letters) >= 4 and "y" in letters and set(letters) <= set("dmyh:s ./-t")
