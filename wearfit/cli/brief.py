"""`wearfit brief`: one page on one tool, for who decides about it."""

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import Common, Day
from wearfit.cli.output import Answer
from wearfit.cli.tables import print_line


def brief(
    tool_id: Annotated[str, Parameter(metavar="TOOL_ID")],
    /,
    *,
    out: Annotated[Path, Parameter(metavar="FILE.pdf")],
    as_of: Day = None,
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """One page on one tool as PDF: the question, the answer, what it hangs on.

    Parameters
    ----------
    tool_id
        A live tool.
    out
        Where to write it. A PDF that is there is replaced, anything else is not.
    as_of
        Answer for this day; later than the calibration's own, its clock is rolled forward by expected use.
    common
        What every command takes.
    """
    from wearfit.workflow.brief import write_brief

    document = write_brief(common.store_url, tool_id, out, as_of)

    def show(console: Console) -> None:
        print_line(console, f"Wrote {document['path']}: {document['answer']}")
        if document["unprinted"]:
            print_line(
                console, f"It cannot print these letters, and the number in Unicode stands for each: {' '.join(document['unprinted'])}"
            )

    return Answer(document, show)
