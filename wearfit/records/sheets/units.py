"""Units, multipliers and currencies that people write behind a number."""

from collections.abc import Mapping
from typing import Final

from wearfit.records.tables import Column


def _listed(words: Mapping[str, str]) -> dict[str, frozenset[str]]:
    return {unit: frozenset(listed.split(", ")) for unit, listed in words.items()}


_OF_UNIT: Final = _listed({
    "shots": "shot, shots, cycle, cycles, stroke, strokes, press cycles",
    "shots a month": "shots, shots a month, shots per month, shots/month, shots / month, shots/mo, per month, /month, a month, p.m",
    "parts": "part, parts, pc, pcs, piece, pieces, good parts, stk, stück",
    "units": "unit, units, pc, pcs, piece, pieces, set, sets",
    "cavities": "cav, cavs, cavity, cavities, x",
    "set-ups": "setup, setups, set-up, set-ups, set up, set ups, x",
    "s": "s, sec, secs, second, seconds",
    "HRC": "hrc, rc",
    "weeks": "w, wk, wks, week, weeks",
    "%": "%, pct, percent, per cent, % rh, %rh, % r.h, wt%, wt %, wt.%, % by mass",
    "degC": "c, °c, ° c, degc, deg c, degree c, degrees c, celsius, deg celsius, degrees celsius",
    "degrees": "°, deg, degree, degrees",
    "mg/(m2 day)": "mg/(m2 day), mg/(m² day), mg/m2/day, mg/m²/day, mg/m2/d, mg/m²/d, mg/(m²·d), mg/(m2·d), mg/m2 day, mg/m² day",
    "parts a unit": "part, parts, pc, pcs, parts a unit, parts per unit, parts/unit, x",
})  # fmt: skip

# Of these a column names none: any one will do that its sheet uses alone.
_OPEN: Final = _listed({
    "money": "€, eur, euro, euros, $, usd, us$, dollar, dollars, £, gbp, pound, pounds, ¥, jpy, yen, cny, rmb, chf, fr, zł, zl, pln, "
             "kč, czk, ft, huf, lei, ron, kr, sek, dkk, nok, ₹, inr, ₩, krw, ₺, try, mxn, brl, r$, cad, aud, sgd, hkd, twd, thb, vnd",
    "as measured": 'mm, cm, m, µm, μm, um, micron, microns, mil, mils, in, inch, inches, ", °, deg, g, kg, hrc, %',
})  # fmt: skip

_SAME: Final[Mapping[str, str]] = {
    "eur": "€", "euro": "€", "euros": "€", "usd": "$", "us$": "$", "dollar": "$", "dollars": "$", "gbp": "£", "pound": "£", "pounds": "£",
    "jpy": "¥", "zł": "pln", "zl": "pln", "kč": "czk", "ft": "huf", "lei": "ron", "₹": "inr", "₩": "krw", "₺": "try", "r$": "brl",
    "um": "µm", "μm": "µm", "micron": "µm", "microns": "µm", "mils": "mil", "inch": "in", "inches": "in", '"': "in", "deg": "°",
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
    return unit in _OF_UNIT.get(column.unit, ()) or unit in _OPEN.get(column.unit, ())


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
