"""Which plant? What moving a tool, or drying its hall, gains in shots and costs in move, approval and equipment."""

from typing import Final

import numpy as np

from wearfit.decisions.beliefs import of_tool
from wearfit.decisions.costs import Costs, annuity, mean_over
from wearfit.decisions.decision import Decision
from wearfit.decisions.hangs_on import Lever
from wearfit.decisions.inputs import (
    DISCOUNT_RATE,
    GAP_COST,
    MONEY,
    PLANNED_SHOTS,
    PLANNED_WEEK_COST,
    REPLACEMENT_COST,
    RETOOL_COST,
    RETOOL_WEEKS,
    SHOTS_PER_MONTH,
    STOP_COST,
    Input,
    ShareOf,
    Values,
)
from wearfit.decisions.lives import cost_of_volume
from wearfit.decisions.money import amount
from wearfit.forecasts.at_plants import AtPlants, lasting

Array = np.ndarray

INPUTS: Final = (
    PLANNED_SHOTS,
    SHOTS_PER_MONTH,
    REPLACEMENT_COST,
    Input(
        "move_cost", ShareOf("replacement_cost", 0.08), MONEY, "Price of the move", "Crate, freight, insurance and customs.", doubt=2.0,
    ),
    Input(
        "requalify_cost", ShareOf("replacement_cost", 0.05), MONEY, "Price of the approval there",
        "Set-up, samples, measuring and approval at the other plant.", doubt=2.0,
    ),
    Input("move_weeks", 5.0, "weeks", "Weeks of the move", "Weeks without the tool, approval included.", high=104.0, doubt=1.5),
    PLANNED_WEEK_COST,
    Input(
        "drying_cost", ShareOf("replacement_cost", 0.5), MONEY, "Price of drying the hall",
        "Equipment, the share of it that this tool is to bear.", doubt=3.0,
    ),
    Input(
        "drying_per_month", ShareOf("drying_cost", 0.01), "money a month", "Upkeep of drying", "Energy and care, this tool's share of it.",
        doubt=2.0,
    ),
    Input(
        "dried_sweating", 0.05, "share", "Sweating once dried", "Share of press hours in which the mould would still sweat.", high=1.0,
        likely=(0.0, 0.3),
    ),
    Input(
        "dried_corrosivity", 0.0, "share", "Corrosion that drying takes away",
        "Of what the air is more corrosive than a conditioned hall's, in logs: 0 where salt or fumes stay, 1 where nothing is left.",
        high=1.0, likely=(0.0, 1.0),
    ),
    RETOOL_COST,
    STOP_COST,
    GAP_COST,
    RETOOL_WEEKS,
    DISCOUNT_RATE,
)  # fmt: skip


def costs_of(plants: AtPlants, values: Values) -> Costs:
    """Cost of the planned volume where the tool is, at each other plant, and where it is with a drier hall."""
    stays, volume = plants.tool.shots_to_end(), values["planned_shots"]
    here = plants.tool.plant_id or "its plant"
    moving = values["move_cost"] + values["requalify_cost"] + values["planned_week_cost"] * values["move_weeks"]
    broken = plants.tool.luck.uniform("move") < -np.expm1(-plants.breaks)[:, None]
    offered = {"stay": (f"leave it at {here}", cost_of_volume(stays, plants.tool.fresh_shots, volume, values))}
    gains: dict[str, float] = {}
    for name in plants.longer:
        there = plants.at(name)
        first = np.where(broken, 0.0, there.shots_to_end())
        offered[f"move {name}"] = (f"move it to {name}", moving + cost_of_volume(first, there.fresh_shots, volume, values))
        gains[f"move it to {name}"] = mean_over(first - stays, plants.weights)
    if plants.hall is not None:
        dried = lasting(plants.tool, plants.hall.longer_if_dried(values["dried_sweating"], values["dried_corrosivity"]))
        months = volume / values["shots_per_month"]
        drying = values["drying_cost"] + values["drying_per_month"] * annuity(months, values["discount_rate"])
        offered["dry"] = (f"dry the hall at {here}", drying + cost_of_volume(dried.shots_to_end(), dried.fresh_shots, volume, values))
        gains[f"dry the hall at {here}"] = mean_over(dried.shots_to_end() - stays, plants.weights)
    return Costs(
        tuple(name for name, _ in offered.values()),
        np.stack([cost for _, cost in offered.values()]),
        plants.weights,
        f"to make {amount(volume)} shots with {plants.tool.tool_id}",
        details={"shots_gained": gains},
        notes=_notes(plants, gains, here),
        keys=tuple(offered),
    )


def levers_of(plants: AtPlants) -> tuple[Lever, ...]:
    """Beliefs about the tool, about the plants and about moisture."""
    here = plants.tool.plant_id or "its plant"
    there = tuple(
        Lever(f"How long it lasts at {name} against {here}", longer, lambda v: f"{v:.2f} times") for name, longer in plants.longer.items()
    )
    if plants.hall is None:
        return (*of_tool(plants.tool), *there)
    wet = Lever("What sweating all the time does to life", np.exp(-plants.hall.sweating_slope), lambda v: f"{v:.2f} times")
    return (*of_tool(plants.tool), *there, wet)


def _notes(plants: AtPlants, gains: dict[str, float], here: str) -> tuple[str, ...]:
    each = "; ".join(f"to {name} {amount(gain) if gain >= 0 else f'minus {amount(-gain)}'}" for name, gain in gains.items())
    missing = (
        f"Drying the hall is not offered: the climate of {here} is not on record. Enter it in `plants`, or in `climate` month by month."
    )
    breaks = mean_over(-np.expm1(-plants.breaks)[:, None], plants.weights)
    often = f"about once in {amount(float(f'{1.0 / breaks:.2g}'))} moves" if breaks > 0.0 else "hardly ever"
    return (
        f"Shots gained on the life under way, as expected: {each}.",
        *(() if plants.hall else (missing,)),
        f"A move breaks the tool {often}; it then gets a new cavity set there. What parts cost to make and to ship at "
        "either plant is left out, and so is what drying does for other tools.",
        *((f"Never seen before, so taken as one of its kind: {', '.join(plants.new)}.",) if plants.new else ()),
    )


PLANT: Final = Decision(
    name="plant",
    question="Which plant?",
    help="What moving a tool to another plant, or drying its hall, gains in shots and costs.",
    subject="tool at plants",
    inputs=INPUTS,
    costs=costs_of,
    levers=levers_of,
    cautions=(
        "Caution, not advice: whose tool it is, and whether its plant may hold it for unpaid bills (a lien), is not looked at here. Settle "
        "it before a move.",
    ),
)
