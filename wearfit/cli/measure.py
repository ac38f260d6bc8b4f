"""`wearfit measure`: which missing record would narrow each tool's wear-out date most, and by when to look at the tool."""

from collections.abc import Mapping
from typing import Annotated, Any

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import Common, Day, Horizon, ReadingsFile, Tolerance, Unnoticed
from wearfit.cli.output import Answer
from wearfit.cli.tables import Cell, print_line, print_table, warned
from wearfit.workflow.measure_in_words import (
    WHERE,
    best_in_words,
    by_urgency,
    inspect_in_words,
    meaning,
    months,
    narrows_in_words,
    record_in_words,
    shared_rows,
    summary,
)
from wearfit.workflow.wording import CAUTION, readings_uncounted


def measure(
    *,
    as_of: Day = None,
    tool: Annotated[tuple[str, ...], Parameter(consume_multiple=True, metavar="ID")] = (),
    horizon: Horizon = None,
    tolerance: Tolerance = None,
    unnoticed: Unnoticed = None,
    readings: ReadingsFile = None,
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """What to measure next, and by when to look at each tool.

    Parameters
    ----------
    as_of
        Answer for this day; later than the calibration's own, each clock is rolled forward by expected use.
    tool
        This tool alone, with all that is missing of it; can be given more than once.
    horizon
        How many years ahead dates count. By default 10.
    tolerance
        Accepted chance of no usable tool before the replacement arrives. By default 0.1.
    unnoticed
        Accepted chance that a tool wears out before anybody looks at it. By default 0.05.
    readings
        Count these readings too: a file with the columns of the readings table. Nothing of it is stored.
    common
        What every command takes.
    """
    from wearfit.workflow.measure import measure as what_to_measure

    document = what_to_measure(common.store_url, as_of, tool, horizon, tolerance, unnoticed, readings)
    return Answer(document, lambda console: _show(console, document, bool(tool)))


def _show(console: Console, document: Mapping[str, Any], asked_by_name: bool) -> None:
    tools, as_of, years = by_urgency(document["tools"]), document["as_of"], document["horizon_years"]
    rows = [(t["tool_id"], best_in_words(t), narrows_in_words(t, years), _inspect(inspect_in_words(t, as_of, years))) for t in tools]
    print_table(console, f"What to measure next, as of {as_of}", ("Tool", "Find out", "Range of its date", "Inspect by"), rows)
    for tool in tools:
        if tool["problem"]:
            print_line(console, f"{tool['tool_id']}: {tool['problem']}")
    if asked_by_name:
        every = [
            (
                tool["tool_id"],
                record_in_words(record),
                "" if record["narrows_months"] is None else months(record["narrows_months"]),
                WHERE[record["record"]],
            )
            for tool in tools
            for record in tool["records"]
        ]
        print_table(
            console, "All that is missing", ("Tool", "Record", "Narrows\nby months", "Goes to"), every, right=("Narrows\nby months",)
        )
    elif shared := shared_rows(document):
        print_table(console, "What several tools would gain by", ("Record", "Of", "Narrows their ranges by"), shared)
    for sentence in (*summary(document), meaning(document), *readings_uncounted(document), CAUTION):
        print_line(console, sentence)


def _inspect(said: str) -> Cell:
    return warned(said) if said == "now" else said
