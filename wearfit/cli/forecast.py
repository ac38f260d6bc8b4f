"""`wearfit forecast`: when each live tool will wear out, and by when to order its replacement."""

from collections.abc import Mapping
from typing import Annotated, Any

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import Common, Day, Horizon, Tolerance
from wearfit.cli.output import Answer
from wearfit.cli.tables import Cell, print_line, print_table, warned
from wearfit.cli.wording import CAUTION, HELD, frequency, month, spread


def forecast(
    *,
    as_of: Day = None,
    tool: Annotated[tuple[str, ...], Parameter(negative=(), consume_multiple=True, metavar="ID")] = (),
    horizon: Horizon = None,
    tolerance: Tolerance = None,
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """When each live tool will wear out, and by when to order its replacement.

    Parameters
    ----------
    as_of
        Answer for this day; later than the calibration's own, each clock is rolled forward by expected use.
    tool
        This tool alone; can be given more than once.
    horizon
        How many years ahead dates are named. By default 10.
    tolerance
        Accepted chance of no usable tool before the replacement arrives. By default 0.1.
    common
        What every command takes.
    """
    from wearfit.workflow.answers import forecast as forecast_fleet

    document = forecast_fleet(common.store_url, as_of, tool, horizon, tolerance)
    return Answer(document, lambda console: show_forecast(console, document))


def show_forecast(console: Console, document: Mapping[str, Any]) -> None:
    """Print the forecast of a fleet, what needs an order first."""
    tools = sorted(document["tools"], key=lambda t: (not t["overdue"], t["order_by"] or "9999", t["wear_out_on"]["p50"] or "9999", t["tool_id"]))
    title = f"When each tool will wear out, as of {document['as_of']}"
    columns = ("Tool", "Order by", "Wears out: early", "likely", "late", "Within 12 months", "Shots left", "Plant", "Status")
    print_table(console, title, columns, [_row(tool) for tool in tools], right=("Shots left",))
    print_line(
        console,
        "Order by: the last day on which an order keeps the accepted risk of having no usable tool. Early, likely, late: 1 in 10, 5 in 10, "
        "9 in 10 such tools have worn out by then; 'beyond' is past the horizon. Shots left: likely, and the range that holds 8 in 10.",
    )
    if any(tool["status"] == "held" for tool in tools):
        print_line(console, HELD, "bold")
    print_line(console, CAUTION)


def _row(tool: Mapping[str, Any]) -> tuple[Cell, ...]:
    ends = tool["wear_out_on"]
    order: Cell = warned("now: overdue") if tool["overdue"] else tool["order_by"] or "beyond"
    return (
        tool["tool_id"], order, month(ends["p10"], "beyond"), month(ends["p50"], "beyond"), month(ends["p90"], "beyond"),
        frequency(tool["p_within_12_months"]), spread(tool["remaining_shots"]), tool["plant_id"] or "not known", status(tool["status"]),
    )  # fmt: skip


def status(word: str) -> Cell:
    """A tool's status as a cell; a held tool says stop."""
    return warned("STOP: held") if word == "held" else word.replace("_", " ")
