"""Readings since the calibration in the draws that decisions and the plan rest on: what the forecast says of the same tool."""

import datetime as dt

import numpy as np
import pytest
from known_fleet import AS_OF, Feature, Read, Tool, known_calibration

from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.fleet_ahead import drawn_by_weight, fleet_ahead
from wearfit.forecasts.news import NewReading, News
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.quantiles import weighted_mean, weighted_quantiles
from wearfit.forecasts.since import heed
from wearfit.forecasts.tool_ahead import tool_ahead

DRAWS = 400
RNG = np.random.default_rng(3)
LIFE = 1000.0 * np.exp(0.3 * RNG.standard_normal(DRAWS))
SPENT = 450.0 * np.exp(0.15 * RNG.standard_normal(DRAWS))
SEEN = (Read(dt.date(2025, 6, 1), "flash", 0.22, 0.5), Read(dt.date(2025, 12, 1), "flash", 0.3, 0.8))
TOOL = Tool(
    spent=SPENT, life=LIFE, stated=25.0, readings=SEEN, trail=((dt.date(2023, 12, 31), 0.0), (dt.date(2025, 12, 1), 0.8), (AS_OF, 1.0))
)  # fmt: skip
CALIBRATION = known_calibration([TOOL], shape=np.full(DRAWS, 3.0), samples=DRAWS, features={"flash": Feature(0.0, 1.1, 0.2)})


def said(day: dt.date, way: float) -> NewReading:
    return NewReading("cup-1", day, "flash", float(np.log(way)), False, 0.0, True)


def weighed(news: News):
    return heed(CALIBRATION, read_outlook(CALIBRATION), np.array([0]), news, AS_OF)


@pytest.mark.parametrize("way", [None, 0.2, 0.7])
def test_what_is_left_of_a_tool_is_what_the_forecast_says(way: float | None):
    news = News(() if way is None else (said(AS_OF, way),))
    (answer,) = forecast_fleet(CALIBRATION, news=news).tools
    calibration, since = weighed(news)
    ahead = tool_ahead(calibration, "cup-1", since=since)
    # Over all futures of each draw: of the first one alone the median is known to 4 % or so.
    weights = np.repeat(ahead.weights, ahead.shots_to_wear.shape[1])[:, None]
    left = weighted_quantiles(ahead.shots_to_wear.reshape(-1, 1), weights, (0.5,)).item()
    assert left == pytest.approx(answer["remaining_shots"]["p50"], rel=0.08)
    (block,) = fleet_ahead(calibration, 12, since=since).blocks()
    assert np.median(block.capacity - block.spent) == pytest.approx(answer["remaining_shots"]["p50"], rel=0.08)
    (plain,) = forecast_fleet(CALIBRATION).tools
    moved = answer["remaining_shots"]["p50"] / plain["remaining_shots"]["p50"]
    assert moved == 1.0 if way is None else abs(moved - 1.0) > 0.2


def test_a_tool_that_readings_since_show_worn_is_at_its_end():
    calibration, since = weighed(News((said(dt.date(2026, 3, 1), 1.2), said(AS_OF, 1.1))))
    assert tool_ahead(calibration, "cup-1", since=since).worn
    (block,) = fleet_ahead(calibration, 12, since=since).blocks()
    assert list(block.status) == ["worn"]


def test_draws_are_taken_by_weight_and_stay_where_they_can():
    weights = RNG.exponential(size=(DRAWS, 3))
    weights[:, 1] = 1.0
    drawn = drawn_by_weight(weights)
    assert drawn is not None
    assert (drawn[:, 1] == np.arange(DRAWS)).all()
    for tool in (0, 2):
        share = DRAWS * weights[:, tool] / weights[:, tool].sum()
        count = np.bincount(drawn[:, tool], minlength=DRAWS)
        assert (np.abs(count - share) < 1.0).all()
        stays = np.flatnonzero(count)
        assert (drawn[stays, tool] == stays).all()
    values = RNG.standard_normal((DRAWS, 3))
    assert np.take_along_axis(values, drawn, axis=0).mean(axis=0) == pytest.approx(weighted_mean(values, weights), abs=0.05)
    assert drawn_by_weight(np.ones((DRAWS, 2))) is None
