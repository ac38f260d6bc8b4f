"""The order day of a live tool: against a path-by-path reckoning, closed forms and limiting cases."""

import numpy as np
import pytest
from known_draws import WEEKS_PER_MONTH, known_tool

from wearfit.decisions.decision import decide
from wearfit.decisions.inputs import fill
from wearfit.decisions.replace import REPLACE, costs_of
from wearfit.errors import Refusal

BARE = {"discount_rate": 0.0, "stop_cost": 0.0, "gap_cost_per_week": 0.0, "swap_cost": 0.0, "holding_cost_per_week": 0.0}


def values_of(tool, **given: float):
    return fill(REPLACE.inputs, tool.on_record, given)


def by_hand(tool, v, weeks: float, swaps: bool, s: int, f: int) -> float:
    """Cost of one path, told as a story."""
    end = v["months_ahead"] * WEEKS_PER_MONTH
    a_week = v["shots_per_month"] / WEEKS_PER_MONTH
    stops = min(tool.shots_to_wear[s, f], tool.shots_to_sudden[s, f]) / a_week

    def paid(money: float, week: float) -> float:
        return money / (1.0 + v["discount_rate"]) ** (week / WEEKS_PER_MONTH / 12.0) if week < end else 0.0

    order = min(weeks, stops)
    arrives = (
        order + v["lead_time_weeks"] * np.exp(tool.lead_log_sd * tool.luck.normal("lead")[s, f]) + v["freight_weeks"] + v["shutdown_weeks"]
    )
    total = paid(v["replacement_cost"], order)
    if stops < arrives:
        total += paid(v["stop_cost"], stops) + paid(v["gap_cost_per_week"] * (min(arrives, end) - stops), stops)
        now = arrives
    elif swaps:
        total += paid(v["swap_cost"], arrives)
        now = arrives
    else:
        total += paid(v["holding_cost_per_week"] * (min(stops, end) - arrives), arrives) + paid(v["stop_cost"], stops)
        now = stops
    turn = 1
    while True:
        now += tool.sister.shots_to_end(turn)[s, f] / a_week
        if now >= end:
            return total
        total += paid(v["replacement_cost"] + v["stop_cost"], now)
        turn += 1


def test_each_path_costs_what_its_story_costs():
    tool = known_tool(age=700.0, sudden=3e-4, lead_log_sd=0.4, samples=12, futures=10)
    v = values_of(
        tool, months_ahead=30.0, lead_time_weeks=12.0, freight_weeks=5.0, stop_cost=300.0, gap_cost_per_week=90.0, swap_cost=20.0,
        holding_cost_per_week=2.0, discount_rate=0.1,
    )  # fmt: skip
    costs = costs_of(tool, v)
    cost = dict(zip(costs.known_as, costs.cost, strict=True))
    for s in range(12):
        for f in range(10):
            for weeks in (0, 8, 26, 78):
                assert cost[f"keep {weeks}"][s, f] == pytest.approx(by_hand(tool, v, weeks, False, s, f))
            assert cost["late"][s, f] == pytest.approx(by_hand(tool, v, np.inf, False, s, f))
    swaps = {
        weeks: np.mean([[by_hand(tool, v, weeks, True, s, f) for f in range(10)] for s in range(12)]) for weeks in (0, 13, 26, 52, 78, 104)
    }
    assert cost["swap"].mean() == pytest.approx(min(swaps.values()))


def test_where_waiting_costs_nothing_it_waits():
    tool = known_tool(age=100.0)
    outcome = decide(REPLACE, tool, {**BARE, "discount_rate": 0.1})
    assert outcome.best == "order when it stops"


def test_where_a_gap_costs_a_fortune_it_orders_now():
    tool = known_tool(age=800.0)
    assert decide(REPLACE, tool, {**BARE, "gap_cost_per_week": 1e6}).best == "order now"
    assert (
        decide(REPLACE, tool, {**BARE, "stop_cost": 1e6, "months_ahead": 2.0, "lead_time_weeks": 0.1}).best
        == "order now and swap on arrival"
    )


@pytest.mark.parametrize("name", ["stop_cost", "gap_cost_per_week", "holding_cost_per_week", "swap_cost", "replacement_cost"])
def test_no_cost_falls_where_a_price_rises(name: str):
    tool = known_tool(age=700.0, lead_log_sd=0.3, samples=100)
    low, high = (costs_of(tool, values_of(tool).with_value(name, value)) for value in (10.0, 100.0))
    rises = {k: c for k, c in zip(high.known_as, high.cost - low.cost, strict=True) if k != "swap"}  # its order day may be another
    assert all((rise >= -1e-9).all() for rise in rises.values())


def test_the_gap_of_an_order_on_the_day_it_stops_is_the_lead_time():
    tool = known_tool(age=900.0, samples=50)
    v = values_of(tool, **{**BARE, "gap_cost_per_week": 10.0, "replacement_cost": 0.0, "months_ahead": 400.0, "lead_time_weeks": 7.0})
    costs = costs_of(tool, v)
    assert costs.cost[costs.known_as.index("late")] == pytest.approx(np.full((50, 40), 70.0))


def test_a_replacement_on_order_counts():
    outcome = decide(REPLACE, known_tool(due_weeks=4.0), {})
    assert [a.action for a in outcome.actions] == [
        "swap when the replacement comes, on 2026-07-28", "keep the replacement of 2026-07-28 until the old tool stops",
    ]  # fmt: skip
    ordered = decide(REPLACE, known_tool(), {"lead_time_weeks": 4.0})
    saved = next(a for a in ordered.actions if a.action == "order now").expected_cost - outcome.actions[1].expected_cost
    assert saved == pytest.approx(1000.0)  # its price is spent


def test_a_worn_tool_is_ordered_for_now():
    assert [a.action for a in decide(REPLACE, known_tool(status="worn"), {}).actions] == ["order now"]
    due = decide(REPLACE, known_tool(status="worn", due_weeks=1.0), {})
    assert [a.action for a in due.actions] == ["put the replacement in when it comes, on 2026-07-07"]


@pytest.mark.parametrize("status", ["running", "worn"])
def test_a_replacement_past_its_due_day_is_said_to_be_taken_to_come_today(status: str):
    late, ahead = (decide(REPLACE, known_tool(status=status, due_weeks=weeks), {}) for weeks in (0.0, 1.0))
    assert "It is due today or overdue, and taken to come today." in str(late.as_json())
    assert "overdue" not in str(ahead.as_json())


def test_more_use_brings_the_stop_nearer_in_proportion():
    tool = known_tool(use=100.0)
    wear, sudden = tool.weeks_to_end(200.0)
    assert wear == pytest.approx(tool.weeks_to_wear / 2.0)
    assert sudden == pytest.approx(tool.weeks_to_sudden / 2.0)


def test_without_use_it_asks_for_it():
    tool = known_tool()
    with pytest.raises(Refusal, match=r"Use is not on record\. Give it with --shots-per-month"):
        decide(REPLACE, type(tool)(**{**vars(tool), "on_record": {"replacement_cost": 1000.0}}), {})
