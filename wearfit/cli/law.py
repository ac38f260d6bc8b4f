"""`wearfit law`: which law of wear do the records speak for?"""

from collections.abc import Mapping
from typing import Any, Final

from rich.console import Console

from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.cli.progress import shown_progress
from wearfit.cli.tables import print_line, print_table
from wearfit.workflow.laws_in_words import law_rows
from wearfit.workflow.wording import CAUTION

HEADS: Final = ("Law", "Elpd", "To the\nbest", "Standard\nerror", "Weight", "Lives left out")


def law(*, common: Common = Common()) -> Answer:  # noqa: B008
    """Which law of wear do the records speak for? A calibration under each, every life forecast from all others; the store keeps it.

    Parameters
    ----------
    common
        What every command takes.
    """
    from wearfit.workflow.laws import laws

    with shown_progress() as report:
        document = laws(common.store_url, report)
    return Answer(document, lambda console: show_law(console, document))


def show_law(console: Console, document: Mapping[str, Any]) -> None:
    """Print how the laws compare."""
    print_line(console, f"Records up to {document['as_of']}, calibration {document['calibration']}", "bold")
    for sentence in document["sentences"]:
        print_line(console, sentence)
    print_line(console, "")
    print_table(console, f"{document['lives']} lives, each forecast from all others", HEADS, law_rows(document), right=HEADS[1:5])
    print_line(console, "Elpd: expected log predictive density, in nat; the higher the better.")
    print_line(console, CAUTION)
