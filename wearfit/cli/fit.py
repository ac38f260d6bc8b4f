"""`wearfit fit`: do the records fit what the calibration believes of them?"""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from rich.console import Console

from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.cli.progress import shown_progress
from wearfit.cli.tables import print_line, print_table, warned
from wearfit.workflow.fit_in_words import TITLES, odds, part_name
from wearfit.workflow.wording import CAUTION
from wearfit.workflow.worker import Worker

ALWAYS: Final = ("all", "class", "plant", "month")  # parts that are printed whether or not they stand out


def fit(*, planned: bool = False, every: bool = False, common: Common = Common()) -> Answer:  # noqa: B008
    """Do the records fit what the calibration believes of them? Wear-outs against what was expected, part by part.

    Parameters
    ----------
    planned
        Also calibrate anew with planned renewals as wear-outs, and say what hangs on that; the store keeps the answer. Takes a
        calibration.
    every
        Print every part that was looked at.
    common
        What every command takes.
    """
    from wearfit.workflow.fit import fit as look

    if planned:
        from wearfit.workflow.planned import count_planned

        with Worker() as worker, shown_progress() as report:
            count_planned(common.store_url, worker, report)
    with shown_progress() as report:
        document = look(common.store_url, report)
    return Answer(document, lambda console: show_fit(console, document, every))


def show_fit(console: Console, document: Mapping[str, Any], every: bool = False) -> None:
    """Print what was found, and the parts with their numbers."""
    first, *others = document["sentences"]
    print_line(console, f"Records up to {document['as_of']} against calibration {document['calibration']}", "bold")
    print_line(console, first, "bold")
    print_line(console, "")
    shown = [c for c in document["checks"] if every or c["told"] or c["by"] in ALWAYS]
    columns = ("Part", "", "Wore out", "Expected", "By luck", "As odd\nby chance")
    print_table(console, "Wear-outs against what was expected", columns, _rows(shown), right=columns[2:])
    hidden = len(document["checks"]) - len(shown)
    if hidden:
        print_line(console, f"{hidden} more parts were looked at and do not stand out; `--every` lists them all.")
    for sentence in others:
        print_line(console, sentence)
    print_line(console, "")
    if document["planned"] is None:
        print_line(console, "What hangs on whether planned renewals were wear-outs: `wearfit fit --planned` says so.")
    else:
        for sentence in document["planned"]["sentences"]:
            print_line(console, sentence)
    print_line(console, CAUTION)


def _rows(checks: Sequence[Mapping[str, Any]]) -> list[tuple[Any, ...]]:
    rows, before = [], None
    for c in checks:
        worn = f"{c['observed']:.1f}".removesuffix(".0")
        rows.append(
            (
                TITLES[c["by"]] if c["by"] != before else "", part_name(c["by"], c["name"]), warned(f"{worn} !") if c["told"] else worn,
                f"{c['expected']:.1f}", f"{c['low']:.0f} - {c['high']:.0f}", odds(c["p"]),
            )
        )  # fmt: skip
        before = c["by"]
    return rows
