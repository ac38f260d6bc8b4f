"""`wearfit choose WHAT`: the decision calculators, one sub-command each, their options made from their inputs."""

from collections.abc import Callable, Mapping
from typing import Annotated, Any

from cyclopts import App, Parameter
from rich.console import Console
from rich.text import Text

from wearfit.cli.inputs import given_in, input_option, options_of
from wearfit.cli.options import Common, Day
from wearfit.cli.output import Answer
from wearfit.cli.tables import WIDE, print_line, print_table
from wearfit.decisions.choices import DECISIONS
from wearfit.decisions.decision import Decision
from wearfit.decisions.money import amount, plain
from wearfit.workflow.subjects import MEANINGS, SUBJECTS, Asked
from wearfit.workflow.wording import CAUTION, HELD, capital

DAY = Annotated[Day, Parameter(help="Answer for this day; later than the calibration's own, its clock is rolled forward by expected use.")]

choose = App(name="choose", help="The decision calculators: what each action costs, and which is the best.", help_flags=["--help", "-h"])


def _command(decision: Decision[Any]) -> Callable[..., Answer]:
    asked_of = options_of("Subject", [(n, str, Parameter(help=MEANINGS[n], metavar="NAME")) for n in SUBJECTS[decision.subject].takes])
    inputs_of = options_of("Inputs", [input_option(item) for item in decision.inputs])

    def command(*, subject=asked_of(), inputs=inputs_of(), as_of=None, common=Common()):  # type: ignore[no-untyped-def]  # noqa: B008
        from wearfit.workflow.choose import choose as answer

        asked = Asked(**given_in(subject))
        document = answer(common.store_url, decision.name, asked, given_in(inputs), as_of)
        return Answer(document, lambda console: show_outcome(console, document))

    command.__annotations__ = {"subject": asked_of, "inputs": inputs_of, "as_of": DAY, "common": Common, "return": Answer}
    command.__doc__ = decision.help
    return command


for _place, _decision in enumerate(DECISIONS):
    choose.command(_command(_decision), name=_decision.name, help=f"{_decision.question} {_decision.help}", sort_key=_place)


def show_outcome(console: Console, document: Mapping[str, Any]) -> None:
    """Print an answer: the advice, the actions, what it hangs on, and what it was told."""
    about = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in document["about"].items())
    print_line(console, f"{document['question']} {capital(about)}, as of {document['as_of']}", "bold")
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
        f"futures these numbers of draws may be off by {max(1, round(100 * document['p_best_error']))}.",
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
