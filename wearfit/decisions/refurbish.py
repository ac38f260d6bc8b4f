"""Refurbish, retool or run on? What it costs to make the planned volume with a tool that has run for a while."""

from collections.abc import Callable
from typing import Final

import numpy as np

from wearfit.decisions.beliefs import of_refurbished
from wearfit.decisions.costs import Costs, present_value
from wearfit.decisions.decision import Decision
from wearfit.decisions.inputs import (
    DISCOUNT_RATE,
    GAP_COST,
    PLANNED_SHOTS,
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

LATER: Final = (2, 4, 6, 9, 12, 18, 24, 36, 48)  # months after which a retool may be planned

INPUTS: Final = (
    PLANNED_SHOTS,
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

NOTE: Final = (
    "Whatever is done today, a surface that then wears out gets a new cavity set, unplanned; so does a sudden stop. Weeks without the "
    "tool are charged and do not move what follows. What the tool is worth after the planned volume is left out."
)


def costs_of(tool: ToolAhead, values: Values) -> Costs:
    """Costs to make the planned volume, by what is done today."""
    volume, rate, use = values["planned_shots"], values["discount_rate"], values["shots_per_month"]
    unplanned = {name: values["stop_cost"] + values["gap_cost_per_week"] * values[f"{name}_weeks"] for name in ("refurbish", "retool")}
    planned = {name: values["planned_week_cost"] * values[f"{name}_weeks"] for name in ("refurbish", "retool")}
    price = {name: values[f"{name}_cost"] for name in ("refurbish", "retool")}

    def then_retool(made: Array, turn: int) -> Array:
        """Cost of the cavity sets that follow when `made` shots are behind; the first of them is life number `turn`."""
        return cost_of_renewals(made, lambda n: tool.fresh_shots(turn + n - 1), volume, price["retool"] + unplanned["retool"], use, rate)

    refurbished = tool.refurbished_shots(tool.age[:, None], values["refurbishments"], 1)
    left, retooled = tool.shots_to_end(), tool.fresh_shots(1)
    costs = {
        "refurbish": price["refurbish"] + planned["refurbish"] + then_retool(refurbished, 2),
        "retool": price["retool"] + planned["retool"] + then_retool(retooled, 2),
    }
    actions = {"refurbish": "refurbish now", "retool": "retool now"}
    if not tool.worn:

        def retool_after(months: float) -> Array:
            stop = np.minimum(left, months * use)
            each = price["retool"] + np.where(left < months * use, unplanned["retool"], planned["retool"])
            due = np.where(stop < volume, stop, np.inf)
            return each * present_value(months_at(due, use), rate) + then_retool(stop + retooled, 2)

        wears = tool.shots_to_wear <= tool.shots_to_sudden
        second = np.where(wears, tool.refurbished_shots(tool.age[:, None] + left, values["refurbishments"], 1), retooled)
        each = np.where(wears, price["refurbish"] + unplanned["refurbish"], price["retool"] + unplanned["retool"])
        at_end = present_value(months_at(np.where(left < volume, left, np.inf), use), rate)
        months, costs["later"] = _cheapest(retool_after, [m for m in LATER if m * use < volume] or [LATER[0]], tool.weights)
        costs["run on, retool"] = then_retool(left, 1)
        costs["run on, refurbish"] = at_end * each + then_retool(left + second, 2)
        actions |= {
            "later": f"run on, and retool in {months} months at the latest",
            "run on, retool": "run on, and retool when it stops",
            "run on, refurbish": "run on, and refurbish when it wears out",
        }
    gains = {"refurbish": refurbished - left, "retool": retooled - left}
    gained = {name: float(gain.mean(axis=1) @ tool.weights / tool.weights.sum()) for name, gain in gains.items()}
    return Costs(
        tuple(actions[key] for key in costs),
        np.stack(list(costs.values())),
        tool.weights,
        f"to make {amount(volume)} shots with {tool.tool_id}",
        details={"shots_gained": gained},
        notes=_notes(tool, price, gained),
        keys=tuple(costs),
    )


def _cheapest(cost: Callable[[float], Array], choices: list[int], weights: Array) -> tuple[int, Array]:
    """The choice of lowest expected cost, and its cost."""
    tried = {choice: cost(choice) for choice in choices}
    best = min(tried, key=lambda choice: float(tried[choice].mean(axis=1) @ weights))
    return best, tried[best]


def _notes(tool: ToolAhead, price: dict[str, float], gained: dict[str, float]) -> tuple[str, ...]:
    words = {"refurbish": "a refurbishment", "retool": "a new cavity set"}
    each = [
        f"{words[name]} gives some {amount(gain)} shots more than running on, for {amount(1000.0 * price[name] / gain)} a thousand"
        for name, gain in gained.items()
        if gain > 0
    ]
    life = f"Shots for the money, as a note: {'; '.join(each)}." if each else ""
    worn = f"{tool.tool_id} is worn by the records, so running on is no choice." if tool.worn else ""
    return tuple(note for note in (worn, life, NOTE) if note)


REFURBISH: Final = Decision(
    name="refurbish",
    question="Refurbish, retool or run on?",
    help="What it costs to make the planned volume if a tool is refurbished, given a new cavity set, or run on.",
    subject="tool",
    inputs=INPUTS,
    costs=costs_of,
    levers=of_refurbished,
)
