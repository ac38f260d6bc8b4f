"""Amounts and quantities as sentences say them."""

import math
from typing import Final

FIGURES: Final = 3


def amount(money: float) -> str:
    """An amount, no finer than three figures: "12,300"."""
    if math.isinf(money):
        return "nothing" if money < 0 else "endlessly much"
    return f"{_rounded(money):,.0f}" if abs(money) >= 100 else f"{money:,.3g}"


def plain(value: float, unit: str) -> str:
    """A quantity with its unit."""
    if unit == "yes or no":
        return "yes" if value else "no"
    if unit in ("share", "a year") and abs(value) <= 1:
        return f"{100 * value:.3g} %" + (" a year" if unit == "a year" else "")
    return f"{amount(value)} {unit.removeprefix('money')}".replace("  ", " ").rstrip()


def _rounded(value: float) -> float:
    if value == 0:
        return value
    size = 10.0 ** (math.floor(math.log10(abs(value))) - FIGURES + 1)
    return round(value / size) * size
