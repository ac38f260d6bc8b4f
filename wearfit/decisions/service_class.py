"""Which service class to buy? What it costs to make the planned volume with a tool of each, in this resin at this plant."""

from typing import Final

import numpy as np

from wearfit.decisions.beliefs import median_shots, of_new
from wearfit.decisions.costs import Costs
from wearfit.decisions.decision import Decision
from wearfit.decisions.hangs_on import Lever
from wearfit.decisions.inputs import DISCOUNT_RATE, MONEY, Input, ShareOf, Values
from wearfit.decisions.lives import MOST, cost_of_renewals
from wearfit.decisions.money import amount
from wearfit.errors import Refusal
from wearfit.forecasts.alternatives import Alternatives

Array = np.ndarray

RATIO: Final = {"101": 2.0, "102": 1.4, "103": 1.0, "104": 0.6, "105": 0.15}  # price over that of a 103 tool; judgement
USUAL_PRICE: Final = 30_000.0  # of a 103 tool; within the ranges published for steel tools of one to eight cavities
MARGIN: Final = (1.3, 1.5)  # of the planned volume: median life that a rule of thumb asks for, judgement

INPUTS: Final = (
    Input("planned_shots", None, "shots", "Planned volume", "Machine shots to be made in all.", low=1.0, doubt=1.5),
    Input("shots_per_month", ShareOf("planned_shots", 1.0 / 36.0), "shots a month", "Use", "Machine shots a month.", low=1e-6, doubt=1.5),
    Input(
        "price_103", USUAL_PRICE, MONEY, "Price of a 103 tool", "Of the tool in question, if it is cut as class 103.", doubt=1.5,
        mark="judgement, within published ranges whose source is not at hand",
    ),
    *(
        Input(
            f"price_{name}", ShareOf("price_103", RATIO[name]), MONEY, f"Price of a {name} tool", f"If it is cut as class {name}.",
            doubt=1.25,
        )
        for name in ("101", "102", "104", "105")
    ),
    Input(
        "retool_share", 0.55, "share", "Cavity set, as a share of a new tool", "A full set in the old base: typically 0.4-0.7.",
        high=2.0, likely=(0.4, 0.7),
    ),
    Input(
        "stop_cost", ShareOf("price_103", 0.2), MONEY, "Cost of an unplanned stop",
        "What one wear-out costs beside the cavity set and the weeks without a tool: sorting, scrap, rush work.", doubt=3.0,
    ),
    Input(
        "gap_cost_per_week", ShareOf("price_103", 0.1), "money a week", "Cost of a week without a tool",
        "Margin lost and penalties while a new cavity set is made.", doubt=3.0,
    ),
    Input("retool_weeks", 8.0, "weeks", "Weeks of a retool", "Weeks without the tool, transport included.", high=104.0, doubt=1.5),
    DISCOUNT_RATE,
)  # fmt: skip


def costs_of(classes: Alternatives, values: Values) -> Costs:
    """Price, and a cavity set at every wear-out or sudden stop until the volume is made, by class."""
    volume, use = values["planned_shots"], values["shots_per_month"]
    typical = {
        name: float(np.exp(np.average(np.log(median_shots(tool.log_life, tool.shape)), weights=tool.weights)))
        for name, tool in classes.tools.items()
    }
    offered = [name for name, life in typical.items() if volume / life <= MOST / 3.0]
    if not offered:
        longest = max(typical.values())
        raise Refusal(
            f"A planned volume of {volume:,.0f} shots would wear out more than {MOST / 3.0:.0f} cavity sets of any class.",
            f"Give a volume up to some {amount(longest * MOST / 3.0)} shots, or share it among several tools.",
            2,
        )
    cost = []
    for name in offered:
        tool, price = classes.tools[name], values[f"price_{name}"]
        each = price * values["retool_share"] + values["stop_cost"] + values["gap_cost_per_week"] * values["retool_weeks"]
        lives = cost_of_renewals(tool.shots_to_end(0), tool.shots_to_end, volume, each, use, values["discount_rate"])
        cost.append(price + lives)
    return Costs(
        tuple(f"buy a {name} tool" for name in offered),
        np.stack(cost),
        classes.weights,
        f"to make {amount(volume)} shots, the tool included",
        details={"median_life_shots": typical},
        notes=_notes(classes, typical, offered, volume),
        keys=tuple(offered),
    )


def levers_of(classes: Alternatives) -> tuple[Lever, ...]:
    """Beliefs about tools of class 103, with which those of the others go."""
    return of_new(classes.tools["103"])


def _notes(classes: Alternatives, typical: dict[str, float], offered: list[str], volume: float) -> tuple[str, ...]:
    lasts = "; ".join(f"{name}: {amount(life)}" for name, life in typical.items())
    enough = [name for name, life in typical.items() if life >= MARGIN[0] * volume]
    left_out = [f"{name} (some {volume / life:,.0f} cavity sets)" for name, life in typical.items() if name not in offered]
    rule = f"a median life of {MARGIN[0]:g} to {MARGIN[1]:g} times the volume, unless the design is likely to change"
    return (
        f"Median shots to the first wear-out here, each class in its usual steel: {lasts}. A class is a way of building and promises "
        "nothing.",
        f"A rule of thumb (judgement) asks for {rule}: {'class ' + ', '.join(enough) if enough else 'no class has it'}.",
        *((f"Left out, for it would wear out too often: {', '.join(left_out)}.",) if left_out else ()),
        "What is left of the tool afterwards is worth nothing.",
        *((f"Never seen before, so taken as one of its kind: {', '.join(classes.first.new)}.",) if classes.first.new else ()),
    )


SERVICE_CLASS: Final = Decision(
    name="class",
    question="Which service class?",
    help="What it costs to make the planned volume with a tool of each service class, in this resin at this plant.",
    subject="classes",
    inputs=INPUTS,
    costs=costs_of,
    levers=levers_of,
)
