"""Modify or cut new? A modification is one-way: what the old version may still be wanted for is priced in."""

from collections.abc import Callable
from typing import Final

import numpy as np

from wearfit.decisions.beliefs import of_tool
from wearfit.decisions.costs import Costs, annuity, break_even_chance, mean_over, present_value
from wearfit.decisions.decision import Decision
from wearfit.decisions.hangs_on import Lever
from wearfit.decisions.inputs import (
    DISCOUNT_RATE,
    GAP_COST,
    LEAD_TIME,
    MONEY,
    PLANNED_WEEK_COST,
    REPLACEMENT_COST,
    RETOOL_COST,
    RETOOL_WEEKS,
    SHOTS_PER_MONTH,
    STOP_COST,
    STORAGE_COST,
    YES_NO,
    Input,
    ShareOf,
    Values,
)
from wearfit.decisions.lives import cost_of_volume
from wearfit.decisions.money import amount
from wearfit.forecasts.modifiable import Modifiable

Array = np.ndarray

INPUTS: Final = (
    Input("planned_shots", None, "shots", "Volume of the new version", "Machine shots to be made of it.", low=1.0, doubt=1.5),
    SHOTS_PER_MONTH,
    REPLACEMENT_COST,
    Input(
        "modify_cost", ShareOf("replacement_cost", 0.15), MONEY, "Price of the modification", "Weld, recut and sample it.", doubt=2.0,
    ),
    Input("modify_weeks", 4.0, "weeks", "Weeks of the modification", "Until it makes the new version.", high=104.0, doubt=1.5),
    LEAD_TIME,
    PLANNED_WEEK_COST,
    Input(
        "old_chance", 0.3, "share", "Chance that the old version is wanted", "In any quantity, once its tool is modified.", high=1.0,
        likely=(0.02, 0.9),
    ),
    Input(
        "spare_duty", 0.0, YES_NO, "Duty to supply spare parts", "Whether the old version must be made again: its chance is then 1.",
        high=1.0, whole=True,
    ),
    Input(
        "old_shots", ShareOf("planned_shots", 0.2), "shots", "Volume of the old version", "Machine shots of it that are then wanted.",
        doubt=2.0,
    ),
    Input("old_months", 12.0, "months", "Date of that", "Months from today in which it is wanted.", high=600.0, doubt=2.0),
    Input("notice_weeks", 4.0, "weeks", "Notice of that", "Weeks from the news until parts are wanted.", high=260.0, doubt=3.0),
    Input("keep_months", 60.0, "months", "Kept at most", "Months of storage if it is not wanted.", high=600.0, doubt=1.5),
    STORAGE_COST,
    RETOOL_COST,
    STOP_COST,
    GAP_COST,
    RETOOL_WEEKS,
    DISCOUNT_RATE,
)  # fmt: skip


def costs_of(ahead: Modifiable, values: Values) -> Costs:
    """Cost of the new version and of what the old one may still be wanted for, by what is done to the tool."""
    tool, rate = ahead.tool, values["discount_rate"]
    chance = 1.0 if values["spare_duty"] > 0.5 else values["old_chance"]
    wanted = (tool.luck.uniform("old version") < chance) & (values["old_shots"] > 0)
    then = float(present_value(values["old_months"], rate))
    version, old = values["planned_shots"], values["old_shots"]

    def fresh(turn: int) -> Array:
        return tool.fresh_shots(1 + turn)

    def of_new(copy: int) -> Callable[[int], Array]:
        return lambda turn: tool.sister.shots_to_end(1 + turn, copy)

    modified = ahead.modified_shots()
    now = {
        "modify": values["modify_cost"]
        + values["planned_week_cost"] * values["modify_weeks"]
        + cost_of_volume(modified, fresh, version, values),
        "new": values["replacement_cost"]
        + values["planned_week_cost"] * values["lead_time_weeks"]
        + cost_of_volume(tool.sister.shots_to_end(1), of_new(0), version, values),
    }
    waiting = values["gap_cost_per_week"] * max(values["lead_time_weeks"] - values["notice_weeks"], 0.0)
    # The old version on a tool cut again, and on the old one, which stood until then.
    again = then * (values["replacement_cost"] + waiting + cost_of_volume(tool.sister.shots_to_end(1, 1), of_new(1), old, values))
    kept = then * cost_of_volume(tool.shots_to_end(), fresh, old, values)
    stored = {months: values["storage_cost_per_month"] * annuity(values[months], rate) for months in ("old_months", "keep_months")}
    if_wanted = {"modify": now["modify"] + again, "new": now["new"] + stored["old_months"] + kept}
    if_not = {"modify": now["modify"], "new": now["new"] + stored["keep_months"]}
    dearer, dearer_not = (mean_over(case["modify"] - case["new"], tool.weights) for case in (if_wanted, if_not))
    even = break_even_chance(dearer, dearer_not)
    lost = mean_over(again - kept - stored["old_months"], tool.weights)
    covers = mean_over(modified >= version, tool.weights)
    return Costs(
        ("modify it", "cut a new tool and keep the old one"),
        np.stack([np.where(wanted, if_wanted[key], if_not[key]) for key in ("modify", "new")]),
        tool.weights,
        f"to make {amount(version)} shots of the new version, and of the old one if it is wanted",
        details={"break_even_chance": even, "old_version_lost": lost, "p_modified_covers_volume": covers},
        notes=_notes(ahead, values, lost, covers),
        finding=_finding(values, even, dearer),
        keys=("modify", "new"),
    )


def levers_of(ahead: Modifiable) -> tuple[Lever, ...]:
    """Beliefs about the tool, and about modifications."""
    return (
        *of_tool(ahead.tool),
        Lever("What a modification does to the life that is left", np.exp(-ahead.wear), lambda v: f"{v:.2f} times"),
    )


def _finding(values: Values, even: float | None, dearer_if_wanted: float) -> str:
    if values["spare_duty"] > 0.5:
        return "A duty to supply spare parts stands: the old version is wanted for certain."
    if even is None:
        cheaper = "Cutting new" if dearer_if_wanted > 0 else "Modifying"
        return f"{cheaper} is the cheaper at any chance that the old version is wanted again."
    side = "below" if dearer_if_wanted > 0 else "above"
    return f"Modifying pays {side} a chance that the old version is wanted again of about {100 * even:.2g} %."


def _notes(ahead: Modifiable, values: Values, lost: float, covers: float) -> tuple[str, ...]:
    life = mean_over(np.exp(-ahead.wear)[:, None], ahead.weights)
    return (
        f"A modification is one-way: if the old version is wanted after all, it costs {amount(abs(lost))} "
        f"{'less' if lost < 0 else 'more'} than with the old tool in store.",
        f"Shots carry over: the modified tool goes on where it stands, and its surface then lasts {life:.2f} times as long. It covers "
        f"{amount(values['planned_shots'])} shots in {100 * covers:.0f} of 100 futures; a later cavity set is unmodified.",
        "Left out: rust of the old tool in store, a stock of old parts made before the modification, and what is left of tools afterwards.",
    )


MODIFY: Final = Decision(
    name="modify",
    question="Modify or cut new?",
    help="Whether to modify a tool for a new version, after which the old version cannot be made, or to cut a new one beside it.",
    subject="tool to modify",
    inputs=INPUTS,
    costs=costs_of,
    levers=levers_of,
)
