"""The plan as its answer is written: quantiles, the tools behind each figure, order days and copies, each with its reason."""

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from wearfit.decisions.inputs import Values
from wearfit.decisions.money import amount
from wearfit.decisions.plan import NEVER, Plan
from wearfit.decisions.plan_terms import WEEKS_PER_MONTH, Refurbish
from wearfit.forecasts.quantiles import as_numbers, date_ahead, weighted_quantiles

Array = np.ndarray

BEHIND: Final = 0.05  # expected renewals of a tool in a quarter from which it is named behind the quarter's spend; judgement
FURTHEST: Final = 3652.0  # [day] later ends are not dated


def answer_of(plan: Plan, values: Values, policy: Refurbish, tolerance: float) -> dict[str, Any]:
    """The answer.

    Parameters
    ----------
    tolerance : float
        Accepted chance: of no usable tool before an ordered replacement arrives, and of a short month.
    """
    starts = plan.ahead.month_starts[: plan.ahead.months]
    total = _quantiles(plan.cost.sum(axis=1, keepdims=True))[:, 0]
    return {
        "months": plan.ahead.months,
        "first_month": f"{starts[0]:%Y-%m}",
        "last_month": f"{starts[-1]:%Y-%m}",
        "refurbish": policy,
        "tolerance": tolerance,
        "inputs": [known.as_json() for known in values.known],
        "designs": _designs(plan),
        "spend": _spend(plan),
        "spend_in_all": {"cost": as_numbers(total), **_ranges(plan.cost.sum(axis=1))},
        "shortage": _shortage(plan, starts, tolerance),
        "orders": orders_of(plan),
        "copies_advised": copies_of(plan, values, tolerance),
        "left_out": list(plan.ahead.unknown),
        "notes": list(_notes(plan)),
    }


def _quantiles(columns: Array) -> Array:
    return weighted_quantiles(columns, np.ones((len(columns), 1)))


def _ranges(values: Array) -> dict[str, Any]:
    """Mean, and the ranges that hold 80 and 95 of 100 draws."""
    ends = weighted_quantiles(values[:, None], np.ones((len(values), 1)), (0.025, 0.1, 0.9, 0.975))[:, 0].tolist()
    return {"expected": float(values.mean()), "range_80": ends[1:3], "range_95": [ends[0], ends[3]]}


def _designs(plan: Plan) -> list[dict[str, Any]]:
    renewals = _quantiles(plan.renewals)
    shares = [np.bincount(column.astype(np.int64)) / len(column) for column in plan.renewals.T]
    return [
        {
            "design_id": name,
            "tools": [plan.ahead.tool_id[t] for t in plan.copies[i]],
            "renewals": as_numbers(renewals[:, i]),
            "p_renewals": shares[i].tolist(),
            "expected_renewals": float(plan.renewals[:, i].mean()),
            "expected_refurbishments": float(plan.refurbished[i]),
            "p_shortage": float(plan.p_design_short[i]),
            "months_short": float(plan.months_short[i]),
            "shots_asked": float(plan.asked[:, i].sum()),
            "shots_short": float((plan.asked[:, i] - plan.made[:, i]).sum()),
        }
        for i, name in enumerate(plan.designs)
    ]


def _spend(plan: Plan) -> list[dict[str, Any]]:
    costs = _quantiles(plan.cost)
    return [
        {
            "quarter": quarter,
            "cost": as_numbers(costs[:, q]),
            **_ranges(plan.cost[:, q]),
            "tools": [plan.ahead.tool_id[t] for t in _behind(plan, q)],
            "behind": [
                {"tool_id": plan.ahead.tool_id[t], "expected_cost": float(plan.tool_cost[q, t]),
                 "expected_renewals": float(plan.tool_renews[q, t])}
                for t in _behind(plan, q)
            ],
        }
        for q, quarter in enumerate(plan.quarters)
    ]  # fmt: skip


def _behind(plan: Plan, quarter: int) -> list[int]:
    """Tools behind a quarter's spend, the costliest first."""
    cost, renews = plan.tool_cost[quarter], plan.tool_renews[quarter]
    named = np.flatnonzero((renews >= BEHIND) & (cost > 0))
    return [int(t) for t in named[np.argsort(-cost[named], kind="stable")]]


def _shortage(plan: Plan, starts: Sequence[dt.date], tolerance: float) -> list[dict[str, Any]]:
    answers = []
    for m, day in enumerate(starts):
        at_risk = [i for i in np.argsort(-plan.p_short[m], kind="stable").tolist() if plan.p_short[m, i] > tolerance]
        asked, made = plan.asked[m].sum(), plan.made[m].sum()
        answers.append({
            "month": f"{day:%Y-%m}",
            "p": float(plan.p_any_short[m]),
            "share_short": float(1.0 - made / asked) if asked > 0 else 0.0,
            "designs": [{"design_id": plan.designs[i], "p": float(plan.p_short[m, i])} for i in at_risk],
        })  # fmt: skip
    return answers


def orders_of(plan: Plan) -> list[dict[str, Any]]:
    """By when to order for each tool whose order day lies within the months, the soonest first."""
    ahead = plan.ahead
    span = (*ahead.month_starts, ahead.ends)[ahead.months] - ahead.month_starts[0]
    answers = []
    for t, tool in enumerate(ahead.tool_id):
        if not np.isnan(ahead.due_months[t]) or ahead.status[t] == "held" or plan.order_in[t] > span.days:
            continue
        late = float(plan.late[t])
        overdue = bool(plan.order_in[t] < 0)
        early, likely = (date_ahead(days, ahead.as_of, FURTHEST) for days in plan.ends_in[:, t])
        answers.append({
            "tool_id": tool,
            "order_by": ahead.as_of.isoformat() if overdue else date_ahead(float(np.floor(plan.order_in[t])), ahead.as_of, NEVER),
            "reason": _reason(ahead.status[t] == "worn", overdue, late, early, likely, float(ahead.lead_weeks[t])),
            "overdue": overdue,
            "design_id": ahead.design_id[t],
            "ends_early": early,
            "ends_likely": likely,
            "lead_time_weeks": float(ahead.lead_weeks[t]),
            "p_late_if_ordered_today": late,
        })  # fmt: skip
    return sorted(answers, key=lambda order: (str(order["order_by"]), not order["overdue"], str(order["tool_id"])))


def _reason(worn: bool, overdue: bool, late: float, early: str | None, likely: str | None, lead_weeks: float) -> str:
    lead = f"lead time {lead_weeks:.3g} weeks"
    if worn:
        return f"it is worn by the records; {lead}"
    half = f", half by {likely}" if likely else ""
    today = f"overdue: ordered today it still comes too late in {100 * late:.0f} of 100 futures; " if overdue else ""
    return f"{today}1 in 10 such tools has ended by {early}{half}; {lead}"


def copies_of(plan: Plan, values: Values, tolerance: float) -> list[dict[str, Any]]:
    """Designs that lack capacity even where every tool runs, and those whose weeks without parts cost more than a copy would."""
    answers = []
    for i, name in enumerate(plan.designs):
        own = np.array(plan.copies[i])
        if plan.p_design_short[i] <= tolerance:
            continue
        ready = own[plan.ahead.status[own] != "held"]
        peak, most = float(plan.asked[:, i].max()), float(plan.shots_per_month[own].sum())
        needed = int(np.ceil(peak / most * len(own) - 1e-9))
        price = float(np.median(plan.price[own]))
        lost = float(plan.months_short[i]) * WEEKS_PER_MONTH * values["gap_cost_share"] * price
        if peak > most:
            why = f"its busiest month asks for {amount(peak)} shots, and its tools make {amount(most)} at most"
            copies = max(needed, len(own) + 1)
        elif not len(ready):
            why = "every tool of it is held and makes nothing until it is released; a copy, or a release, brings its parts back"
            copies = len(own) + 1
        elif lost > price:
            why = (
                f"{plan.months_short[i]:.1f} months short on average: {amount(lost)} for lost weeks against {amount(price)} for one more "
                "tool; a cavity set made ahead of the stop may do as well"
            )
            copies = len(own) + 1
        else:
            continue
        answers.append({"design_id": name, "copies": copies, "why": why, "copies_now": len(own)})
    return answers


def _notes(plan: Plan) -> tuple[str, ...]:
    held = [t for t, status in zip(plan.ahead.tool_id, plan.ahead.status, strict=True) if status == "held"]
    due = [t for t, months in zip(plan.ahead.tool_id, plan.ahead.due_months, strict=True) if not np.isnan(months)]
    late = [t for t, months in zip(plan.ahead.tool_id, plan.ahead.due_months, strict=True) if months == 0]
    return (
        "Nothing is ordered ahead here: a tool that wears out is renewed then and is away for so long; the order days say how to avoid "
        "the gap. A sudden stop takes a new cavity set.",
        "What is not made in its month is not made up for later, and no stock is counted.",
        *((f"Held, so it makes nothing: {', '.join(held)}.",) if held else ()),
        *((f"A replacement is on order and takes over when the old tool ends; its price is spent: {', '.join(due)}.",) if due else ()),
        *((f"Due today or overdue, and taken to be there from today on: {', '.join(late)}.",) if late else ()),
        *((f"Left out, for nothing tells its age: {', '.join(plan.ahead.unknown)}.",) if plan.ahead.unknown else ()),
    )
