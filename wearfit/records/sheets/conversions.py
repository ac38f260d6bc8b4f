"""Numbers in a unit that the header names and the column does not have: turned into the column's."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from wearfit.records.cells import bounded_number, number_text
from wearfit.records.columns import Column
from wearfit.records.sheets.header_units import THOUSANDS, spelling_of


@dataclass(frozen=True, slots=True)
class Conversion:
    """From the unit of a header to that of its column: factor x number + offset.

    `unit` is the header's, as written there.
    """

    unit: str
    factor: float
    offset: float = 0.0

    def before(self, column: Column) -> Column:
        """The column as the sheet holds it: without its bounds, and not of whole things."""
        return replace(column, low=None, high=None, whole=False)

    def after(self, column: Column, text: str) -> str:
        """Canonical text in the column's unit.

        Raises
        ------
        Unreadable
            Where it lies outside the column's bounds.
        """
        # Ten digits: 68 degF are 20 degC, not 20.000000000000004.
        return bounded_number(column, float(f"{self.factor * float(text) + self.offset:.10g}"), f"{text} {self.unit}")


def _same(words: str, factor: float, offset: float = 0.0) -> dict[str, tuple[float, float]]:
    return {spelling_of(word): (factor, offset) for word in words.split(", ")}


_IN_THOUSANDS: Final = dict.fromkeys(THOUSANDS, (1000.0, 0.0))
_DAYS_A_MONTH: Final = 365.25 / 12

# By the unit of a column: how what is written in other units becomes that one.
_KNOWN: Final[Mapping[str, Mapping[str, tuple[float, float]]]] = {
    "degC": {**_same("°f, f, degf, deg f, fahrenheit", 5 / 9, -160 / 9), **_same("k, °k, kelvin", 1.0, -273.15)},
    "s": {**_same("min, mins, minute, minutes", 60.0), **_same("h, hr, hrs, hour, hours", 3600.0), **_same("ms, msec", 0.001)},
    "weeks": {**_same("days, day, d", 1 / 7), **_same("months, month, mo", _DAYS_A_MONTH / 7)},
    **dict.fromkeys(("shots", "parts", "shots a month", "units", "money"), _IN_THOUSANDS),
}


def conversion_of(column: Column, unit: str) -> Conversion | None:
    """How numbers under a header with that unit become those of the column, None where no rule is known."""
    factor, offset = _KNOWN.get(column.unit, {}).get(spelling_of(unit), (0.0, 0.0))
    return Conversion(unit, factor, offset) if factor else None


def told(label: str, column: Column, conversion: Conversion) -> str:
    """What was done, as a sentence."""
    if column.unit != "degC" and spelling_of(conversion.unit) in _IN_THOUSANDS:
        return f"'{label}' counts in '{conversion.unit}'; its numbers are multiplied by {number_text(conversion.factor)} for {column.name}."
    wanted = "°C" if column.unit == "degC" else column.unit
    return f"'{label}' is in {conversion.unit}; its numbers are turned into {wanted} for {column.name}."
