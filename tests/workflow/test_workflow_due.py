"""What needs a decision: which tools, in which order, with which number."""

import datetime as dt
from typing import Any

import pytest

from wearfit.workflow.due import KINDS, MEANINGS, decisions_due, order_in_words, summary, wear_out_in_words

DAY = dt.date(2026, 6, 30)


def tool(tool_id: str, **changed: Any) -> dict[str, Any]:
    """A tool of a forecast that needs nothing."""
    return {
        "tool_id": tool_id, "design_id": "cup", "plant_id": "north", "status": "running", "replacement_due_on": None, "overdue": False,
        "order_by": "2030-01-01", "gap_risk_if_ordered_today": 0.01, "p_within_12_months": 0.02, "lead_time_weeks": 14.2, "problem": None,
        "noted": [],
        "wear_out_on": {"p10": "2030-06-01", "p50": "2032-06-01", "p90": "2034-06-01"},
    } | changed  # fmt: skip


def test_tools_come_in_the_order_of_what_is_most_urgent() -> None:
    tools = [
        tool("A"),
        tool("B", order_by="2026-08-29"),
        tool("C", order_by="2026-08-30"),  # a day more than 60 days ahead
        tool("D", order_by="2026-06-30", overdue=True, gap_risk_if_ordered_today=0.2),
        tool("E", order_by="2026-06-30", overdue=True, gap_risk_if_ordered_today=0.5),
        tool("F", status="worn", order_by="2026-06-30", overdue=True, gap_risk_if_ordered_today=1.0, replacement_due_on="2026-07-08"),
        tool("G", status="worn", order_by="2026-06-30", overdue=True, gap_risk_if_ordered_today=1.0),
        tool("H", status="held", order_by="2026-06-30", overdue=True, replacement_due_on="2026-07-01"),
        tool("I", order_by="2026-06-30", overdue=True, replacement_due_on="2026-09-01"),
        tool("J", replacement_due_on="2026-09-01"),
    ]
    due = decisions_due(tools, DAY)
    assert [(d.kind, d.tool_id, d.number) for d in due] == [
        ("held", "H", "STOP"),
        ("worn", "G", "none on order"),
        ("worn", "F", "8 Jul 2026"),
        ("overdue", "E", "about 1 in 2"),
        ("overdue", "D", "about 1 in 5"),
        ("soon", "B", "29 Aug 2026"),
        ("on_order", "I", "1 Sep 2026"),
    ]
    assert all(d.where == "cup at north" for d in due)
    assert set(MEANINGS) == set(KINDS)
    assert summary(due, 10) == "Of 10 live tools, 1 is held, 2 are worn out, 2 have an order day that is past and 1 has one within 60 days."


def test_a_quiet_fleet_is_told_in_a_sentence() -> None:
    assert summary(decisions_due([tool("A")], DAY), 1) == "Of one live tool, none needs a decision within 60 days."


def test_a_tool_whose_age_is_unknown_is_no_decision() -> None:
    nothing = dict.fromkeys(("p10", "p50", "p90"))
    unknown = tool("A", p_within_12_months=None, order_by=None, wear_out_on=nothing, problem="It has no recorded run.")
    assert decisions_due([unknown], DAY) == ()
    assert order_in_words(unknown, 10.0, DAY) == "not known"
    assert wear_out_in_words(unknown, 10.0, DAY) == "It has no recorded run."


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (("2027-01-15", "2028-03-01", "2031-12-31"), "likely Mar 2028; 8 in 10: Jan 2027 to Dec 2031"),
        (("2027-01-15", "2028-03-01", None), "likely Mar 2028; 9 in 10: Jan 2027 or later"),
        (("2027-01-15", None, None), "likely after 2036; 9 in 10: Jan 2027 or later"),
        ((None, None, None), "likely after 2036"),
    ],
)
def test_days_past_the_horizon_are_told_as_such(days: tuple[str | None, ...], words: str) -> None:
    asked = tool("A", wear_out_on=dict(zip(("p10", "p50", "p90"), days, strict=True)))
    assert wear_out_in_words(asked, 10.0, DAY) == words


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"status": "held"}, "STOP: held"),
        ({"status": "worn"}, "worn out"),
        ({"overdue": True, "order_by": "2026-06-30"}, "order now"),
        ({"overdue": True, "order_by": "2026-06-30", "replacement_due_on": "2026-09-01"}, "replacement due 1 Sep 2026"),
        ({"replacement_due_on": "2026-06-30"}, "replacement due 30 Jun 2026"),
        ({"replacement_due_on": "2026-06-29"}, "replacement overdue since 29 Jun 2026"),
        ({}, "order by 1 Jan 2030"),
        ({"order_by": None}, "no order within 10 years"),
    ],
)
def test_what_is_to_be_done_is_said_in_a_few_words(changed: dict[str, Any], words: str) -> None:
    assert order_in_words(tool("A", **changed), 10.0, DAY) == words


def test_a_replacement_past_its_due_day_is_overdue_wherever_it_is_told() -> None:
    late = {"replacement_due_on": "2026-06-01", "order_by": "2026-06-30", "overdue": True}
    worn, running = tool("A", status="worn", **late), tool("B", **late)
    assert [(d.kind, d.number) for d in decisions_due([worn, running], DAY)] == [
        ("worn", "overdue since 1 Jun 2026"), ("on_order", "overdue since 1 Jun 2026"),
    ]  # fmt: skip
    assert wear_out_in_words(worn, 10.0, DAY) == "replacement overdue since 1 Jun 2026"


FLASH = {"date": "2026-04-20", "look_before_running": True, "note": "sharp flash growing at cavity 2"}


def test_a_tool_to_be_looked_at_is_told_beside_what_else_is_due_of_it() -> None:
    late = {"order_by": "2026-06-30", "overdue": True, "gap_risk_if_ordered_today": 0.5}
    harmless = {"date": "2026-05-01", "look_before_running": False, "note": "burn marks"}
    due = decisions_due([tool("A", **late, noted=[FLASH | {"date": "2026-03-01"}, FLASH, harmless]), tool("B", noted=[harmless])], DAY)
    assert [(d.kind, d.tool_id, d.number) for d in due] == [("look", "A", "20 Apr 2026"), ("overdue", "A", "about 1 in 2")]
    assert due[0].more == "\u2018sharp flash growing at cavity 2\u2019"
    assert summary(due, 2) == "Of 2 live tools, 1 is to be looked at before the next run and 1 has an order day that is past."


@pytest.mark.parametrize("status", ["held", "worn"])
def test_a_tool_that_does_not_run_is_not_to_be_looked_at_first(status: str) -> None:
    assert [d.kind for d in decisions_due([tool("A", status=status, noted=[FLASH])], DAY)] == [status]
