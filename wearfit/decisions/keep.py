"""Keep or scrap? What a tool costs that stands until its product comes back, if ever, and what it costs to make it again."""

from typing import Final

import numpy as np

from wearfit.decisions.beliefs import of_tool
from wearfit.decisions.costs import WEEKS_PER_MONTH, Costs, annuity, break_even_chance, mean_over, present_value
from wearfit.decisions.decision import Decision
from wearfit.decisions.hangs_on import Lever
from wearfit.decisions.inputs import (
    DISCOUNT_RATE,
    GAP_COST,
    LEAD_TIME,
    MONEY,
    REPLACEMENT_COST,
    RETOOL_COST,
    RETOOL_WEEKS,
    STOP_COST,
    STORAGE_COST,
    YES_NO,
    Input,
    ShareOf,
    Values,
)
from wearfit.decisions.lives import cost_of_volume
from wearfit.decisions.money import amount
from wearfit.forecasts.stored_tool import StoredTool

Array = np.ndarray

SURELY: Final = 0.99  # a tool preserved this surely is not preserved again
DATE_LOG_SD: Final = 0.5  # of the date of a return about its median; judgement

INPUTS: Final = (
    Input("planned_shots", None, "shots", "Volume that may come back", "Machine shots wanted if the product returns.", low=1.0, doubt=2.0),
    Input(
        "shots_per_month", ShareOf("planned_shots", 1.0 / 24.0), "shots a month", "Use", "Machine shots a month then.", low=1e-6, doubt=1.5,
    ),
    Input(
        "return_chance", 0.3, "share", "Chance of a return", "That the product is wanted again while the tool would be kept.", high=1.0,
        likely=(0.02, 0.9),
    ),
    Input("return_months", 24.0, "months", "Date of a return", "Median months from today.", low=0.1, high=600.0, doubt=2.0),
    Input("keep_months", 60.0, "months", "Kept at most", "Months after which it is scrapped anyway.", low=1.0, high=600.0, doubt=1.5),
    Input(
        "notice_weeks", 4.0, "weeks", "Notice of a return", "Weeks from the news of a return to the day on which parts are wanted.",
        high=260.0, doubt=3.0,
    ),
    STORAGE_COST,
    REPLACEMENT_COST,
    Input(
        "scrap_value", ShareOf("replacement_cost", 0.02), MONEY, "Scrap value", "What scrapping it brings now, and later.", doubt=2.0,
    ),
    Input(
        "preserve_cost", ShareOf("replacement_cost", 0.01), MONEY, "Price of preserving it",
        "Clean, drain, coat and wrap it, and look after it later.", doubt=2.0,
    ),
    Input(
        "recommission_cost", ShareOf("replacement_cost", 0.05), MONEY, "Price of recommissioning",
        "Open, clean, polish, sample and approve it when the product returns.", doubt=2.0,
    ),
    Input("recommission_weeks", 2.0, "weeks", "Weeks of recommissioning", "Until it makes good parts again.", high=104.0, doubt=2.0),
    Input("remake_cost", ShareOf("replacement_cost", 1.0), MONEY, "Price of a remake", "Of the same tool, cut again.", doubt=1.3),
    LEAD_TIME,
    RETOOL_COST,
    RETOOL_WEEKS,
    STOP_COST,
    GAP_COST,
    Input(
        "retention_duty", 0.0, YES_NO, "Duty to keep it", "Whether a contract or a spare-part duty forbids to scrap it.", high=1.0,
        whole=True,
    ),
    DISCOUNT_RATE,
)  # fmt: skip


def costs_of(stored: StoredTool, values: Values) -> Costs:
    """Cost of keeping and of scrapping, in futures with a return and in those without."""
    tool = stored.tool
    returns = tool.luck.uniform("return") < values["return_chance"]
    at = np.minimum(values["return_months"] * np.exp(DATE_LOG_SD * tool.luck.normal("return date")), values["keep_months"])
    rust = {"keep": stored.rust} | ({"preserve": stored.rust_preserved} if stored.preserved < SURELY else {})
    left = {key: tool.shots_to_wear - a_year[:, None] * at / 12.0 for key, a_year in rust.items()}
    once = {"keep": 0.0, "preserve": values["preserve_cost"]}
    back = {key: once[key] + _kept_back(stored, values, at, shots) for key, shots in left.items()}
    gone = {key: once[key] + _kept_for_nothing(values) for key in rust}
    actions = {"keep": "keep it as it stands", "preserve": "preserve it and keep it"}
    if values["retention_duty"] < 0.5:
        back["scrap"], gone["scrap"] = _remade(stored, values, at) - values["scrap_value"], -values["scrap_value"]
        actions["scrap"] = "scrap it"

    def mean(of: Array | float) -> float:
        return mean_over(np.broadcast_to(of, at.shape), tool.weights)

    kept = min(rust, key=lambda key: mean(np.where(returns, back[key], gone[key])))
    usable, covers = mean(left[kept] > 0), mean(np.minimum(left[kept], tool.shots_to_sudden) >= values["planned_shots"])
    even = None
    if "scrap" in back:
        even = break_even_chance(mean(back[kept]) - mean(back["scrap"]), mean(gone[kept]) - mean(gone["scrap"]))
    return Costs(
        tuple(actions[key] for key in back),
        np.stack([np.where(returns, back[key], gone[key]) for key in back]),
        tool.weights,
        f"over at most {values['keep_months']:.3g} months, and of the volume if it comes back",
        details={"break_even_chance": even, "p_usable_on_return": usable, "p_covers_returning_volume": covers},
        notes=_notes(stored, kept == "preserve", usable, mean(at), mean(rust[kept][:, None] * at / 12.0)),
        finding=_finding(values, covers, even, "scrap" in back, mean(back["scrap"] - back[kept]) if "scrap" in back else 0.0),
        keys=tuple(back),
    )


def _kept_for_nothing(values: Values) -> float:
    worth = present_value(values["keep_months"], values["discount_rate"])
    return float(values["storage_cost_per_month"] * annuity(values["keep_months"], values["discount_rate"]) - values["scrap_value"] * worth)


def _kept_back(stored: StoredTool, values: Values, at: Array, left: Array) -> Array:
    """A return to a tool that has `left` shots until it wears out: none where rust has used them up."""
    tool, usable = stored.tool, left > 0
    ends = np.minimum(left, tool.shots_to_sudden)
    first = np.where(usable, ends, tool.fresh_shots(1))
    weeks = values["recommission_weeks"] + np.where(usable, 0.0, values["retool_weeks"])
    start = values["recommission_cost"] + np.where(usable, 0.0, values["retool_cost"]) + _waiting(values, weeks)
    stored_for = values["storage_cost_per_month"] * annuity(at, values["discount_rate"])
    return stored_for + _at(values, at) * (
        start + cost_of_volume(first, lambda turn: tool.fresh_shots(1 + turn), values["planned_shots"], values)
    )


def _remade(stored: StoredTool, values: Values, at: Array) -> Array:
    sister = stored.tool.sister
    start = values["remake_cost"] + _waiting(values, values["lead_time_weeks"])
    return _at(values, at) * (
        start + cost_of_volume(sister.shots_to_end(1), lambda turn: sister.shots_to_end(1 + turn), values["planned_shots"], values)
    )


def _waiting(values: Values, weeks: Array | float) -> Array:
    """Cost of the weeks that the notice does not cover."""
    return np.asarray(values["gap_cost_per_week"] * np.maximum(weeks - values["notice_weeks"], 0.0))


def _at(values: Values, months: Array) -> Array:
    return present_value(months, values["discount_rate"])


def levers_of(stored: StoredTool) -> tuple[Lever, ...]:
    """Beliefs about the tool, and about its store."""
    return (*of_tool(stored.tool), Lever("What a year of standing takes", stored.rust, lambda v: f"{amount(v)} shots"))


def _finding(values: Values, covers: float, even: float | None, free: bool, saved: float) -> str:
    volume = amount(values["planned_shots"])
    first = f"If the product returns, the life that is left covers {volume} shots in {100 * covers:.0f} of 100 futures."
    if not free:
        return f"A duty to keep it stands: it cannot be scrapped, whatever that costs. {first}"
    if even is None:
        at_any = "Keeping it is the cheaper" if saved > 0 else "Scrapping it is the cheaper"
        return f"{first} {at_any} at any chance of a return."
    side = "above" if saved > 0 else "below"
    return f"{first} Keeping it pays {side} a chance of a return of about {100 * even:.2g} %."


def _notes(stored: StoredTool, preserved: bool, usable: float, months: float, rust: float) -> tuple[str, ...]:
    until = f"until a return{' if it is preserved' if preserved else ''}"
    place = "its store" if stored.in_store else f"{stored.tool.plant_id or 'its plant'}, for it is in no store by the records"
    weeks = months * WEEKS_PER_MONTH
    return (
        f"Rust is that of {place}: some {amount(rust)} shots {until}, in {amount(weeks)} weeks on average. It is still good then in "
        f"{100 * usable:.0f} of 100 futures; else it gets a new cavity set.",
        *((f"{stored.tool.tool_id} is worn by the records.",) if stored.tool.worn else ()),
        f"The date of a return is lognormal about its median, {100 * DATE_LOG_SD:.0f} % up or down being usual, and not after the tool "
        "would be scrapped. What is left of a tool after the volume is worth nothing.",
    )


KEEP: Final = Decision(
    name="keep",
    question="Keep or scrap?",
    help="What a tool costs that is kept for a product that may return, and at which chance of a return that pays.",
    subject="stored tool",
    inputs=INPUTS,
    costs=costs_of,
    levers=levers_of,
    cautions=(
        "Caution, not advice: whose tool it is, whether a plant may hold it for unpaid bills (a lien), and what notice is due before it is "
        "scrapped, is not looked at here. Settle it first.",
    ),
)
