"""What must hold of every forecast, on the demo's calibration."""

import datetime as dt
import json
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from wearfit.calibration import Calibration
from wearfit.forecasts import in_pieces
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.next_run import answer_runs
from wearfit.forecasts.quantiles import NAMES
from wearfit.forecasts.run_question import RunQuestion

STATUSES = {"running", "idle", "stored", "worn", "held", "no_runs"}
HALF_A_YEAR = dt.timedelta(days=184)


@pytest.fixture(scope="module")
def tools(demo_calibration: Calibration) -> list[dict[str, Any]]:
    return forecast_fleet(demo_calibration).as_json()["tools"]


@pytest.fixture(scope="module")
def as_of(demo_calibration: Calibration) -> dt.date:
    return dt.date.fromisoformat(demo_calibration.identity.as_of)


def questions(calibration: Calibration, shots: int, month: str | None = None) -> list[RunQuestion]:
    """One run for each live tool, where and in what it last ran."""
    live, levels = calibration.live, calibration.levels
    return [
        RunQuestion(
            str(levels.tool[tool]),
            str(levels.plant[plant]),
            str(levels.resin[np.argmax(mix)]),
            month or calibration.identity.as_of[:7],
            shots,
        )
        for tool, plant, mix in zip(live.tool, live.plant, live.resin_share, strict=True)
    ]


@pytest.fixture(scope="module")
def runs(demo_calibration: Calibration) -> list[dict[str, Any]]:
    answers = answer_runs(demo_calibration, questions(demo_calibration, 20_000)).as_json()["runs"]
    return [answer for answer in answers if answer["problem"] is None]


def test_every_number_is_finite_or_null(tools: list[dict[str, Any]], runs: list[dict[str, Any]]):
    assert json.loads(json.dumps({"tools": tools, "runs": runs}, allow_nan=False)) == {"tools": tools, "runs": runs}


def test_quantiles_are_in_order_and_shares_are_shares(tools: list[dict[str, Any]]):
    for tool in tools:
        assert tool["status"] in STATUSES
        for low, high in pairwise(NAMES):
            assert 0.0 <= tool["life_used"][low] <= tool["life_used"][high] <= 1.0
            assert 0.0 <= tool["remaining_shots"][low] <= tool["remaining_shots"][high]
            later = tool["wear_out_on"][high] or "9999"
            assert (tool["wear_out_on"][low] or "9999") <= later
        assert 0.0 <= tool["p_within_12_months"] <= 1.0
        assert 0.0 <= tool["gap_risk_if_ordered_today"] <= 1.0


def test_orders_agree_with_the_risk_of_today_and_with_the_dates(tools: list[dict[str, Any]], as_of: dt.date):
    for tool in tools:
        assert tool["overdue"] == (tool["gap_risk_if_ordered_today"] > 0.1)
        assert tool["order_by"] is None or tool["order_by"] >= as_of.isoformat()
        if tool["overdue"]:
            assert tool["order_by"] == as_of.isoformat()
        elif tool["wear_out_on"]["p10"]:
            # By the day on which a tenth have worn out, a tenth at least have no usable tool.
            assert tool["order_by"] is not None and tool["order_by"] < tool["wear_out_on"]["p10"]
    assert any(tool["overdue"] for tool in tools) and any(not tool["overdue"] for tool in tools)


def test_within_a_year_is_told_alike_by_the_chance_and_by_the_dates(tools: list[dict[str, Any]], as_of: dt.date):
    year = (as_of + dt.timedelta(days=366)).isoformat()  # the day in which a year of 365.25 days ends
    for tool in tools:
        for name, probability in (("p10", 0.1), ("p25", 0.25), ("p50", 0.5), ("p75", 0.75)):
            day = tool["wear_out_on"][name] or "9999"
            assert day <= year if tool["p_within_12_months"] >= probability else day >= year


def test_a_forecast_does_not_depend_on_which_tools_are_asked_about(
    demo_calibration: Calibration, tools: list[dict[str, Any]], monkeypatch: pytest.MonkeyPatch
):
    picked = [tools[i] for i in (17, 3, 80)]
    assert forecast_fleet(demo_calibration, tools=[tool["tool_id"] for tool in picked]).as_json()["tools"] == picked
    assert forecast_fleet(demo_calibration, tools=[tools[42]["tool_id"]]).as_json()["tools"] == [tools[42]]
    for bound in ("CHUNK", "LONGEST"):
        monkeypatch.setattr(in_pieces, bound, 7)
    assert forecast_fleet(demo_calibration).as_json()["tools"] == tools


def test_nor_does_one_rolled_forward(demo_calibration: Calibration, as_of: dt.date, monkeypatch: pytest.MonkeyPatch):
    later = forecast_fleet(demo_calibration, as_of + HALF_A_YEAR).tools
    assert forecast_fleet(demo_calibration, as_of + HALF_A_YEAR, tools=[later[5]["tool_id"]]).tools == (later[5],)
    for bound in ("CHUNK", "LONGEST"):
        monkeypatch.setattr(in_pieces, bound, 50)
    assert forecast_fleet(demo_calibration, as_of + HALF_A_YEAR).tools == later


def test_the_horizon_hides_dates_and_changes_nothing_else(demo_calibration: Calibration, tools: list[dict[str, Any]]):
    for near, far in zip(forecast_fleet(demo_calibration, horizon_years=2.0).tools, tools, strict=True):
        for key in far:
            if key not in ("wear_out_on", "order_by"):
                assert near[key] == far[key]
        assert near["order_by"] in (far["order_by"], None)
        assert all(near["wear_out_on"][name] in (far["wear_out_on"][name], None) for name in NAMES)


def test_more_tolerance_never_orders_earlier(demo_calibration: Calibration, tools: list[dict[str, Any]]):
    bolder = forecast_fleet(demo_calibration, tolerance=0.3).tools
    assert all((a["order_by"] or "9999") <= (b["order_by"] or "9999") for a, b in zip(tools, bolder, strict=True))
    assert sum(tool["overdue"] for tool in bolder) < sum(tool["overdue"] for tool in tools)


def test_a_later_day_moves_dates_on_and_leaves_fewer_shots(demo_calibration: Calibration, tools: list[dict[str, Any]], as_of: dt.date):
    """To have come through is news that a tool lasts: no date comes earlier but by the noise of luck drawn anew."""
    later = forecast_fleet(demo_calibration, as_of + HALF_A_YEAR, horizon_years=90.0).tools
    earlier = forecast_fleet(demo_calibration, horizon_years=90.0).tools
    moving = 0
    for before, after in zip(earlier, later, strict=True):
        # Quantiles where the shots before the records are reckoned.
        made, more = ((q["p50"] if isinstance(q, dict) else q) for q in (before["shots_this_life"], after["shots_this_life"]))
        assert (more is None) == (made is None)
        assert made is None or more >= made
        if before["status"] in ("worn", "stored", "held") or before["wear_out_on"]["p75"] is None:
            continue
        moving += 1
        days = {name: dt.date.fromisoformat(before["wear_out_on"][name]) for name in ("p25", "p50", "p75")}
        noise = 0.1 * (days["p75"] - days["p25"])
        assert dt.date.fromisoformat(after["wear_out_on"]["p50"]) >= days["p50"] - noise
        assert after["order_by"] >= (as_of + HALF_A_YEAR).isoformat()
        assert after["remaining_shots"]["p50"] <= before["remaining_shots"]["p50"] * 1.2
    assert moving > 40


def test_risk_never_falls_as_a_run_grows(demo_calibration: Calibration):
    sizes = (1, 10, 1_000, 30_000, 100_000, 1_000_000, 10**8)
    answers = [answer_runs(demo_calibration, questions(demo_calibration, shots)[:25]).runs for shots in sizes]
    for smaller, larger in pairwise(answers):
        for a, b in zip(smaller, larger, strict=True):
            if a["problem"] is None:
                assert a["p_wear_out"] <= b["p_wear_out"]
                assert a["p_any_stop"] <= b["p_any_stop"]
                assert a["p_wear_out_interval"][0] <= b["p_wear_out_interval"][0]
                assert a["p_wear_out_interval"][1] <= b["p_wear_out_interval"][1]
                assert a["largest_run_at_risk"] == b["largest_run_at_risk"]
    assert all(run["problem"] or run["p_wear_out"] > 0.999 for run in answers[-1])


def test_risks_are_probabilities_and_larger_runs_go_with_larger_risks(runs: list[dict[str, Any]]):
    assert len(runs) > 80
    for run in runs:
        low, high = run["p_wear_out_interval"]
        assert 0.0 <= low <= high <= 1.0
        assert 0.0 <= run["p_wear_out"] <= run["p_any_stop"] <= 1.0
        sizes = [run["largest_run_at_risk"][risk] for risk in ("0.05", "0.10", "0.20")]
        assert sizes == sorted(sizes)
        assert all(isinstance(size, int) for size in sizes)


def test_a_run_is_answered_alike_alone_and_among_others(demo_calibration: Calibration):
    asked = questions(demo_calibration, 12_345)
    together = answer_runs(demo_calibration, asked[::-1]).runs[::-1]
    for i in (0, 11, 50):
        assert answer_runs(demo_calibration, [asked[i]]).runs == (together[i],)


@pytest.mark.parametrize("days", [0, 150])
def test_one_shot_more_than_the_largest_run_is_too_much(demo_calibration: Calibration, as_of: dt.date, days: int):
    """The search takes a line's word for the next shot where it can: against asking about both, of tools with readings too."""
    day = as_of + dt.timedelta(days=days)
    usual = questions(demo_calibration, 1, (day + dt.timedelta(days=60)).strftime("%Y-%m"))
    for risk in ("0.05", "0.10", "0.20"):
        largest = [run["largest_run_at_risk"][risk] for run in answer_runs(demo_calibration, usual, day).runs]
        told = [(replace(question, shots=size), size) for question, size in zip(usual, largest, strict=True) if size is not None]
        at, beyond = (
            [run["p_wear_out"] for run in answer_runs(demo_calibration, [replace(q, shots=size + more) for q, size in told], day).runs]
            for more in (0, 1)
        )
        for (_, size), p, more in zip(told, at, beyond, strict=True):
            assert more > float(risk)
            assert size == 0 or p <= float(risk)
