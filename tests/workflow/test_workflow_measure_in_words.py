"""Words of what to measure next."""

from typing import Any

import pytest

from wearfit.workflow.measure_in_words import (
    RECORDS,
    WHERE,
    best_in_words,
    by_urgency,
    inspect_in_words,
    months,
    narrows_in_words,
    shared_rows,
    summary,
)

AS_OF = "2026-06-30"


def record(kind: str = "reading", narrows: float | None = 12.0, now: float = 27.0) -> dict[str, Any]:
    then = None if narrows is None else now - narrows
    return {
        "record": kind,
        "of": "T-1",
        "feature": "flash_mm" if kind == "reading" else None,
        "range_months": then,
        "narrows_months": narrows,
    }


def tool(tool_id: str = "T-1", **given: Any) -> dict[str, Any]:
    usual = {"status": "running", "range_months": 27.0, "records": [record()], "inspect_by": "2026-09-14", "inspect_for": "wear"}
    return {"tool_id": tool_id, "plant_id": "north", "problem": None, **usual, **given}


def document(*tools: dict[str, Any], **given: Any) -> dict[str, Any]:
    return {"as_of": AS_OF, "tools": list(tools), "plants": [], "resins": [], "unnoticed": 0.05, "horizon_years": 10.0, **given}


CASES = {
    "a reading": ({}, ("a reading of flash_mm now", "27 → 15 months", "Sep 2026")),
    "a steel": ({"records": [record("steel", 20.5)]}, ("its cavity steel", "27 → 6.5 months", "Sep 2026")),
    "next to nothing": ({"records": [record(narrows=0.4)]}, ("nothing that would help much", "27 months", "Sep 2026")),
    "now": ({"inspect_by": AS_OF}, ("a reading of flash_mm now", "27 → 15 months", "now")),
    "far": ({"inspect_by": None, "range_months": 0.0, "records": []}, ("nothing that would help much", "past 10 years", "past 10 years")),
    "stored": ({"status": "stored"}, ("a reading of flash_mm now", "27 → 15 months", "before it runs")),
    "held": ({"status": "held", "range_months": None, "records": [], "inspect_by": None}, ("held: must not run", "", "")),
    "worn": ({"status": "worn", "range_months": None, "records": [], "inspect_by": None}, ("worn out", "", "")),
    "dark": (
        {"range_months": None, "records": [record("opening", None)], "inspect_by": None},
        ("its shots before its records", "no date yet", ""),
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_tool_in_words(case: str) -> None:
    given, wanted = CASES[case]
    one = tool(**given)
    assert (best_in_words(one), narrows_in_words(one, 10.0), inspect_in_words(one, AS_OF, 10.0)) == wanted


def test_every_record_says_where_it_goes() -> None:
    assert RECORDS.keys() == WHERE.keys()


def test_the_order_is_that_of_the_days_and_what_stands_still_comes_last() -> None:
    tools = [
        tool("held", status="held", range_months=None, records=[], inspect_by=None),
        tool("none", inspect_by=None), tool("stored", status="stored"),
        tool("late", inspect_by="2027-01-01"), tool("less", inspect_by=AS_OF, records=[record(narrows=1.0)]), tool("now", inspect_by=AS_OF),
    ]  # fmt: skip
    assert [t["tool_id"] for t in by_urgency(tools)] == ["now", "less", "late", "none", "stored", "held"]


def test_the_summary_counts_tools_by_when_and_records_by_how_often() -> None:
    tools = [
        tool(inspect_by=AS_OF), tool(inspect_by="2026-12-01"), tool(inspect_by="2027-06-30"), tool(inspect_by="2027-07-01"),
        tool(inspect_by=None, records=[record("steel")]), tool(status="stored"), tool(status="worn", records=[], range_months=None),
    ]  # fmt: skip
    first, second = summary(document(*tools))
    assert first == "Of 5 tools that may run, 1 is to be looked at now, 2 more within 12 months, and 2 not before Jun 2027."
    assert second == "What would narrow the wear-out date most: a reading of a feature now for 5; its cavity steel for 1."
    assert summary(document()) == []


def test_records_that_tools_share() -> None:
    shared = document(
        plants=[{"record": "coolant", "of": "north", "tools": 3, "narrows_months": 14.2}],
        resins=[{"record": "description", "of": "abs", "tools": 1, "narrows_months": 0.25}],
    )
    assert shared_rows(shared) == [
        ("the coolant temperature at north", "3 tools", "14 months in all"),
        ("what abs is: filler, corrosive or not", "1 tool", "0.2 months in all"),
    ]


@pytest.mark.parametrize(("n", "said"), [(0.04, "0.0"), (9.94, "9.9"), (9.96, "10"), (112.6, "113")])
def test_months_are_no_finer_than_they_are_known(n: float, said: str) -> None:
    assert months(n) == said
