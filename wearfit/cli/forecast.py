"""`wearfit forecast`: when each live tool will wear out, and by when to order its replacement."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Final

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.options import Common, Day, Horizon, ReadingsFile, Tolerance
from wearfit.cli.output import Answer
from wearfit.cli.tables import WIDE, Cell, print_line, print_table, warned
from wearfit.workflow.due import due_or_overdue
from wearfit.workflow.noted_words import last_to_look_at, noted_sentences
from wearfit.workflow.wording import CAUTION, FLASH, HELD, UNKNOWN, frequency, month, readings_since, readings_uncounted, spread

WORTH_TELLING: Final = 0.10  # share of the wear spent that came in store, judgement
MOST_STOOD: Final = 5  # tools of a fleet of which it is told
LOOK: Final = "Have each looked at before it runs; `wearfit forecast --tool` quotes the note."


def forecast(
    *,
    as_of: Day = None,
    tool: Annotated[tuple[str, ...], Parameter(consume_multiple=True, metavar="ID")] = (),
    horizon: Horizon = None,
    tolerance: Tolerance = None,
    readings: ReadingsFile = None,
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
    readings
        Count these readings too: a file with the columns of the readings table. Nothing of it is stored.
    common
        What every command takes.
    """
    from wearfit.workflow.answers import forecast as forecast_fleet

    document = forecast_fleet(common.store_url, as_of, tool, horizon, tolerance, readings)
    return Answer(document, lambda console: show_forecast(console, document, bool(tool)))


def show_forecast(console: Console, document: Mapping[str, Any], asked_by_name: bool = False) -> None:
    """Print the forecast of a fleet: tools that must not run first, then those that need an order soonest.

    Of tools that were asked for by name it says what was noted of them, too.
    """
    tools = sorted(document["tools"], key=_urgency)
    wide = console.width >= WIDE
    columns = ("Tool", "Order by", "Early", "Likely", "Late", "Within\n12 months", "Status")
    more = ("Plant", "Shots left") if wide else ()
    rows = [_row(tool) + (_more(tool) if wide else ()) for tool in tools]
    print_table(console, f"When each tool will wear out, as of {document['as_of']}", (*columns, *more), rows, right=("Shots left",))
    for tool in tools:
        for note in [*_notes(tool, document["as_of"]), *(noted_sentences(tool) if asked_by_name else ())]:
            print_line(console, f"{tool['tool_id']}: {note}")
    if not asked_by_name and (look := sorted(tool["tool_id"] for tool in tools if last_to_look_at(tool))):
        print_line(console, f"{', '.join(look)}: a note tells of sharp flash or loose parts, and no hold came with it. {LOOK}", "bold")
    if stood := _stood(tools, len(tools) if asked_by_name else MOST_STOOD):
        print_line(console, stood)
    for sentence in readings_uncounted(document):
        print_line(console, sentence)
    print_line(
        console,
        "Order by: the last day on which an order keeps the accepted risk of having no usable tool. Early, likely, late: 1 in 10, 5 in 10, "
        "9 in 10 such tools have worn out by then; 'beyond' is past the horizon. "
        + ("Shots left: likely, and the range that holds 8 in 10." if wide else "A wider screen shows plants and shots left as well."),
    )
    if any(tool["status"] == "held" for tool in tools):
        print_line(console, HELD, "bold")
    elif any(map(last_to_look_at, tools)):
        print_line(console, FLASH)
    print_line(console, CAUTION)


def _urgency(tool: Mapping[str, Any]) -> tuple[bool, bool, str, str, str]:
    late = "9999"
    return tool["status"] != "held", not tool["overdue"], tool["order_by"] or late, tool["wear_out_on"]["p50"] or late, tool["tool_id"]


def _row(tool: Mapping[str, Any]) -> tuple[Cell, ...]:
    status: Cell = warned("STOP: held") if tool["status"] == "held" else tool["status"].replace("_", " ")
    late = warned("now: overdue") if tool["overdue"] else tool["order_by"] or "beyond"
    order: Cell = "on order" if tool["replacement_due_on"] else late
    ends, chance = tool["wear_out_on"], frequency(tool["p_within_12_months"])
    if tool["status"] == "worn":
        return tool["tool_id"], order, "now", "now", "now", "worn out", status
    if chance == UNKNOWN:
        return tool["tool_id"], UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, status
    return tool["tool_id"], order, *(month(ends[q], "beyond") for q in ("p10", "p50", "p90")), chance, status


def _more(tool: Mapping[str, Any]) -> tuple[Cell, ...]:
    return tool["plant_id"] or UNKNOWN, spread(tool["remaining_shots"])


def _notes(tool: Mapping[str, Any], as_of: str) -> list[str]:
    due = tool["replacement_due_on"]
    if due:
        due = f"A replacement is {due_or_overdue(due, dt.date.fromisoformat(as_of))} {due}."
    return [note for note in (tool["problem"], *readings_since(tool), due) if note]


def _stood(tools: Sequence[Mapping[str, Any]], most: int) -> str:
    """What store and idle time took of the wear spent, where it is worth telling, of so many tools at most; "" where of none."""
    worth = [tool for tool in tools if (tool["storage_share"]["p50"] or 0.0) >= WORTH_TELLING]
    if not worth:
        return ""
    first = sorted(worth, key=lambda tool: -tool["storage_share"]["p50"])[:most]
    told = ", ".join(f"{tool['tool_id']} {_range(tool['storage_share'])}" for tool in first)
    more = f", and a tenth or more of {len(worth) - most:,} others" if len(worth) > most else ""
    return f"Of the wear spent, so much came in store and in long idle times: {told}{more}."


def _range(share: Mapping[str, float]) -> str:
    low, high = (f"{100 * share[q]:.0f}" for q in ("p10", "p90"))
    return f"{100 * share['p50']:.0f} %" + ("" if low == high else f" ({low} to {high} %)")
