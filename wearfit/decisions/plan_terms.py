"""What the plan is told: prices, times and capacity, and when a worn surface is refurbished rather than cut anew."""

from typing import Final, Literal, get_args

import numpy as np

from wearfit import law
from wearfit.decisions.inputs import MONEY, PUBLISHED, RETOOL_WEEKS, Input, Values
from wearfit.decisions.renewal_walk import Terms, kept_age
from wearfit.decisions.service_class import USUAL_PRICE
from wearfit.errors import Refusal
from wearfit.forecasts.fleet_ahead import DAYS_PER_MONTH, FleetAhead, FleetBlock

Array = np.ndarray

Refurbish = Literal["none", "once", "when"]
POLICIES: Final[tuple[Refurbish, ...]] = get_args(Refurbish)
MOST_REFURBISHED: Final = 3  # of one cavity set in a row, common practice: 2-3 before a full retool
WEEKS_PER_MONTH: Final = DAYS_PER_MONTH / 7.0

INPUTS: Final = (
    Input(
        "replacement_cost", USUAL_PRICE, MONEY, "Price of a new tool", "Of tools for which no price is on record.",
        "judgement, within published ranges whose source is not at hand", low=1e-6,
    ),
    Input("refurbish_share", 0.12, "share", "Refurbishment, as a share of a new tool", "Where no price is on record: 0.05-0.15.",
          high=2.0, low=1e-6),
    Input("retool_share", 0.55, "share", "New cavity set, as a share of a new tool", "Typically 0.4-0.7.", high=2.0, low=1e-6),
    RETOOL_WEEKS,
    Input("refurbish_weeks", 3.0, "weeks", "Weeks of a refurbishment", "Weeks without the tool, transport included.", high=104.0),
    Input("cycle_time_s", 30.0, "s", "Cycle time", "Of tools for which none is on record.", low=0.5, high=86400.0),
    Input("uptime", 0.65, "share", "Uptime", "Share of the hours in which shots are made: typically 0.60-0.65, at best 0.85.", PUBLISHED,
          low=0.01, high=1.0),
    Input("hours_per_week", 168.0, "hours", "Working hours", "Hours a week in which the machines run.", low=1.0, high=168.0),
    Input("slack", 0.02, "share", "Shortage that counts", "A month is short where more than this share of it cannot be made.", high=0.99),
    Input(
        "gap_cost_share", 0.1, "share", "Week without parts, as a share of a new tool",
        "Margin lost and penalties; only the advice on copies rests on it.", high=100.0,
    ),
)  # fmt: skip


def policy_named(text: str) -> Refurbish:
    """A refurbish policy by its name.

    Raises
    ------
    Refusal
        Where there is none.
    """
    for policy in POLICIES:
        if policy == text:
            return policy
    raise Refusal(f"'{text}' is no refurbish policy.", "Give --refurbish none, once or when.", 2)


def prices_of(ahead: FleetAhead, values: Values) -> Array:
    """Price of a new tool in place of each, shape (tool,): on record, else as told."""
    return np.where(np.isnan(ahead.replacement_cost), values["replacement_cost"], ahead.replacement_cost)


def shots_per_month(ahead: FleetAhead, values: Values) -> Array:
    """Most shots that each tool can make in a month, shape (tool,): by its cycle, and no less than it made in a month of late."""
    cycle = np.where(np.isnan(ahead.cycle_time_s), values["cycle_time_s"], ahead.cycle_time_s)
    reckoned = 3600.0 * values["hours_per_week"] * WEEKS_PER_MONTH * values["uptime"] / cycle
    return np.maximum(reckoned, ahead.most_made)


def terms_of(ahead: FleetAhead, block: FleetBlock, values: Values, policy: Refurbish) -> Terms:
    """The terms on which a block is walked."""
    price, place = prices_of(ahead, values), block.place
    refurbish = np.where(np.isnan(ahead.refurbish_cost), values["refurbish_share"] * price, ahead.refurbish_cost)[place]
    retool = values["retool_share"] * price[place]
    most = {"none": np.zeros(len(place), dtype=np.int64), "once": np.ones(len(place), dtype=np.int64)}
    return Terms(
        shots_per_month=shots_per_month(ahead, values)[place],
        retool_cost=retool,
        refurbish_cost=refurbish,
        most_refurbished=most[policy] if policy in most else refurbishments_that_pay(block, retool, refurbish),
        due_months=ahead.due_months[place],
        retool_months=values["retool_weeks"] / WEEKS_PER_MONTH,
        refurbish_months=values["refurbish_weeks"] / WEEKS_PER_MONTH,
        lead_log_sd=ahead.lead_log_sd,
    )


def refurbishments_that_pay(block: FleetBlock, retool_cost: Array, refurbish_cost: Array) -> Array:
    """How many refurbishments in a row give more wear for the money than a new cavity set, on the mean of the draws, shape (tool,)."""
    samples, tools = np.arange(len(block.capacity))[:, None], range(len(block.place))

    def luck(turn: int) -> Array:
        return np.stack([block.luck(tool, turn).wear for tool in tools], axis=1)

    first = luck(0)
    fresh = law.wear_at(first, block.fresh_log_life, block.shape).mean(axis=0) / np.maximum(retool_cost, 1e-9)
    worn = law.wear_at(first, block.log_life, block.shape)
    pays, count = np.ones(len(fresh), dtype=bool), np.zeros(len(fresh), dtype=np.int64)
    for before in range(MOST_REFURBISHED):
        age = worn * kept_age(block, samples, before)
        reached = law.cumulative_hazard(age, block.log_life, block.shape) + luck(1 + before)
        worn = law.wear_at(reached, block.log_life, block.shape)
        pays &= (worn - age).mean(axis=0) / np.maximum(refurbish_cost, 1e-9) > fresh
        count += pays
    return count
