"""`wearfit calibrations`: list the calibrations of the store, or go back to one."""

from collections.abc import Mapping
from typing import Annotated, Any

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.cli.tables import WIDE, print_line, print_table
from wearfit.workflow.laws_in_words import listed


def calibrations(*, use: Annotated[int | None, Parameter(metavar="ID")] = None, common: Common = Common()) -> Answer:  # noqa: B008
    """List the calibrations of the store, or go back to one.

    Parameters
    ----------
    use
        Make this calibration answer again; it must have passed the gate.
    common
        What every command takes.
    """
    from wearfit.workflow.calibrations import calibrations as list_calibrations

    document = list_calibrations(common.store_url, use)
    return Answer(document, lambda console: show_calibrations(console, document))


def show_calibrations(console: Console, document: Mapping[str, Any]) -> None:
    """Print what calibrations there are."""
    wide = console.width >= WIDE
    rows = [
        (
            str(c["id"]), c["as_of"], c["made_at"][:16].replace("T", " "), listed(c["law"]), f"{c['lives']:,}", f"{c['wear_outs']:,}",
            *([str(c["seed"])] if wide else []), _stands(c),
        )
        for c in document["calibrations"]
    ]  # fmt: skip
    columns = ("ID", "Records up to", "Made (UTC)", "Law", "Lives", "Wear-outs", *(["Seed"] if wide else []), "Stands")
    print_table(console, "Calibrations", columns, rows, right=("ID", "Lives", "Wear-outs", "Seed"))
    if not rows:
        print_line(console, "The store holds no calibration yet. Run `wearfit recalibrate PATH`, PATH being the folder of records.")
    elif document["calibration"] is None:
        print_line(console, "None of them is current. Run `wearfit recalibrate`, or `wearfit calibrations --use ID`.")


def _stands(c: Mapping[str, Any]) -> str:
    if c["current"]:
        return "answers"
    return "passed" if c["passed"] else "not passed: " + "; ".join(c["reasons"])
