"""Sheets whose names say that they hold no history: told and not read, unless they are chosen."""

import pytest
from grids import AS_IT_STANDS, grid

from wearfit.records.choices import Choices
from wearfit.records.sheets.locate import locate
from wearfit.records.sheets.naming import naming_of

TOOLS = "tool_id|commissioned_on\nT1|2020-01-01"
RUNS = "tool_id|plant_id|resin_id|started_on|ended_on|shots\nT1|Heath|R1|2020-01-10|2020-01-19|1000"
PLAN = "month|tool_id|shots\n2027-01|T1|5000"
EVENTS = "tool_id|date|event\nT1|2020-01-01|worn"

NO_HISTORY = ("Production plan", "Forecast 2027", "plan 2027", "Planned runs", "Budget", "Summary", "runs summary", "Totals by year")
NOT_AT_ALL = ("Template", "Old - do not use", "Don't use", "Draft", "backup 2024")


@pytest.mark.parametrize("name", NO_HISTORY + NOT_AT_ALL)
def test_run_like_columns_under_such_a_name_are_told_and_not_read(name: str):
    (region,), (finding,) = locate([grid("tools", TOOLS), grid(name, RUNS)], AS_IT_STANDS)
    assert region.table.name == "tools"
    assert finding.problem.startswith(f"{name}.csv was not read as runs, for its name says '")
    assert finding.severity == "note" and '= "runs"' in finding.repair
    regions, findings = locate([grid("tools", TOOLS), grid(name, RUNS)], Choices(tables={name: "runs"}))
    assert [each.table.name for each in regions] == ["tools", "runs"] and findings == ()


@pytest.mark.parametrize("name", NO_HISTORY)
def test_columns_of_a_plan_or_of_tools_under_such_a_name_are_read(name: str):
    for text, table in ((PLAN, "plan"), (TOOLS, "tools")):
        (region,), _ = locate([grid(name, text)], AS_IT_STANDS)
        assert region.table.name == table


@pytest.mark.parametrize(
    "name", ["Planned maintenance log", "Maintenance", "Production history", "Old runs", "Test results", "Actual vs plan log"]
)
def test_names_of_what_was_done_are_read(name: str):
    for text, table in ((RUNS, "runs"), (EVENTS, "events")):
        (region,), _ = locate([grid(name, text)], AS_IT_STANDS)
        assert region.table.name == table
    assert naming_of(grid(name, RUNS), AS_IT_STANDS).no_history == ""


def test_of_a_budget_with_tools_and_runs_the_tools_are_read():
    (region,), findings = locate([grid("Budget", f"{TOOLS}\n\n{RUNS}")], AS_IT_STANDS)
    assert region.table.name == "tools"
    assert ["was not read as runs" in finding.problem for finding in findings] == [True, False]
