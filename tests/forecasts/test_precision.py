"""Answers of many tools, reckoned in the precision of a file's draws, against the same in double precision."""

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from known_fleet import Resin, Tool, known_calibration

from wearfit.calibration import Calibration
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.next_run import answer_runs
from wearfit.forecasts.run_question import RunQuestion

AHEAD = 100  # days after the calibration's
DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


def _pairs(single: Any, double: Any, where: str = "") -> Iterator[tuple[str, Any, Any]]:
    """Leaves of two answers side by side, and where they stand."""
    if isinstance(double, dict):
        assert single.keys() == double.keys()
        for name in double:
            yield from _pairs(single[name], double[name], f"{where}/{name}")
    elif isinstance(double, list):
        assert len(single) == len(double)
        for one, other in zip(single, double, strict=True):
            yield from _pairs(one, other, where)
    else:
        yield where, single, double


def _is_date(value: Any) -> bool:
    return isinstance(value, str) and DATE.fullmatch(value) is not None


def test_a_files_draws_are_single_and_answers_of_one_tool_double(demo_calibration: Calibration, demo_in_double: Calibration):
    rows = np.arange(3)
    assert demo_calibration.as_drawn().of_live("wear_spent", rows).dtype == np.float32
    assert demo_calibration.of_live("wear_spent", rows).dtype == np.float64
    assert demo_in_double.as_drawn().coefficient("log_shape").dtype == np.float64


@pytest.mark.parametrize("later", [0, AHEAD])
def test_forecasts_are_those_of_double_precision(demo_calibration: Calibration, demo_in_double: Calibration, later: int):
    """Single precision rounds at 6e-8; what is left of a life is the difference of numbers some ten times as large."""
    day = dt.date.fromisoformat(demo_calibration.identity.as_of) + dt.timedelta(days=later)
    single, double = (list(forecast_fleet(c, day).tools) for c in (demo_calibration, demo_in_double))
    dates = moved = 0
    for where, one, other in _pairs(single, double):
        if _is_date(other):
            dates, moved = dates + 1, moved + (one != other)
            assert one is not None, where
            assert abs((dt.date.fromisoformat(one) - dt.date.fromisoformat(other)).days) <= 1, where
        elif isinstance(other, float):
            # Quantiles would step from one draw to the next; a chance that moved by a draw of 1,400 would be too far off.
            assert one == pytest.approx(other, rel=2e-5, abs=7e-4 if "p_" in where or "gap" in where else 0.0), where
        else:
            assert one == other, where
    assert moved <= 0.005 * dates
    assert dates > 400


def test_next_runs_are_those_of_double_precision(demo_calibration: Calibration, demo_in_double: Calibration):
    live, levels = demo_calibration.live, demo_calibration.levels
    plant, resin = str(levels.plant[0]), str(levels.resin[0])
    questions = [
        RunQuestion(str(levels.tool[tool]), plant, resin, "2026-12", shots) for tool in live.tool for shots in (1.0, 200.0, 20_000.0)
    ]
    single, double = (list(answer_runs(c, questions).runs) for c in (demo_calibration, demo_in_double))
    for where, one, other in _pairs(single, double):
        if isinstance(other, float):
            assert one == pytest.approx(other, rel=2e-5), where
        elif isinstance(other, int) and "largest" in where:
            assert one == pytest.approx(other, rel=2e-6, abs=1), where
        else:
            assert one == other, where


@pytest.mark.parametrize("shape", [1.5, 2.5, 8.0])
def test_chances_are_exact_however_small_they_are_and_however_new_the_tool(shape: float):
    """Against the law written out, in single precision: of a Weibull life D shots gone, 1 - exp(-(((D + n)^k - D^k) / eta^k))."""
    spent, life = np.array([0.0, 1.0, 3e3, 5e5, 2e6]), 1e6
    calibration = known_calibration([Tool(f"{s:g}", spent=s, life=life) for s in spent], shape=shape, samples=50, resins=(Resin(),))
    draws = {name: values.astype(np.float32) for name, values in vars(calibration.draws).items() if values.dtype == float}
    calibration = replace(calibration, draws=replace(calibration.draws, **draws))
    assert calibration.as_drawn().precision == np.float32
    for shots in (1.0, 40.0, 3e4, 1e6):
        questions = [RunQuestion(f"{s:g}", "Heath", "plain", "2026-06", shots) for s in spent]
        p = [run["p_wear_out"] for run in answer_runs(calibration, questions).runs]
        rise = np.where(
            spent > 0, (spent / life) ** shape * np.expm1(shape * np.log1p(shots / np.maximum(spent, 1.0))), (shots / life) ** shape
        )
        assert p == pytest.approx(-np.expm1(-rise), rel=3e-6)
