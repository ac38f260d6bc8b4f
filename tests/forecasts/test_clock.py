"""Clocks at the day of the question: rolled forward by expected use, each draw weighed by what it would have survived."""

import datetime as dt

import numpy as np
import pytest
from known_fleet import AS_OF, Plant, Resin, Tool, known_calibration
from scipy import stats

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.clock import Clocks, question_day, read_clocks
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.own_luck import exponential_draws
from wearfit.forecasts.use_ahead import UseAhead

HALF_A_YEAR_ON = dt.date(2026, 11, 30)


def clocks_of(calibration: Calibration, day: dt.date) -> Clocks:
    rows = np.arange(len(calibration.live.tool))
    return read_clocks(calibration, rows, UseAhead(calibration, read_outlook(calibration), rows), day)


def test_the_day_asked_for_is_the_calibrations_own_unless_a_later_one_is_given():
    calibration = known_calibration([Tool()], samples=2)
    assert question_day(calibration, None) == AS_OF
    assert question_day(calibration, AS_OF) == AS_OF
    assert question_day(calibration, HALF_A_YEAR_ON) == HALF_A_YEAR_ON


def test_an_earlier_day_is_refused_for_it_would_know_the_future():
    with pytest.raises(Refusal, match="know the future") as refused:
        question_day(known_calibration([Tool()], samples=2), AS_OF - dt.timedelta(days=1))
    assert refused.value.status == 1
    assert str(AS_OF) in refused.value.repair


def test_a_day_out_of_sight_is_refused():
    with pytest.raises(Refusal, match="more than 100 years"):
        question_day(known_calibration([Tool()], samples=2), dt.date(9999, 12, 31))


def test_on_its_own_day_a_calibration_is_read_as_it_is():
    calibration = known_calibration([Tool(spent=300.0, life=900.0), Tool("cup-2", spent=5.0)], shape=3.0, samples=4)
    clocks = clocks_of(calibration, AS_OF)
    np.testing.assert_array_equal(clocks.spent, [[300.0, 5.0]] * 4)
    np.testing.assert_array_equal(clocks.weights, np.ones((4, 2)))
    np.testing.assert_array_equal(clocks.shots_since, np.zeros((4, 2)))
    np.testing.assert_allclose(clocks.hazard(clocks.spent), [[(300 / 900) ** 3, 0.005**3]] * 4)


def test_capacity_is_where_the_hazard_has_risen_by_so_much():
    clocks = clocks_of(known_calibration([Tool(spent=300.0, life=900.0)], shape=3.0, samples=1), AS_OF)
    np.testing.assert_allclose(clocks.capacity(np.array([[0.7]])), 900 * ((300 / 900) ** 3 + 0.7) ** (1 / 3))


def test_a_clock_is_rolled_forward_by_the_wear_of_its_expected_use():
    plants, resins = (Plant(wear=np.log(1.5)),), (Resin(wear=np.log(2.0)),)
    calibration = known_calibration([Tool(spent=100.0, stated=10.0)], plants=plants, resins=resins, samples=2)
    clocks = clocks_of(calibration, HALF_A_YEAR_ON)
    np.testing.assert_allclose(clocks.spent, 100.0 + 60.0 * 1.5 * 2.0)
    np.testing.assert_allclose(clocks.shots_since, 60.0)


@pytest.mark.parametrize(
    ("status", "made"), [("running", 72.0), ("idle", 72.0), ("no_runs", 72.0), ("stored", 12.0), ("held", 12.0), ("worn", 0.0)]
)
def test_a_worn_tool_stands_still_and_one_that_is_away_is_used_only_as_planned(status: str, made: float):
    tool = Tool(status=status, stated=12.0, plan={1: 8.0, 2: 4.0})
    clocks = clocks_of(known_calibration([tool], samples=2), dt.date(2026, 12, 31))
    expected = made if made < 72.0 else 12.0 + 5 * 12.0
    np.testing.assert_allclose(clocks.shots_since, expected)
    np.testing.assert_allclose(clocks.spent, expected)


def test_draws_are_weighed_by_what_they_would_have_survived():
    life = np.array([300.0, 600.0, 1200.0])
    calibration = known_calibration([Tool(spent=100.0, life=life, stated=50.0)], shape=2.0, samples=3)
    weights = clocks_of(calibration, HALF_A_YEAR_ON).weights[:, 0]
    survived = stats.weibull_min(2.0, scale=life).sf(400.0) / stats.weibull_min(2.0, scale=life).sf(100.0)
    np.testing.assert_allclose(weights / weights.sum(), survived / survived.sum())


def test_no_weight_is_lost_however_late_the_day():
    calibration = known_calibration([Tool(life=np.linspace(10.0, 20.0, 50), stated=500.0)], samples=50)
    weights = clocks_of(calibration, dt.date(2036, 5, 31)).weights
    assert weights.max() == 1.0
    assert np.isfinite(weights).all()


def test_an_unknown_age_stays_unknown_and_harms_no_neighbour():
    calibration = known_calibration([Tool(spent=np.nan, stated=9.0), Tool("cup-2", spent=50.0, stated=9.0)], samples=2)
    clocks = clocks_of(calibration, HALF_A_YEAR_ON)
    assert np.isnan(clocks.spent[:, 0]).all()
    np.testing.assert_allclose(clocks.spent[:, 1], 104.0)
    assert np.isfinite(clocks.weights).all()


def test_exponential_draws_are_standard_exponential_and_evenly_spread():
    calibration = known_calibration([Tool("a"), Tool("b")])
    draws = exponential_draws(calibration, np.array([0, 1]), "wear")
    assert stats.kstest(draws[:, 0], stats.expon.cdf).statistic < 1 / 2000  # one in each two-thousandth
    assert abs(np.corrcoef(draws.T)[0, 1]) < 0.06
    assert abs(np.corrcoef(draws[:, 0], exponential_draws(calibration, np.array([0]), "sudden")[:, 0])[0, 1]) < 0.06


def test_a_tools_draws_do_not_depend_on_its_place():
    calibration = known_calibration([Tool("a"), Tool("b"), Tool("c")], samples=20)
    swapped = known_calibration([Tool("c"), Tool("a")], samples=20)
    np.testing.assert_array_equal(
        exponential_draws(calibration, np.array([2, 0]), "wear"), exponential_draws(swapped, np.array([0, 1]), "wear")
    )
