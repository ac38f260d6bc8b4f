"""`wearfit law`: which law of wear do the records speak for?"""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Final

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import ClusterAddress, Common, ProcessCount
from wearfit.cli.output import Answer
from wearfit.cli.progress import shown_progress
from wearfit.cli.tables import print_line, print_table
from wearfit.workflow.laws_in_words import law_rows
from wearfit.workflow.wording import CAUTION

HEADS: Final = ("Law", "Elpd", "To the\nbest", "Standard\nerror", "Weight", "Lives left out")


def law(
    *,
    cluster: ClusterAddress = None,
    processes: ProcessCount = None,
    results: Annotated[Path | None, Parameter(metavar="FOLDER")] = None,
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """Which law of wear do the records speak for? A calibration under each, every life forecast from all others; the store keeps it.

    Parameters
    ----------
    cluster
        Address of a Dask scheduler on whose workers the laws are fitted, such as tcp://10.0.0.5:8786.
    processes
        How many fits are worked out at once on this machine, each with a model of its own in memory. By default one a core.
    results
        A folder in which what each fit gave is kept as it comes: the same command goes on from there.
    common
        What every command takes.
    """
    from wearfit.workflow.laws import laws
    from wearfit.workflow.ways import way

    spread = way(cluster, processes)
    with shown_progress() as report:
        document = laws(common.store_url, spread, results, report)
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
