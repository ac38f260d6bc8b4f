"""One tool or two? Units by a launch day with so many copies, what lateness costs, and what a second tool is worth afterwards."""

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit.decisions.beliefs import of_new
from wearfit.decisions.costs import Costs, annuity, mean_over, present_value
from wearfit.decisions.decision import Decision
from wearfit.decisions.inputs import (
    COMMON,
    DISCOUNT_RATE,
    GAP_COST,
    PUBLISHED,
    REPLACEMENT_COST,
    RETOOL_COST,
    RETOOL_WEEKS,
    STOP_COST,
    STORAGE_COST,
    Input,
    ShareOf,
    Values,
)
from wearfit.decisions.launch import DAYS_PER_MONTH, Launch, copy_until, cost_after, full_days, launch_with, shots_per_day
from wearfit.decisions.money import amount
from wearfit.errors import Refusal
from wearfit.forecasts.new_tool import NewTool
from wearfit.forecasts.quantiles import as_numbers, weighted_quantiles

Array = np.ndarray

MOST_COPIES: Final = 8
BEYOND: Final = 2  # copies offered beyond what the bare arithmetic asks for

INPUTS: Final = (
    Input("units_wanted", None, "units", "Units by the launch", "Good units that are to be there on the day.", low=1.0, doubt=1.5),
    Input(
        "days_to_launch", None, "days", "Days of production", "Calendar days from the first shots of the approved tools to the launch.",
        low=1.0, high=3650.0, doubt=1.3,
    ),
    Input("unit_value", None, "money a unit", "Value of a unit", "What a unit is invoiced at.", doubt=1.3),
    Input("cycle_seconds", 30.0, "seconds", "Cycle time", "Seconds from shot to shot.", low=0.5, high=3600.0, doubt=1.2),
    Input("cavities", 4.0, "units a shot", "Cavities", "Units that each shot makes.", low=1.0, high=512.0, whole=True),
    Input(
        "uptime", 0.65, "share", "Uptime", "Share of the working hours that the press makes shots at its pace; 0.60-0.65 is typical.",
        PUBLISHED, low=0.01, high=1.0, likely=(0.5, 0.85),
    ),
    Input(
        "uptime_sd", 0.06, "share", "Doubt of the uptime", "Standard deviation; the same for all copies, which share plant and crew.",
        high=0.3,
    ),
    Input(
        "yield_share", 0.97, "share", "Yield", "Share of the units that are good; 0.95-0.98 is typical.", PUBLISHED, low=0.01, high=1.0,
        likely=(0.9, 0.99),
    ),
    Input("yield_sd", 0.01, "share", "Doubt of the yield", "Standard deviation; the same for all copies.", high=0.3),
    Input("hours_per_day", 24.0, "hours", "Hours a day", "Working hours of a working day.", low=1.0, high=24.0),
    Input("days_per_week", 7.0, "days", "Days a week", "Working days of a week.", low=1.0, high=7.0),
    Input("closed_days", 0.0, "days", "Days closed", "Holidays and shutdowns before the launch.", high=3650.0),
    Input(
        "ramp_days", 14.0, "days", "Ramp", "Days in which a new tool climbs evenly from nothing to its full rate.", high=365.0, doubt=2.0,
    ),
    Input(
        "wanted_probability", 0.9, "share", "Wanted probability", "How sure it is to be that the units are there.", low=0.01, high=0.999,
    ),
    Input(
        "late_share", 0.15, "share", "Cost of a late unit",
        "Of its value, for each unit that is not there: penalties (3-15 %) and what of the season is lost.", high=1.0, likely=(0.03, 0.5),
    ),
    REPLACEMENT_COST,
    Input(
        "second_share", 0.85, "share", "Price of a further copy", "Of a tool's price, ordered together: 0.8-0.9.", COMMON, high=1.0,
        likely=(0.8, 1.0),
    ),
    RETOOL_COST,
    STOP_COST,
    GAP_COST,
    RETOOL_WEEKS,
    STORAGE_COST,
    Input(
        "later_units", ShareOf("units_wanted", 1.0), "units", "Units after the launch", "Good units wanted after the day.", doubt=2.0,
    ),
    Input("later_months", 24.0, "months", "Months after the launch", "In which they are made, evenly.", low=1.0, high=240.0, doubt=1.5),
    DISCOUNT_RATE,
)  # fmt: skip


@dataclass(frozen=True)
class _With:
    """What comes of so many copies; costs of shape (sample, future), discounted to today."""

    launch: Launch
    tools: float
    late: Array
    before: Array
    after: Array

    @property
    def cost(self) -> Array:
        return self.tools + self.late + self.before + self.after


def costs_of(tool: NewTool, values: Values) -> Costs:
    """Tools, lateness, ends of lives and storage, by number of copies."""
    days = _days(values)
    most = _most_offered(values, days)
    uptime, good = (_believed(tool, values, name) for name in ("uptime", "yield"))
    per_day = shots_per_day(values["cycle_seconds"], uptime, values["hours_per_day"], values["days_per_week"])
    down = 7.0 * values["retool_weeks"]
    copies = [copy_until(tool, copy, per_day, days, values["ramp_days"], down) for copy in range(most)]
    offered = {
        n: _with(tool, launch_with(copies[:n], values["cavities"] * good, values["units_wanted"]), n, values) for n in range(1, most + 1)
    }

    def mean(of: Array) -> float:
        return mean_over(of, tool.weights)

    on_time = {n: mean(found.launch.units >= values["units_wanted"]) for n, found in offered.items()}
    fewest = next((n for n, p in on_time.items() if p >= values["wanted_probability"]), None)
    worth = mean(offered[1].after - offered[2].after)
    return Costs(
        tuple(_cut(n) for n in offered),
        np.stack([found.cost for found in offered.values()]),
        tool.weights,
        f"of the tools, of lateness, and of worn cavities up to {values['later_months']:.3g} months after the launch",
        details={
            "fewest_copies": fewest,
            "second_worth_afterwards": worth,
            "copies": [_summary(n, found, on_time[n], mean, tool.weights) for n, found in offered.items()],
        },
        notes=_notes(values, {n: mean(found.late) for n, found in offered.items()}, worth),
        finding=_finding(values, on_time, fewest),
        keys=tuple(str(n) for n in offered),
    )


def _days(values: Values) -> float:
    days = values["days_to_launch"] - values["closed_days"]
    if days <= 0:
        raise Refusal(
            f"{values['closed_days']:.0f} closed days leave none of {values['days_to_launch']:.0f} to the launch.",
            "Give fewer with --closed-days, or more with --days-to-launch.",
            2,
        )
    return days


def units_by_arithmetic(values: Values, days: float) -> float:
    """Good units of one tool by the day if nothing stops it, at the uptime and yield that are told."""
    per_day = shots_per_day(values["cycle_seconds"], values["uptime"], values["hours_per_day"], values["days_per_week"])
    return float(per_day * values["cavities"] * values["yield_share"] * full_days(days, values["ramp_days"]))


def _most_offered(values: Values, days: float) -> int:
    one = units_by_arithmetic(values, days)
    needed = math.ceil(values["units_wanted"] / one)
    if needed > MOST_COPIES:
        raise Refusal(
            f"{values['units_wanted']:,.0f} units in {days:.0f} days would take {needed:,} tools that never stop; one makes {amount(one)}.",
            f"Up to {MOST_COPIES} are compared: give more days or cavities, a shorter cycle, or fewer units.",
            2,
        )
    return min(needed + BEYOND, MOST_COPIES)


def _believed(tool: NewTool, values: Values, name: str) -> Array:
    """A share as it may be, one value for each draw and all copies, shape (sample, 1): normal, cut off at next to nothing and at one."""
    told = values["uptime" if name == "uptime" else "yield_share"]
    return np.clip(told + values[f"{name}_sd"] * tool.luck.normal_of_draws(name), 0.01, 1.0)[:, None]


def _with(tool: NewTool, launch: Launch, n: int, values: Values) -> _With:
    at_launch = float(present_value(values["days_to_launch"] / DAYS_PER_MONTH, values["discount_rate"]))
    short = np.maximum(values["units_wanted"] - launch.units, 0.0)
    later = values["later_units"] / (values["cavities"] * values["yield_share"])
    stored = (n - 1) * values["storage_cost_per_month"] * annuity(values["later_months"], values["discount_rate"])
    return _With(
        launch,
        values["replacement_cost"] * (1.0 + (n - 1) * values["second_share"]),
        at_launch * short * values["unit_value"] * values["late_share"],
        at_launch * launch.ends * (values["retool_cost"] + values["stop_cost"]),
        at_launch * (cost_after(tool, launch, later, values) + stored),
    )


def _cut(n: int) -> str:
    return "cut one tool" if n == 1 else f"cut {_number(n)} tools"


def _number(n: int) -> str:
    return ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")[n]


def _summary(n: int, found: _With, on_time: float, mean: Any, weights: Array) -> dict[str, Any]:
    units = found.launch.units
    spread = weighted_quantiles(units.reshape(-1, 1), np.repeat(weights, units.shape[1])[:, None])[:, 0]
    return {
        "copies": n, "p_on_time": on_time, "units": as_numbers(spread), "tools": found.tools, "lateness": mean(found.late),
        "before_launch": mean(found.before), "after_launch": mean(found.after),
    }  # fmt: skip


def _finding(values: Values, on_time: dict[int, float], fewest: int | None) -> str:
    said = ", ".join(f"{_number(n)} in {100 * p:.0f}" for n, p in on_time.items())
    wanted = f"{100 * values['wanted_probability']:.3g} of 100"
    least = f"no number tried makes it in {wanted}" if fewest is None else f"{_number(fewest)} is the fewest that makes it in {wanted}"
    return f"{amount(values['units_wanted'])} units are there on the day, of 100 futures, with {said}: {least}."


def _notes(values: Values, late: dict[int, float], worth: float) -> tuple[str, ...]:
    days = _days(values)
    bare = units_by_arithmetic(values, days)
    day = units_by_arithmetic(values.with_value("ramp_days", 0.0), 1.0)
    said = "; ".join(f"{_number(n)} {amount(round(cost))}" for n, cost in late.items())
    return (
        f"By arithmetic alone one tool makes {day:,.0f} good units a day and {bare:,.0f} in {days:.0f} days, ramp included, if it never "
        "stops.",
        f"Lateness costs, as expected, by number of tools: {said}.",
        f"After the launch a second tool is worth {amount(worth)}, its storage paid: one copy runs at a time, the next takes over when it "
        "stops, and a new cavity set is made when none is left.",
        "Copies share plant, resin, uptime and yield; each has its own luck. Each needs a press of its own, which is not priced in. "
        "A repair before the launch takes its weeks; what it costs is the cavity set, the stop and the units that are late.",
    )


COPIES: Final = Decision(
    name="copies",
    question="One tool or two?",
    help="How many copies make the units by the launch day, what lateness costs, and what a second tool is worth afterwards.",
    subject="tool or kind",
    inputs=INPUTS,
    costs=costs_of,
    levers=of_new,
)
