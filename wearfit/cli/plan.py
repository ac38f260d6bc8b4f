"""`wearfit plan`: renewals, spend, shortages and orders over what is to be made."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Final

from cyclopts import Parameter
from rich.console import Console

from wearfit.cli.inputs import given_in, input_option, options_of
from wearfit.cli.options import Common, Tolerance
from wearfit.cli.output import Answer
from wearfit.cli.tables import WIDE, Cell, print_line, print_table, warned
from wearfit.decisions.money import amount, plain
from wearfit.decisions.plan_terms import INPUTS
from wearfit.workflow.wording import CAUTION, HELD, UNKNOWN, count, frequency, month, shots

SHOWN: Final = 5  # tools or designs named in a cell

Told = options_of("Told", [input_option(item) for item in INPUTS])


def plan(
    plan: Annotated[Path | None, Parameter(name="PLAN.csv", metavar="PLAN.csv")] = None,
    /,
    *,
    months: Annotated[int | None, Parameter(metavar="N")] = None,
    refurbish: Annotated[str, Parameter(metavar="none|once|when")] = "when",
    tolerance: Tolerance = None,
    told: Told = Told(),  # type: ignore[valid-type]  # noqa: B008
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """Renewals, spend, shortages and orders, month by month, over what is to be made.

    Parameters
    ----------
    plan
        A file with the columns of the table `plan` (month, tool_id or design_id, shots or units; plant_id, resin_id, product_id) in the
        place of the plan on record. What no plan speaks of is used as it was of late.
    months
        How many months to look at. By default as far as the plan reaches, 36 without one.
    refurbish
        A worn surface is cut anew (none), refurbished once before (once), or refurbished as often as that gives more for the money (when,
        the default).
    tolerance
        Accepted chance of no usable tool before a replacement arrives, and of a short month. By default 0.1.
    told
        Prices, times and capacity.
    common
        What every command takes.
    """
    from wearfit.workflow.plan import plan as answer

    document, answered = answer(common.store_url, plan, months, refurbish, tolerance, given_in(told))
    return Answer(document, lambda console: show_plan(console, document), 0 if answered else 1)


def show_plan(console: Console, document: Mapping[str, Any]) -> None:
    """Print a plan: what is spent, what is to be ordered, where it will be short, design by design, and what it rests on."""
    wide = console.width >= WIDE
    span = f"{document['first_month']} to {document['last_month']}"
    print_line(console, f"Plan for {span}, {count(document['months'], 'month', 'months')}, as of {document['as_of']}", "bold")
    for problem in document["problems"]:
        print_line(console, f"Row {problem['row']} of the plan is left out: {problem['problem']}", "bold yellow")
    _show_spend(console, document, wide)
    orders = [_order(order) for order in document["orders"]]
    if orders:
        columns = ("Tool", "Order by", "Ends early", "Likely", "Lead time", "Late if\nordered now")
        print_table(console, "Orders", columns, orders)
        print_line(console, "Ends early, likely: 1 in 10, 5 in 10 such tools have worn out or stopped by then; 'beyond' is past ten years.")
    else:
        print_line(console, "No order falls due in these months.")
    _show_shortage(console, document, wide)
    _show_designs(console, document, wide)
    if document["copies_advised"]:
        rows = [(c["design_id"], f"{c['copies']} (now {c['copies_now']})", c["why"]) for c in document["copies_advised"]]
        print_table(console, "Copies advised", ("Design", "Copies", "Why"), rows)
    told = [(i["label"], plain(i["value"], i["unit"]), i["mark"], *((i["meaning"],) if wide else ())) for i in document["inputs"]]
    print_table(console, "What it was told", ("Input", "Value", "From", *(("Meaning",) if wide else ())), told)
    for note in document["notes"]:
        print_line(console, note)
    if any(note.startswith("Held") for note in document["notes"]):
        print_line(console, HELD, "bold")
    print_line(console, CAUTION)


def _show_spend(console: Console, document: Mapping[str, Any], wide: bool) -> None:
    columns = ("Quarter", "Likely", "8 in 10 within", "95 in 100 within")
    rows = [(s["quarter"], *_money(s), *((_some(s["tools"]),) if wide else ())) for s in document["spend"]]
    rows.append(("In all", *_money(document["spend_in_all"]), *(("",) if wide else ())))
    print_table(
        console, "Spend on renewals, when it is paid", (*columns, *(("Tools behind it, the costliest first",) if wide else ())), rows,
        right=columns[1:],
    )  # fmt: skip
    if not wide:
        print_line(console, "Tools behind it, the costliest first:")
        for s in document["spend"]:
            print_line(console, f"{s['quarter']}: {_some(s['tools'])}")
        print_line(console, "")


def _money(spend: Mapping[str, Any]) -> tuple[str, str, str]:
    ranges = (f"{amount(low)} to {amount(high)}" for low, high in (spend["range_80"], spend["range_95"]))
    return amount(spend["cost"]["p50"]), *ranges  # type: ignore[return-value]


def _order(order: Mapping[str, Any]) -> tuple[Cell, ...]:
    day: Cell = warned("now: overdue") if order["overdue"] else order["order_by"]
    worn = order["reason"].startswith("it is worn")
    ends = ("worn out", "now") if worn else (month(order["ends_early"], "beyond"), month(order["ends_likely"], "beyond"))
    return order["tool_id"], day, *ends, f"{order['lead_time_weeks']:.3g} weeks", frequency(order["p_late_if_ordered_today"])


def _show_shortage(console: Console, document: Mapping[str, Any], wide: bool) -> None:
    columns = ("Month", "Some design\nis short", "Of all shots", *(("Designs at risk",) if wide else ("At risk",)))
    rows = [
        (s["month"], frequency(s["p"]), f"{100 * s['share_short']:.1f} %", _some([d["design_id"] for d in s["designs"]], 3 if wide else 2))
        for s in document["shortage"]
    ]
    print_table(console, "Months at risk of shortage", columns, rows, right=("Of all shots",))


def _show_designs(console: Console, document: Mapping[str, Any], wide: bool) -> None:
    columns = ("Design", "Tools", "Renewals", "1 in 10\nabove", "Short in\nsome month")
    more = ("Of them\nrefurbished", "Shots asked", "Shots short") if wide else ()
    rows = [
        (
            d["design_id"],
            str(len(d["tools"])),
            f"{d['expected_renewals']:.1f}",
            f"{d['renewals']['p90']:.0f}",
            frequency(d["p_shortage"]),
            *((f"{d['expected_refurbishments']:.1f}", shots(d["shots_asked"]), shots(d["shots_short"])) if wide else ()),
        )
        for d in sorted(document["designs"], key=lambda d: (-d["p_shortage"], -d["expected_renewals"], d["design_id"]))
    ]
    print_table(console, "Designs, the likeliest to be short first", (*columns, *more), rows, right=(*columns[1:4], *more))


def _some(names: list[str], most: int = SHOWN) -> str:
    """The first few names."""
    if not names:
        return UNKNOWN
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")
