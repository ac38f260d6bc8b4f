"""Refurbish, retool or run on? What it costs to make the planned volume with a tool that has run for a while."""

from typing import Final

import numpy as np

from wearfit.decisions.beliefs import of_tool
from wearfit.decisions.costs import Costs, present_value
from wearfit.decisions.decision import Decision
from wearfit.decisions.inputs import (
    DISCOUNT_RATE,
    GAP_COST,
    PLANNED_WEEK_COST,
    REFURBISH_COST,
    REPLACEMENT_COST,
    RETOOL_COST,
    RETOOL_WEEKS,
    SHOTS_PER_MONTH,
    STOP_COST,
    Input,
    Values,
)
from wearfit.decisions.lives import cost_of_renewals, months_at
from wearfit.decisions.money import amount
from wearfit.forecasts.tool_ahead import ToolAhead

Array = np.ndarray

INPUTS: Final = (
    Input("planned_shots", None, "shots", "Planned volume", "Machine shots that are still to be made with this tool.", low=1.0, doubt=1.5),
    SHOTS_PER_MONTH,
    REPLACEMENT_COST,
    REFURBISH_COST,
    RETOOL_COST,
    STOP_COST,
    GAP_COST,
    PLANNED_WEEK_COST,
    Input(
        "refurbish_weeks", 3.0, "weeks", "Weeks of a refurbishment", "Weeks without the tool, transport included.", high=104.0, doubt=1.5
    ),
    RETOOL_WEEKS,
    Input(
        "refurbishments",
        0.0,
        "",
        "Refurbishments so far",
        "How often this cavity set has been refurbished; each further one gives less. The calibration does not keep it.",
        high=20.0,
        likely=(0.0, 2.0),
        whole=True,
    ),
    DISCOUNT_RATE,
)


def costs_of(tool: ToolAhead, values: Values) -> Costs:
    """Costs to make the planned volume, by what is done today. When that surface wears out, a new cavity set follows, unplanned."""
    volume, rate, use = values["planned_shots"], values["discount_rate"], values["shots_per_month"]
    to_retool = values["retool_cost"] + values["stop_cost"] + values["gap_cost_per_week"] * values["retool_weeks"]

    def then_retool(made: Array, turn: int) -> Array:
        """Cost of the cavity sets that follow when `made` shots are behind; the first of them is life number `turn`."""
        return cost_of_renewals(made, lambda n: tool.fresh_shots(turn + n - 1), volume, to_retool, use, rate)

    refurbished = tool.refurbished_shots(tool.age[:, None], values["refurbishments"], 1)
    retooled = tool.fresh_shots(1)
    costs = {
        "refurbish now": values["refurbish_cost"] + values["planned_week_cost"] * values["refurbish_weeks"] + then_retool(refurbished, 2),
        "retool now": values["retool_cost"] + values["planned_week_cost"] * values["retool_weeks"] + then_retool(retooled, 2),
    }
    if not tool.worn:
        left = tool.shots_to_end()
        wears = tool.shots_to_wear <= tool.shots_to_sudden
        second = np.where(wears, tool.refurbished_shots(tool.age[:, None] + left, values["refurbishments"], 1), retooled)
        to_refurbish = values["refurbish_cost"] + values["stop_cost"] + values["gap_cost_per_week"] * values["refurbish_weeks"]
        at_end = present_value(months_at(np.where(left < volume, left, np.inf), use), rate)
        costs["run on, and retool when it stops"] = then_retool(left, 1)
        costs["run on, and refurbish when it wears out"] = at_end * np.where(wears, to_refurbish, to_retool) + then_retool(left + second, 2)
    gains = {"refurbish": refurbished - tool.shots_to_end(), "retool": retooled - tool.shots_to_end()}
    gained = {name: float(gain.mean(axis=1) @ tool.weights / tool.weights.sum()) for name, gain in gains.items()}
    return Costs(
        tuple(costs),
        np.stack(list(costs.values())),
        tool.weights,
        f"to make {amount(volume)} shots with {tool.tool_id}",
        {"shots_gained": gained},
        _notes(tool, values, gained),
    )


def _notes(tool: ToolAhead, values: Values, gained: dict[str, float]) -> tuple[str, ...]:
    prices = {name: values[f"{name}_cost"] for name in gained}
    words = {"refurbish": "a refurbishment", "retool": "a new cavity set"}
    each = [
        f"{words[name]} gives some {amount(gained[name])} shots more than running on, for {amount(1e3 * prices[name] / gained[name])} a "
        "thousand"
        for name in gained
        if gained[name] > 0
    ]
    notes = [f"Shots for the money, as a note: {'; '.join(each)}."] if each else []
    notes.append(
        "A sudden stop is taken to need a new cavity set. Down time is charged and does not move later renewals. What the tool is worth "
        "after the planned volume is left out."
    )
    if tool.worn:
        notes.append(f"{tool.tool_id} is worn by the records, so running on is no choice.")
    return tuple(notes)


REFURBISH: Final = Decision(
    name="refurbish",
    question="Refurbish, retool or run on?",
    help="What it costs to make the planned volume if a tool is refurbished, given a new cavity set, or run on.",
    subject="tool",
    inputs=INPUTS,
    costs=costs_of,
    levers=of_tool,
)
