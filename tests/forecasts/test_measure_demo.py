"""The demo: what its scenario leaves open of its tools is what they are told to lack."""

import csv
from pathlib import Path

import numpy as np
import pytest

from wearfit.calibration import Calibration
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.measure import ToMeasure, what_to_measure

DEMO = Path(__file__).parents[2] / "data" / "demo"
SEVERAL_STEELS = ("102", "103", "104", "105")  # a 101 tool that ran no corrosive resin wears alike in either of its two


@pytest.fixture(scope="module")
def found(demo_calibration: Calibration) -> ToMeasure:
    return what_to_measure(demo_calibration)


@pytest.fixture(scope="module")
def rows() -> dict[str, dict[str, str]]:
    with (DEMO / "tools.csv").open(encoding="utf-8") as file:
        return {row["tool_id"]: row for row in csv.DictReader(file)}


def lacking(found: ToMeasure, record: str) -> set[str]:
    return {tool["tool_id"] for tool in found.tools for r in tool["records"] if r["record"] == record}


def dated(found: ToMeasure) -> set[str]:
    return {tool["tool_id"] for tool in found.tools if tool["range_months"]}


def test_the_tools_without_a_steel_are_told_so(found: ToMeasure, rows: dict[str, dict[str, str]], demo_calibration: Calibration) -> None:
    """But where the tool's own history leaves next to no doubt of it."""
    blank = {t for t, row in rows.items() if not row["cavity_steel"] and not row["hardness_hrc"] and row["service_class"] in SEVERAL_STEELS}
    assert len(blank & dated(found)) > 10
    assert lacking(found, "steel") <= blank & dated(found)
    live, sure = demo_calibration.live, (blank & dated(found)) - lacking(found, "steel")
    names = [str(demo_calibration.levels.tool[t]) for t in live.tool]
    assert len(sure) <= 2
    assert all(abs(live.moved_by_steel[names.index(tool)]) < 0.01 for tool in sure)


def test_the_tools_without_a_class_are_told_so(found: ToMeasure, rows: dict[str, dict[str, str]]) -> None:
    blank = {t for t, row in rows.items() if not (row["service_class"] or row["band_low"] or row["band_high"])}
    assert lacking(found, "class") == blank & dated(found) != set()


def test_the_tools_whose_past_is_not_on_record_are_told_so(found: ToMeasure, rows: dict[str, dict[str, str]]) -> None:
    with (DEMO / "runs.csv").open(encoding="utf-8") as file:
        first: dict[str, str] = {}
        for run in csv.DictReader(file):
            first[run["tool_id"]] = min(first.get(run["tool_id"], "9"), run["started_on"])

    def is_open(tool: str, row: dict[str, str]) -> bool:
        waited = (np.datetime64(first[tool]) - np.datetime64(row["commissioned_on"])).astype(int) > 60
        return row["history_from"] > first[tool] or (waited and not row["opening_shots"] and not row["opening_life_shots"])

    past = {tool for tool, row in rows.items() if tool in first and is_open(tool, row)}
    assert lacking(found, "opening") == past & dated(found) != set()


def test_only_tools_whose_use_nobody_states_lack_it(found: ToMeasure, rows: dict[str, dict[str, str]]) -> None:
    assert lacking(found, "use") <= {tool for tool, row in rows.items() if not row["shots_per_month"]}


def test_no_record_widens_a_range_and_the_best_one_is_first(found: ToMeasure) -> None:
    for tool in found.tools:
        gains = [record["narrows_months"] for record in tool["records"]]
        assert gains == sorted(gains, reverse=True)
        assert all(0.0 <= gain <= tool["range_months"] for gain in gains)
        assert all(r["range_months"] + r["narrows_months"] == pytest.approx(tool["range_months"]) for r in tool["records"])


def test_dates_and_order_days_are_those_of_the_forecast(found: ToMeasure, demo_calibration: Calibration) -> None:
    for told, forecast in zip(found.tools, forecast_fleet(demo_calibration).tools, strict=True):
        assert told["tool_id"] == forecast["tool_id"]
        if told["range_months"] is not None:
            assert told["wear_out_on"] == forecast["wear_out_on"]
            if forecast["overdue"] and not forecast["replacement_due_on"]:
                assert told["inspect_by"] == found.as_of.isoformat()
            elif told["inspect_for"] == "order":
                assert told["inspect_by"] <= forecast["order_by"]
