"""What a calculator is told, as a person types it into a field and reads it there: thousands apart, shares in per cent."""

import re
from collections.abc import Mapping
from typing import Any, Final

from wearfit.decisions.inputs import MONEY, NO_LIMIT, YES_NO, Input, Known
from wearfit.decisions.money import plain
from wearfit.errors import Refusal

NEXT_TO_NOTHING: Final = 1e-3  # a lowest value under it stands for "not 0"
SHARES: Final = ("share", "a year")  # units of which a field takes per cent
GROUPS: Final = ("Prices and costs", "Times", "Chances, shares and the rest")
_TIMES: Final = ("weeks", "months", "days", "years", "hours", "seconds", "s")
# Thousands apart by commas, or none of them; a comma that stands elsewhere may be a decimal mark, and is asked about.
_NUMBER: Final = re.compile(r"[+-]?([1-9]\d{0,2}(,\d{3})+|\d+)?(\.\d*)?(e[+-]?\d+)?", re.IGNORECASE)


def label_of(item: Input) -> str:
    """The label of an input's field, with the unit in which it is typed unless it says that already."""
    unit = {"share": "%", "a year": "% a year", YES_NO: ""}.get(item.unit, item.unit)
    return f"{item.label} ({unit})" if unit and unit not in item.label.lower() else item.label


def in_field(item: Input, value: float) -> str:
    """A value as the field of an input writes it."""
    if item.unit == YES_NO:
        return "yes" if value else "no"
    shown = 100.0 * value if item.unit in SHARES else value
    return f"{shown:,.0f}" if abs(shown) >= 1000 else f"{shown:.4g}"


def typed(item: Input, text: str) -> float:
    """The value that somebody typed for an input.

    Raises
    ------
    Refusal
        Status 2, with what to change, where it is no number or cannot be.
    """
    number = text.replace(" ", "").replace("\N{NO-BREAK SPACE}", "").replace("_", "")
    number = number.removesuffix("%") if item.unit in SHARES else number
    if not re.search(r"\d", number) or not _NUMBER.fullmatch(number):
        how = "Write thousands as 12,000 or 12000 and parts of one as 0.5."
        raise Refusal(f"{item.label} cannot be '{text.strip()}': that is no number as it is read here.", how, 2)
    value = float(number.replace(",", "")) / (100.0 if item.unit in SHARES else 1.0)
    try:
        return item.checked(value)
    except Refusal:
        low, high = in_field(item, item.low), in_field(item, item.high)
        limits = "above 0" if 0.0 < item.low < NEXT_TO_NOTHING else f"of {low} or more"
        limits = limits if item.high >= NO_LIMIT else f"between {low} and {high}"
        kind = "a whole number" if item.whole else "a number"
        raise Refusal(f"{item.label} cannot be {text.strip()}.", f"Give {kind} {limits}.", 2) from None


def group_of(item: Input) -> str:
    """The one of GROUPS under which an input with a default stands."""
    if item.unit.startswith(MONEY):
        return GROUPS[0]
    return GROUPS[1] if item.unit in _TIMES else GROUPS[2]


def comes_from(item: Input, known: Known | None, given: bool) -> str:
    """Where the value of a field comes from, to stand below it.

    Parameters
    ----------
    known : Known or None
        What stands where the field is empty; None where nothing does.
    given : bool
        Whether the user has filled it in.
    """
    if known is None:
        return "yours" if given else "to be filled in" if item.default is None else "follows what is to be filled in"
    return f"yours; else {in_field(item, known.value)}, {known.mark}" if given else known.mark


def told_of(document: Mapping[str, Any]) -> list[tuple[str, str, str, str]]:
    """What an answer was told: input, value with its unit, where that comes from, meaning."""
    return [(i["label"], plain(i["value"], i["unit"]), i["mark"], i["meaning"]) for i in document["inputs"]]
