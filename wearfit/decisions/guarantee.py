"""Is the guarantee met? The chance that a life makes the guaranteed shots, and what the promise is worth."""

from typing import Final

import numpy as np

from wearfit.decisions.beliefs import of_life
from wearfit.decisions.costs import Costs, present_value
from wearfit.decisions.decision import Decision
from wearfit.decisions.inputs import (
    COMMON,
    DISCOUNT_RATE,
    MONEY,
    REPLACEMENT_COST,
    RETOOL_COST,
    SHOTS_PER_MONTH,
    STOP_COST,
    YES_NO,
    Input,
    ShareOf,
    Values,
)
from wearfit.decisions.lives import months_at
from wearfit.decisions.money import amount
from wearfit.forecasts.life_ahead import LifeAhead
from wearfit.forecasts.quantiles import as_numbers, weighted_quantiles

Array = np.ndarray

INPUTS: Final = (
    Input(
        "guaranteed_shots", None, "shots", "Guaranteed shots", "Shots of this life that are promised, those made so far in them.", low=1.0,
    ),
    Input(
        "shots_made", None, "shots", "Shots made so far", "Of those that the guarantee counts; on record are those since the last renewal.",
    ),
    Input("guaranteed_years", 3.0, "years", "Years it still runs", "From today; 2-3 years are usual.", COMMON, high=50.0, doubt=1.5),
    SHOTS_PER_MONTH,
    REPLACEMENT_COST,
    RETOOL_COST,
    STOP_COST,
    Input(
        "paid_share", 1.0, "share", "Share of the repair that is promised", "What the promise pays of a new cavity set; free repair is 1.",
        COMMON, high=1.0, likely=(0.5, 1.0),
    ),
    Input(
        "honoured", 0.3, "share", "Chance that a claim is paid", "Such promises are rarely enforced.", high=1.0, likely=(0.1, 0.8),
    ),
    Input(
        "pro_rata", 0.0, YES_NO, "Paid in proportion", "Whether only the share of the shots that is missing is paid for.", high=1.0,
        whole=True, likely=(0.0, 1.0),
    ),
    Input(
        "covers_sudden", 0.0, YES_NO, "Covers sudden damage", "Whether drops, crashes and fractures count as well.", high=1.0,
        whole=True, likely=(0.0, 1.0),
    ),
    Input(
        "premium", ShareOf("replacement_cost", 0.02), MONEY, "Price of the guarantee",
        "What it costs more to have it, or what one would be paid to give it up.", doubt=3.0,
    ),
    DISCOUNT_RATE,
)  # fmt: skip


def costs_of(life: LifeAhead, values: Values) -> Costs:
    """What the end of this life costs if it comes before the guaranteed shots, with the promise and without."""
    promised, use, rate = values["guaranteed_shots"], values["shots_per_month"], values["discount_rate"]
    missing = max(promised - values["shots_made"], 0.0)
    ends = np.minimum(life.shots_to_wear, life.shots_to_sudden)
    short = ends < missing
    wears = life.shots_to_wear <= life.shots_to_sudden
    at = present_value(months_at(np.where(short, ends, np.inf), use), rate)
    loss = (values["retool_cost"] + values["stop_cost"]) * at
    claims = short & (wears | (values["covers_sudden"] > 0.5)) & (ends <= 12.0 * values["guaranteed_years"] * use)
    share = np.where(values["pro_rata"] > 0.5, np.maximum(missing - ends, 0.0) / promised, 1.0)
    claim = values["retool_cost"] * values["paid_share"] * share * claims * at
    met = 1.0 - (short & wears).mean(axis=1)
    chance = float(met @ life.weights / life.weights.sum())
    low, high = (float(q) for q in weighted_quantiles(met[:, None], life.weights[:, None], (0.05, 0.95))[:, 0])
    paid = claim * values["honoured"]
    worth = float(paid.mean(axis=1) @ life.weights / life.weights.sum())
    worths = weighted_quantiles(paid.mean(axis=1)[:, None], life.weights[:, None])[:, 0]
    return Costs(
        ("do without the guarantee", "take the guarantee at its price"),
        np.stack([loss, loss - paid + values["premium"]]),
        life.weights,
        "of this life's end, where it comes before the guaranteed shots",
        details={
            "p_meets_guarantee": chance,
            "p_meets_guarantee_interval": [low, high],
            "p_meets_guarantee_no_stop": float((1.0 - short.mean(axis=1)) @ life.weights / life.weights.sum()),
            "worth": worth,
            "worth_range": as_numbers(worths),
        },
        notes=_notes(values, float(claim.mean(axis=1) @ life.weights / life.weights.sum())),
        finding=f"{_met(values, chance, low, high)} The guarantee is worth {amount(worth)}: pay no more for it.",
        keys=("without", "with"),
    )


def _met(values: Values, chance: float, low: float, high: float) -> str:
    """Whether the guaranteed shots are made, in a sentence."""
    promised = amount(values["guaranteed_shots"])
    if values["shots_made"] >= values["guaranteed_shots"]:
        return f"It has made the {promised} shots that are guaranteed."
    of_100, least, most = (f"{100 * p:.0f}" for p in (chance, low, high))
    range_of = "" if least == most else f" ({least} to {most}, by what the draws believe)"
    return f"It makes {promised} shots before it wears out in {of_100} of 100 futures{range_of}."


def _notes(values: Values, in_full: float) -> tuple[str, ...]:
    months = max(values["guaranteed_shots"] - values["shots_made"], 0.0) / values["shots_per_month"]
    late = months > 12.0 * values["guaranteed_years"]
    return (
        f"If every claim were paid it would be worth {amount(in_full)}.",
        *(("At this use it runs out by its years before the guaranteed shots are made.",) if late else ()),
        "The stop itself and weeks without the tool are not paid for. A shot count that only the promising plant keeps is weak proof.",
    )


GUARANTEE: Final = Decision(
    name="guarantee",
    question="Is the guarantee met?",
    help="The chance that a live tool or a new one makes the guaranteed shots, and what the guarantee is worth.",
    subject="life",
    inputs=INPUTS,
    costs=costs_of,
    levers=of_life,
)
