"""Cycle times typed in minutes: whole columns, and single ones among others."""

import numpy as np
import pytest
from fleets import Cells, about, fleet, records_of, run, tool
from grids import AS_IT_STANDS, grid, only

from wearfit.records.sheets.locate import locate


def _tools(header: str, *times: str) -> str:
    return "\n".join([f"tool_id|commissioned_on|{header}", *(f"T{at}|2020-01-01|{time}" for at, time in enumerate(times))])


@pytest.mark.parametrize("times", [("0.3", "0.45", "1.5"), ("0.4",), ("0,5", "0,75"), ("0.5", "1.2", "1.4", "2.5"), ("0.4", "")])
@pytest.mark.parametrize("header", ["Cycle time", "cycle_time_s"])
def test_a_column_of_minutes_is_turned_into_seconds(header: str, times: tuple[str, ...]):
    (region,), findings = locate([grid("tools", _tools(header, *times))], AS_IT_STANDS)
    assert region.conversions["cycle_time_s"].factor == 60
    (finding,) = about(findings, "tools", "cycle_time_s")
    assert finding.severity == "repaired" and "read as minutes" in finding.problem


@pytest.mark.parametrize("times", [("25", "31", "0.5"), ("1.9", "2.4"), ("0.5", "5"), ("", ""), ("n/a",), ("3", "4")])
def test_other_columns_stay(times: tuple[str, ...]):
    assert not only(grid("tools", _tools("Cycle time", *times))).conversions


def test_a_header_that_says_its_unit_is_believed_to_say_it():
    region = only(grid("tools", _tools("Cycle time (min)", "0.4", "0.5")))
    assert region.conversions["cycle_time_s"].unit == "min"


def test_a_single_time_in_minutes_is_told_by_the_others_of_its_tool():
    runs = [run("2020-01-10", "2020-01-19", cycle_time_s="50"), run("2020-02-10", "2020-02-19", cycle_time_s="0.8")]
    records = records_of(fleet(runs=runs))
    assert records.tables["runs"]["cycle_time_s"].tolist() == [50, 48]
    (finding,) = about(records.findings, "runs", "cycle_time_s")
    assert (finding.row, finding.value, finding.severity) == (3, "0.8", "repaired") and "minutes, 48 s" in finding.problem


@pytest.mark.parametrize("other", ["25", ""])
def test_a_time_that_is_too_short_in_any_unit_is_blanked(other: str):
    runs: list[Cells] = [run("2020-01-10", "2020-01-19", cycle_time_s=other), run("2020-02-10", "2020-02-19", cycle_time_s="1.2")]
    records = records_of(fleet(tools=[tool()], runs=runs))
    assert np.isnan(records.tables["runs"]["cycle_time_s"].iloc[1])
    (finding,) = about(records.findings, "runs", "cycle_time_s")
    assert finding.severity == "repaired" and "taken as blank" in finding.problem


def test_quick_moulds_are_left_alone():
    records = records_of(fleet(runs=[run("2020-01-10", "2020-01-19", cycle_time_s="1.8")]))
    assert records.tables["runs"]["cycle_time_s"].tolist() == [1.8]
    assert about(records.findings, "runs", "cycle_time_s") == []
