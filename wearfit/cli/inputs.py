"""Options of a command made from what a calculator is told."""

import dataclasses
from collections.abc import Sequence
from typing import Annotated, Any

from cyclopts import Parameter, Token

from wearfit.decisions.inputs import YES_NO, Input, ShareOf
from wearfit.decisions.money import plain
from wearfit.errors import Refusal


def options_of(name: str, options: Sequence[tuple[str, type, Any]]) -> type:
    """A dataclass whose fields the command takes as options, None where not given."""
    made = dataclasses.make_dataclass(
        name, [(n, Annotated[kind | None, how], dataclasses.field(default=None)) for n, kind, how in options], frozen=True
    )
    return Parameter(name="*")(made)


def _number(_: Any, tokens: Sequence[Token]) -> float:
    text = tokens[0].value
    if text in ("yes", "no"):
        return float(text == "yes")
    try:
        return float(text.replace(",", "").replace("_", ""))
    except ValueError:
        raise Refusal(f"'{text}' is not a number.", f"Give {tokens[0].keyword} a number, such as 1500.", 2) from None


def input_option(item: Input) -> tuple[str, type, Any]:
    """An option of a command, from an input."""
    if isinstance(item.default, ShareOf):
        default = f"By default {item.default.words} --{item.default.name.replace('_', '-')}."
    else:
        default = "As on record, else needed." if item.default is None else f"By default {plain(item.default, item.unit)}."
    help_text = f"{item.meaning} {default}"
    return item.name, float, Parameter(converter=_number, help=help_text, metavar="yes|no" if item.unit == YES_NO else "X")


def given_in(options: Any) -> dict[str, Any]:
    """The options that were given."""
    return {f.name: value for f in dataclasses.fields(options) if (value := getattr(options, f.name)) is not None}
