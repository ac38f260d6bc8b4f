"""Answers are the same, to the last digit, however many tools are looked at together or at once, and whoever else is asked about."""

import datetime as dt

import numpy as np
import pytest

from wearfit import processors
from wearfit.calibration import Calibration
from wearfit.forecasts import in_pieces
from wearfit.forecasts.ahead import look_ahead
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.in_pieces import pieces, planned_months
from wearfit.forecasts.next_run import answer_runs
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.quantiles import PROBABILITIES, as_dates
from wearfit.forecasts.run_question import RunQuestion

SIZES = (1, 7, 1000)  # alone, odd, more than there are


@pytest.mark.parametrize("size", SIZES)
def test_forecasts(demo_calibration: Calibration, monkeypatch: pytest.MonkeyPatch, size: int):
    usual = forecast_fleet(demo_calibration).tools
    for bound in ("CHUNK", "LONGEST"):
        monkeypatch.setattr(in_pieces, bound, size)
    assert forecast_fleet(demo_calibration).tools == usual


def test_threads(demo_calibration: Calibration, monkeypatch: pytest.MonkeyPatch):
    levels, live = demo_calibration.levels, demo_calibration.live
    questions = [RunQuestion(str(tool), str(levels.plant[0]), str(levels.resin[0]), "2026-07", 9000.0) for tool in levels.tool[live.tool]]
    told = []
    for workers in (1, 3):
        monkeypatch.setattr(processors, "processors", lambda workers=workers: workers)
        told.append((forecast_fleet(demo_calibration).tools, answer_runs(demo_calibration, questions).runs))
    assert told[0] == told[1]


def test_a_tool_alone_is_told_what_it_is_among_all(demo_calibration: Calibration):
    among = {tool["tool_id"]: tool for tool in forecast_fleet(demo_calibration).tools}
    for tool in list(among)[::7]:
        assert forecast_fleet(demo_calibration, tools=[tool]).tools == (among[tool],)


def test_days_are_those_of_all_draws_in_order(demo_calibration: Calibration):
    """Days are asked for after ordering, of a few draws: against every draw's day, ordered by NumPy."""
    day = dt.date.fromisoformat(demo_calibration.identity.as_of)
    rows = np.arange(len(demo_calibration.live.tool))
    for row, tool in zip(rows, forecast_fleet(demo_calibration).tools, strict=True):
        ahead = look_ahead(demo_calibration, read_outlook(demo_calibration), np.array([row]), day, 3652.5)
        if ahead.unknown[0] and not ahead.worn[0]:
            continue
        days = ahead.wear_days[:, 0]
        assert tool["p_within_12_months"] == (days <= 365.25).mean()
        dates = np.quantile(days, PROBABILITIES, method="inverted_cdf")
        assert tool["wear_out_on"] == as_dates(dates, day, 3652.5)
        stops = np.where(ahead.worn[0], -np.inf, np.minimum(days, ahead.arrival.sudden_days[:, 0]) - ahead.lead_days[:, 0])
        assert tool["gap_risk_if_ordered_today"] == (stops < 0).mean()


@pytest.mark.parametrize("after_plan", [False, True])
@pytest.mark.parametrize("size", SIZES)
def test_next_runs(demo_calibration: Calibration, monkeypatch: pytest.MonkeyPatch, size: int, after_plan: bool):
    levels, live = demo_calibration.levels, demo_calibration.live
    rng = np.random.default_rng(6)
    questions = [
        RunQuestion(str(tool), str(rng.choice([*levels.plant, "nowhere yet"])), str(rng.choice(levels.resin)), month, shots)
        for tool, month, shots in zip(
            rng.choice(levels.tool, 60),  # some of them twice, some retired
            rng.choice(["2026-06", "2026-07", "2027-01", "2020-01"], 60).tolist(),
            rng.integers(1, 200_000, 60).tolist(),
            strict=True,
        )
    ]
    assert len(live.tool) < len(levels.tool)
    day = dt.date.fromisoformat(demo_calibration.identity.as_of)
    usual = answer_runs(demo_calibration, questions, day, after_plan).runs
    for bound in ("CHUNK", "LONGEST"):
        monkeypatch.setattr(in_pieces, bound, size)
    assert answer_runs(demo_calibration, questions, day, after_plan).runs == usual
    assert answer_runs(demo_calibration, questions[::-1], day, after_plan).runs == usual[::-1]
    assert {run["problem"] is None for run in usual} == {True, False}


@pytest.mark.parametrize("size", SIZES)
def test_every_tool_is_in_one_piece_with_others_that_are_planned_as_far(demo_calibration: Calibration, size: int):
    rows = np.arange(len(demo_calibration.live.tool))[::-1]
    parted = list(pieces(demo_calibration, rows, size))
    assert sorted(np.concatenate(parted).tolist()) == list(range(len(rows)))
    for piece in parted:
        assert len(piece) <= size
        assert len(set(planned_months(demo_calibration, rows[piece]).tolist())) == 1
