"""`wearfit export`: everything in the store as open files."""

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.cli.tables import print_line
from wearfit.workflow.wording import count


def export(folder: Annotated[Path, Parameter(metavar="FOLDER")], /, *, common: Common = Common()) -> Answer:  # noqa: B008
    """Write everything in the store as open files, with the SHA-256 of each.

    Parameters
    ----------
    folder
        A new folder. `wearfit recalibrate` reads it again.
    common
        What every command takes.
    """
    from wearfit.workflow.export import export as write_export

    document = write_export(common.store_url, folder)

    def show(console: Console) -> None:
        print_line(console, f"Wrote {count(document['written'], 'file', 'files')} to {document['path']}; its README.md says what is where.")
        for problem in document["damaged"]:
            print_line(console, f"Damaged, and left out: {problem}", "bold yellow")

    return Answer(document, show, 1 if document["damaged"] else 0)
