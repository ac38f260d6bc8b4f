"""`wearfit choose WHAT`: the decision calculators, one sub-command each, their options made from their inputs."""

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any

from cyclopts import App, Parameter, Token
from rich.console import Console
from rich.text import Text

from wearfit.cli.options import Common, Day
from wearfit.cli.output import Answer
from wearfit.cli.tables import WIDE, print_line, print_table
from wearfit.decisions.choices import DECISIONS
from wearfit.decisions.decision import Decision
from wearfit.decisions.inputs import Input, ShareOf
from wearfit.decisions.money import amount, plain
from wearfit.errors import Refusal
from wearfit.workflow.subjects import MEANINGS, SUBJECTS, Asked
from wearfit.workflow.wording import CAUTION, HELD

choose = App(name="choose", help="The decision calculators: what each action costs, and which is the best.", help_flags=["--help", "-h"])


def _options(name: str, options: Sequence[tuple[str, type, Any]]) -> type:
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


def _input_option(item: Input) -> tuple[str, type, Any]:
    if isinstance(item.default, ShareOf):
        default = f"By default {item.default.share:g} of --{item.default.name.replace('_', '-')}."
    else:
        default = "As on record, else needed." if item.default is None else f"By default {plain(item.default, item.unit)}."
    help_text = f"{item.meaning} {default}"
    return item.name, float, Parameter(converter=_number, help=help_text, metavar="X")


def _command(decision: Decision[Any]) -> Callable[..., Answer]:
    asked_of = _options("Subject", [(n, str, Parameter(help=MEANINGS[n], metavar="NAME")) for n in SUBJECTS[decision.subject].takes])
    inputs_of = _options("Inputs", [_input_option(item) for item in decision.inputs])

    def command(*, subject=asked_of(), inputs=inputs_of(), as_of=None, common=Common()):  # type: ignore[no-untyped-def]  # noqa: B008
        from wearfit.workflow.choose import choose as answer

        asked = Asked(**_given(subject))
        document = answer(common.store_url, decision.name, asked, _given(inputs), as_of)
        return Answer(document, lambda console: show_outcome(console, document))

    command.__annotations__ = {"subject": asked_of, "inputs": inputs_of, "as_of": Day, "common": Common, "return": Answer}
    command.__doc__ = decision.help
    return command


def _given(options: Any) -> dict[str, Any]:
    return {f.name: value for f in dataclasses.fields(options) if (value := getattr(options, f.name)) is not None}


for _place, _decision in enumerate(DECISIONS):
    choose.command(_command(_decision), name=_decision.name, help=f"{_decision.question} {_decision.help}", sort_key=_place)


def show_outcome(console: Console, document: Mapping[str, Any]) -> None:
    """Print an answer: the advice, the actions, what it hangs on, and what it was told."""
    about = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in document["about"].items())
    print_line(console, f"{document['question']} {about}, as of {document['as_of']}", "bold")
    if document["hold"]:
        print_line(console, "STOP: the tool is held. What follows holds for the day on which it is released.", "bold yellow")
    print_line(console, document["advice"])
    print_line(console, "")
    columns = ("Action", "Expected\ncost", "1 in 10\nbelow", "Likely", "1 in 10\nabove", "Cheapest in\n100 draws")
    rows = [_row(action, "bold" if action["action"] == document["best"] else "") for action in document["actions"]]
    print_table(console, f"Cost {document['cost_of']}", columns, rows, right=columns[1:])
    print_line(
        console,
        "Cheapest in 100 draws: in how many of them its expected cost is the lowest; that is how sure the choice is. For want of more "
        f"futures the figures may be off by {max(1, round(100 * document['p_best_error']))}.",
    )
    print_line(console, f"What it hangs on: {document['hangs_on']}")
    print_line(console, "")
    wide = console.width >= WIDE
    told = [(i["label"], plain(i["value"], i["unit"]), i["mark"], *((i["meaning"],) if wide else ())) for i in document["inputs"]]
    print_table(console, "What it was told", ("Input", "Value", "From", *(("Meaning",) if wide else ())), told)
    for note in document["notes"]:
        print_line(console, note)
    if document["hold"]:
        print_line(console, HELD, "bold")
    print_line(console, CAUTION)


def _row(action: Mapping[str, Any], style: str) -> tuple[Text, ...]:
    cells = (
        action["action"],
        amount(action["expected_cost"]),
        *(amount(action["cost"][q]) for q in ("p10", "p50", "p90")),
        f"{100 * action['p_best']:.0f}",
    )
    return tuple(Text(cell, style=style) for cell in cells)
