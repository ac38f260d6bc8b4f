"""`wearfit template`: an empty workbook with every column explained."""

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.cli.tables import print_line


def template(file: Annotated[Path, Parameter(metavar="FILE.xlsx")], /, *, common: Common = Common()) -> Answer:  # noqa: B008
    """Write an empty workbook with every column explained.

    Parameters
    ----------
    file
        Where to write it; a file that is there already is not written over.
    common
        What every command takes.
    """
    from wearfit.workflow.template import write_template

    document = write_template(file)
    said = (
        f"Wrote {document['path']}: {document['tables']} tables, {document['columns']} columns. Delete the grey example rows, fill in your "
        "own, then run `wearfit check` on it."
    )
    return Answer(document, lambda console: print_line(console, said))
