"""Answers under each law, and under several at once, against scipy; and that no answer takes the shape of a calibration without its law."""

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from known_fleet import Tool, known_calibration
from scipy.stats import fisk, lognorm, weibull_min

import wearfit
from wearfit.calibration import from_bytes, to_bytes
from wearfit.decisions.replacement_age import cost_rates
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.new_tool import Kind, new_tool
from wearfit.forecasts.news import NO_NEWS
from wearfit.forecasts.next_run import Runs
from wearfit.forecasts.run_question import RunQuestion
from wearfit.forecasts.tool_ahead import tool_ahead
from wearfit.law import LAWS, LOG_LOGISTIC, LOGNORMAL, WEIBULL, Shape

Array = np.ndarray

SHAPE, LIFE, SPENT, SAMPLES = 2.5, 10_000.0, 6_000.0, 4_000
MIXED = [WEIBULL] * 1000 + [LOGNORMAL] * 3000
ALL = [*(pytest.param(code, id=name) for code, name in enumerate(LAWS)), pytest.param(MIXED, id="stacked")]


def survival(laws: int | list[int], shots: Array) -> Array:
    """Of a life with the median and spread of log life of the Weibull law; the mean over draws of several laws."""
    if not isinstance(laws, int):
        return np.asarray(np.mean([survival(code, shots) * laws.count(code) for code in set(laws)], axis=0) * len(set(laws)) / len(laws))
    median, sd = LIFE * np.log(2.0) ** (1.0 / SHAPE), np.pi / np.sqrt(6.0) / SHAPE
    of = (weibull_min(SHAPE, scale=LIFE), fisk(np.pi / np.sqrt(3.0) / sd, scale=median), lognorm(sd, scale=median))[laws]
    return np.asarray(of.sf(shots))


def left(laws: int | list[int], more: Array) -> Array:
    """Chance that a life that has come through SPENT goes on for so much more."""
    if isinstance(laws, int):
        return np.asarray(survival(laws, SPENT + more) / survival(laws, np.array(SPENT)))
    return np.asarray(sum(laws.count(code) * left(code, more) for code in set(laws)) / len(laws))


def calibration(laws: int | list[int]) -> Any:
    tool = Tool(spent=SPENT, life=LIFE, stated=500.0)
    return known_calibration([tool], shape=SHAPE, samples=SAMPLES, laws=laws)


@pytest.mark.parametrize("laws", ALL)
def test_next_run_and_what_is_left_are_those_of_the_law(laws: int | list[int]) -> None:
    c = calibration(laws)
    name = str(c.levels.tool[0])
    runs = Runs(c, NO_NEWS, None)
    question = RunQuestion(name, str(c.levels.plant[0]), str(c.levels.resin[0]), c.identity.as_of[:7], 2_000.0)
    answer = runs.answer(question, dt.date.fromisoformat(c.identity.as_of), False)
    assert answer["p_wear_out"] == pytest.approx(1.0 - float(left(laws, np.array(2_000.0))), abs=2e-3)
    (told,) = forecast_fleet(c, None, 60.0, 0.1, None, NO_NEWS).as_json()["tools"]
    for quantile in ("p10", "p50", "p90"):
        more = np.array(told["remaining_shots"][quantile])
        assert 1.0 - float(left(laws, more)) == pytest.approx(int(quantile[1:]) / 100, abs=0.02)


@pytest.mark.parametrize("laws", ALL)
def test_lives_to_come_are_those_of_the_law(laws: int | list[int]) -> None:
    c = calibration(laws)
    ahead = tool_ahead(c, str(c.levels.tool[0]))
    for shots in (4_000.0, 9_000.0, 16_000.0):
        assert np.mean(ahead.fresh_shots(1) > shots) == pytest.approx(float(survival(laws, np.array(shots))), abs=0.02)
    costs = cost_rates(np.array([2_000.0, 8_000.0, np.inf]), ahead.fresh_log_life, ahead.shape, np.zeros(SAMPLES), 1.0, 5.0)
    grid = np.linspace(0.0, 8_000.0, 4_001)
    if isinstance(laws, int):
        lived = np.trapezoid(survival(laws, grid), grid)
        reach = float(survival(laws, np.array(8_000.0)))
        assert costs.mean(axis=0)[1] == pytest.approx((reach + 5.0 * (1.0 - reach)) / lived, rel=0.02)


def test_a_file_keeps_the_law_of_each_draw() -> None:
    c = from_bytes(to_bytes(calibration(MIXED)))
    assert c.shape.law.tolist() == MIXED
    assert from_bytes(to_bytes(calibration(LOG_LOGISTIC))).shape.law == LOG_LOGISTIC


def test_no_answer_takes_a_calibrations_shape_without_its_law() -> None:
    """`Calibration.shape` is where they have it from; a bare k would be read as a Weibull law's."""
    rooms = Path(wearfit.__file__).parent
    for room in ("forecasts", "decisions", "evidence", "workflow", "screens", "cli"):
        for file in (rooms / room).rglob("*.py"):
            taken = [line for line in file.read_text().splitlines() if 'coefficient("log_shape")' in line]
            assert all("law.Shape" in line for line in taken), file


def test_kinds_never_seen_take_the_law_too() -> None:
    c = calibration(MIXED)
    tool = new_tool(c, Kind("103", str(c.levels.plant[0]), {str(c.levels.resin[0]): 1.0}))
    assert isinstance(tool.shape, Shape) and tool.shape.law.tolist() == MIXED
    assert tool.thinned(np.arange(0, SAMPLES, 2)).shape.law.tolist() == MIXED[::2]
