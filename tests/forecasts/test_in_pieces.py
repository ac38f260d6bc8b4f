"""Answers about many tools are the same, to the last digit, however many of them are looked at together."""

import datetime as dt

import numpy as np
import pytest

from wearfit.calibration import Calibration
from wearfit.forecasts import fleet, next_run
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.next_run import RunQuestion, answer_runs
from wearfit.forecasts.use_ahead import pieces, planned_months

SIZES = (1, 7, 1000)  # alone, odd, more than there are


@pytest.mark.parametrize("size", SIZES)
def test_forecasts(demo_calibration: Calibration, monkeypatch: pytest.MonkeyPatch, size: int):
    usual = forecast_fleet(demo_calibration).tools
    monkeypatch.setattr(fleet, "CHUNK", size)
    assert forecast_fleet(demo_calibration).tools == usual


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
    monkeypatch.setattr(next_run, "CHUNK", size)
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
