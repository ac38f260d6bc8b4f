"""Replace when? On which day to order the replacement of a tool in use, and whether to swap when it comes or to keep it for the stop.

A simulation over the rest of the product's life: the tool wears out or stops along the use ahead, the replacement comes after its
lead time, and wears in its turn. A policy is an order day and one of two forms, to swap on delivery or to keep the replacement until the
tool stops; that the best is of one of these is common knowledge of spare ordering.
"""

import datetime as dt
from typing import Final

import numpy as np

from wearfit.decisions.beliefs import of_tool
from wearfit.decisions.costs import WEEKS_PER_MONTH, Costs, present_value
from wearfit.decisions.decision import Decision
from wearfit.decisions.inputs import (
    COMMON,
    DISCOUNT_RATE,
    GAP_COST,
    LEAD_TIME,
    MONEY,
    REPLACEMENT_COST,
    SHOTS_PER_MONTH,
    STOP_COST,
    Input,
    ShareOf,
    Values,
)
from wearfit.decisions.lives import renewals
from wearfit.forecasts.tool_ahead import ToolAhead

Array = np.ndarray

ORDER_WEEKS: Final = (0, 4, 8, 13, 26, 39, 52, 78)  # from today, each offered as an action
SWAP_WEEKS: Final = (0, 13, 26, 52, 78, 104)  # the same for swapping on delivery, of which the best is offered

INPUTS: Final = (
    Input(
        "months_ahead", 36.0, "months", "Life of the product", "Months for which the parts are still wanted.", low=1.0, high=480.0,
        doubt=1.5,
    ),
    SHOTS_PER_MONTH,
    REPLACEMENT_COST,
    LEAD_TIME,
    Input(
        "freight_weeks", 0.0, "weeks", "Freight", "Weeks on the way beside the lead time: 4-6 by sea.", COMMON, high=52.0,
        likely=(0.0, 6.0),
    ),
    Input(
        "shutdown_weeks", 0.0, "weeks", "Shutdown", "Weeks in which the toolmaker stands still before it is done: 2-4 over long holidays.",
        COMMON, high=26.0, likely=(0.0, 4.0),
    ),
    STOP_COST,
    GAP_COST,
    Input(
        "swap_cost", ShareOf("replacement_cost", 0.03), MONEY, "Cost of a planned swap",
        "What it costs to put the new tool in the old one's place at a time that suits.", doubt=3.0,
    ),
    Input(
        "holding_cost_per_week", ShareOf("replacement_cost", 0.0005), "money a week", "Cost of holding it for a week",
        "Rack, preservation and insurance of a replacement that waits; the money tied up in it is in the discount rate.", doubt=3.0,
    ),
    DISCOUNT_RATE,
)  # fmt: skip

NOTE: Final = (
    "Later tools are replaced when they stop, each with its successor there in time. A tool that is left when the product ends is worth "
    "nothing. An order is paid when it is placed. Lead times are lognormal about their median."
)


def costs_of(tool: ToolAhead, values: Values) -> Costs:
    """Costs until the product ends, by order day and form; where a replacement is on order, by form."""
    if tool.due_weeks is not None:
        on = _day(tool, tool.due_weeks)
        arrives = np.full_like(tool.weeks_to_wear, tool.due_weeks)
        late = "" if tool.due_weeks > 0 else " It is due today or overdue, and taken to come today."
        if tool.worn:
            offered = {"keep": (f"put the replacement in when it comes, on {on}", _from_delivery(tool, values, arrives, swaps=False))}
            return _costs(tool, values, offered, f"{tool.tool_id} is worn by the records, and a replacement is on order.{late}")
        offered = {
            "swap": (f"swap when the replacement comes, on {on}", _from_delivery(tool, values, arrives, swaps=True)),
            "keep": (f"keep the replacement of {on} until the old tool stops", _from_delivery(tool, values, arrives, swaps=False)),
        }
        return _costs(tool, values, offered, f"A replacement is on order: its price is spent, and no other is looked at.{late}")
    if tool.worn:
        offered = {"keep 0": ("order now", _ordered(tool, values, 0.0, swaps=False))}
        return _costs(tool, values, offered, f"{tool.tool_id} is worn by the records: every week without an order is a week lost.")
    end = values["months_ahead"] * WEEKS_PER_MONTH
    offered = {
        f"keep {weeks}": (f"order {_when(tool, weeks)}", _ordered(tool, values, weeks, swaps=False)) for weeks in ORDER_WEEKS if weeks < end
    }
    offered["late"] = ("order when it stops", _ordered(tool, values, np.inf, swaps=False))
    swaps = {weeks: _ordered(tool, values, weeks, swaps=True) for weeks in SWAP_WEEKS if weeks < end}
    best = min(swaps, key=lambda weeks: float(swaps[weeks].mean(axis=1) @ tool.weights))
    offered["swap"] = (f"order {_when(tool, best)} and swap on arrival", swaps[best])
    return _costs(tool, values, offered, "Unless it says 'swap on arrival', the replacement is kept until the old tool stops.")


def _ordered(tool: ToolAhead, values: Values, weeks: float, swaps: bool) -> Array:
    """Cost of ordering in so many weeks, or at once if the tool stops before, shape (sample, future)."""
    at = np.minimum(weeks, _stops(tool, values))
    lead = values["lead_time_weeks"] * np.exp(tool.lead_log_sd * tool.luck.normal("lead"))
    arrives = at + lead + values["freight_weeks"] + values["shutdown_weeks"]
    return values["replacement_cost"] * _worth(at, values) + _from_delivery(tool, values, arrives, swaps)


def _from_delivery(tool: ToolAhead, values: Values, arrives: Array, swaps: bool) -> Array:
    """What follows from the week in which the replacement comes, its price left out, shape (sample, future)."""
    end, stops = values["months_ahead"] * WEEKS_PER_MONTH, _stops(tool, values)
    before = stops < arrives
    begins = arrives if swaps else np.maximum(arrives, stops)
    stopped = before if swaps else np.ones_like(before)
    gap = np.maximum(np.minimum(arrives, end) - stops, 0.0)
    cost = np.where(stopped, values["stop_cost"] * _worth(stops, values), 0.0) + gap * values["gap_cost_per_week"] * _worth(stops, values)
    if swaps:
        cost += np.where(before, 0.0, values["swap_cost"] * _worth(arrives, values))
    else:
        held = np.maximum(np.minimum(stops, end) - arrives, 0.0)
        cost += held * values["holding_cost_per_week"] * _worth(arrives, values)
    # The replacement is life number 1 of a tool like this one, and wears as it is used.
    a_week = values["shots_per_month"] / WEEKS_PER_MONTH
    wanted = np.maximum(end - begins, 0.0) * a_week
    for made in renewals(tool.sister.shots_to_end(1), lambda n: tool.sister.shots_to_end(1 + n), wanted):
        cost += (values["replacement_cost"] + values["stop_cost"]) * _worth(begins + made / a_week, values)
    return np.asarray(cost)


def _stops(tool: ToolAhead, values: Values) -> Array:
    """Weeks until the tool wears out or stops."""
    return np.minimum(*tool.weeks_to_end(values["shots_per_month"]))


def _worth(weeks: Array, values: Values) -> Array:
    """Present value of money then, nothing once the product has ended."""
    within = np.where(weeks < values["months_ahead"] * WEEKS_PER_MONTH, weeks, np.inf)
    return present_value(within / WEEKS_PER_MONTH, values["discount_rate"])


def _costs(tool: ToolAhead, values: Values, offered: dict[str, tuple[str, Array]], note: str) -> Costs:
    stops = _stops(tool, values)
    within = float((stops < values["months_ahead"] * WEEKS_PER_MONTH).mean(axis=1) @ tool.weights / tool.weights.sum())
    return Costs(
        tuple(name for name, _ in offered.values()),
        np.stack([cost for _, cost in offered.values()]),
        tool.weights,
        f"over the {values['months_ahead']:.3g} months for which the parts are wanted",
        details={"p_stops_within_life_of_product": within},
        notes=(note, NOTE),
        finding=f"It stops before the product ends in {100 * within:.0f} of 100 futures.",
        keys=tuple(offered),
    )


def _when(tool: ToolAhead, weeks: float) -> str:
    return "now" if weeks == 0 else f"in {weeks:.0f} weeks, on {_day(tool, weeks)}"


def _day(tool: ToolAhead, weeks: float) -> str:
    return (tool.as_of + dt.timedelta(days=round(7.0 * weeks))).isoformat()


REPLACE: Final = Decision(
    name="replace",
    question="Replace when?",
    help="On which day to order the replacement of a tool in use, and whether to swap when it comes or when the old one stops.",
    subject="tool",
    inputs=INPUTS,
    costs=costs_of,
    levers=of_tool,
)
