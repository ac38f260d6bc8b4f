"""The fleet's forecast against closed forms, by hand and by its definition."""

import calendar
import datetime as dt
from typing import Any

import numpy as np
import pytest
from known_fleet import AS_OF, Tool, known_calibration
from scipy import stats
from scipy.optimize import brentq

from wearfit.errors import Refusal
from wearfit.forecasts.clock import read_clocks
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.own_luck import exponential_draws
from wearfit.forecasts.quantiles import NAMES, PROBABILITIES
from wearfit.forecasts.use_ahead import UseAhead

SAMPLES = 2000
ETA, SHAPE = 1000.0, 2.5


def only(answer: Any) -> dict[str, Any]:
    (tool,) = answer.as_json()["tools"]
    return tool


def further(age: float, probability: float, shape: float = SHAPE, eta: float = ETA) -> float:
    """Further wear by which so many have worn out of those that came to an age."""
    law = stats.weibull_min(shape, scale=eta)
    return float(law.isf(law.sf(age) * (1.0 - probability)) - age)


def day_of(shots: float, per_month: float) -> dt.date:
    """Day on which so many shots are made at even use from the day after AS_OF on."""
    year, month, day = AS_OF.year, AS_OF.month + 1, 0
    while True:
        length = calendar.monthrange(year, month)[1]
        if shots <= per_month:
            day = int(np.ceil(length * shots / per_month - 1e-6))
            return dt.date(year, month, 1) + dt.timedelta(days=day - 1)
        shots, (year, month) = shots - per_month, (year + month // 12, month % 12 + 1)


@pytest.mark.parametrize("age", [0.0, 500.0, 1000.0])
def test_remaining_shots_are_the_laws_conditional_quantiles(age: float):
    calibration = known_calibration([Tool(spent=age, life=ETA, stated=10.0)], shape=SHAPE, samples=SAMPLES)
    tool = only(forecast_fleet(calibration))
    for name, probability in zip(NAMES, PROBABILITIES, strict=True):
        # Luck is drawn once in each two-thousandth of its distribution, which brackets every quantile.
        low, high = further(age, probability - 1 / SAMPLES), further(age, probability)
        assert low <= tool["remaining_shots"][name] * (1 + 1e-12) and tool["remaining_shots"][name] <= high * (1 + 1e-12)
        used = tool["life_used"][NAMES[-1 - NAMES.index(name)]]
        assert age / (age + further(age, probability + 1 / SAMPLES)) * (1 - 1e-12) <= used <= age / (age + low) * (1 + 1e-12) or age == 0


@pytest.mark.parametrize(
    ("age", "mean", "median", "b10"),
    [(0.0, 887.264, 863.635, 406.510), (500.0, 490.793, 445.785, 102.815), (1000.0, 288.151, 234.462, 40.882)],
)
def test_mean_median_and_b10_of_the_remaining_life(age: float, mean: float, median: float, b10: float):
    """Expected values: closed form of the Weibull law, eta 1000, k 2.5, recomputed by quadrature."""
    calibration = known_calibration([Tool(spent=age, life=ETA, stated=10.0)], shape=SHAPE, samples=SAMPLES)
    shots = only(forecast_fleet(calibration))["remaining_shots"]
    assert shots["p50"] == pytest.approx(median, rel=2e-3)
    assert shots["p10"] == pytest.approx(b10, rel=1e-2)
    rows = np.array([0])
    clocks = read_clocks(calibration, rows, UseAhead(calibration, read_outlook(calibration), rows), AS_OF)
    left = clocks.capacity(exponential_draws(calibration, rows, "wear")) - clocks.spent
    assert left.mean() == pytest.approx(mean, rel=2e-3)


def test_dates_are_those_of_the_shots_at_even_use():
    tool = only(forecast_fleet(known_calibration([Tool(spent=500.0, stated=9.0)], shape=SHAPE)))
    for name in NAMES:
        expected = day_of(tool["remaining_shots"][name], 9.0)
        horizon = AS_OF + dt.timedelta(days=int(10 * 365.25))
        assert tool["wear_out_on"][name] == (expected.isoformat() if expected <= horizon else None)
    assert tool["conditions"] == {"plant_id": "Heath", "resins": ["plain"], "shots_per_month": 9.0}


def test_dates_past_the_horizon_are_null_and_shots_are_not():
    calibration = known_calibration([Tool(stated=9.0)], shape=SHAPE)
    long, short = (only(forecast_fleet(calibration, horizon_years=years)) for years in (30.0, 3.0))
    assert short["remaining_shots"] == long["remaining_shots"]
    assert short["p_within_12_months"] == long["p_within_12_months"]
    last = AS_OF + dt.timedelta(days=int(3 * 365.25))
    for name in NAMES:
        day = dt.date.fromisoformat(long["wear_out_on"][name])
        assert short["wear_out_on"][name] == (day.isoformat() if day <= last else None)
    assert short["wear_out_on"]["p05"] is not None
    assert short["wear_out_on"]["p95"] is None


def test_a_short_horizon_hides_no_risk_of_the_coming_year():
    calibration = known_calibration([Tool(stated=60.0)], shape=SHAPE, lead_weeks=30.0)
    long, short = (only(forecast_fleet(calibration, horizon_years=years)) for years in (10.0, 0.1))
    assert short["p_within_12_months"] == long["p_within_12_months"]
    assert short["gap_risk_if_ordered_today"] == long["gap_risk_if_ordered_today"] > 0.1
    assert short["p_within_12_months"] == pytest.approx(stats.weibull_min(SHAPE, scale=ETA).cdf(720.0), abs=0.002)
    assert set(short["wear_out_on"].values()) == {None}


def gap(days: float, per_month: float, age: float = 0.0) -> float:
    """Chance of wear-out before so many days from AS_OF on, at even use."""
    law = stats.weibull_min(SHAPE, scale=ETA)
    made, day = 0.0, AS_OF
    while days > 0:
        day += dt.timedelta(days=1)
        made += min(days, 1.0) * per_month / calendar.monthrange(day.year, day.month)[1]
        days -= 1.0
    return float(1.0 - law.sf(age + made) / law.sf(age))


@pytest.mark.parametrize("tolerance", [0.02, 0.1, 0.3])
@pytest.mark.parametrize(("age", "lead_weeks"), [(0.0, 10.0), (300.0, 10.0), (300.0, 26.0)])
def test_order_by_is_the_last_day_that_keeps_the_tolerance(tolerance: float, age: float, lead_weeks: float):
    calibration = known_calibration([Tool(spent=age, stated=20.0)], shape=SHAPE, samples=SAMPLES, lead_weeks=lead_weeks)
    tool = only(forecast_fleet(calibration, tolerance=tolerance))
    lead = 7.0 * lead_weeks
    assert tool["gap_risk_if_ordered_today"] == pytest.approx(gap(lead, 20.0, age), abs=1 / SAMPLES)
    assert tool["overdue"] == (gap(lead, 20.0, age) > tolerance)
    if tool["overdue"]:
        assert tool["order_by"] == AS_OF.isoformat()
    else:
        days = (dt.date.fromisoformat(tool["order_by"]) - AS_OF).days
        assert gap(days + lead, 20.0, age) <= tolerance + 1 / SAMPLES
        assert gap(days + 1 + lead, 20.0, age) > tolerance - 1 / SAMPLES


def test_a_tools_own_lead_time_comes_before_the_usual_one():
    tools = [Tool("usual", stated=20.0), Tool("own", stated=20.0, lead_weeks=30.0), Tool("same", stated=20.0, lead_weeks=10.0)]
    usual, own, same = forecast_fleet(known_calibration(tools, shape=SHAPE, lead_weeks=10.0)).tools
    assert own["gap_risk_if_ordered_today"] == pytest.approx(gap(210.0, 20.0), abs=1 / SAMPLES)
    days = [dt.date.fromisoformat(tool["order_by"]) for tool in (usual, own, same)]
    assert abs((days[0] - days[1]).days - 140) <= 2  # each has its own luck within a two-thousandth
    assert abs((days[0] - days[2]).days) <= 2


def test_lead_times_vary_about_their_median():
    """No wear but sudden stops at an even rate: the chance of one within a lognormal lead time is an integral."""
    per_day, median, log_sd = 0.004, 70.0, 1.5
    tool = Tool(life=1e12, stated=1.0, lead_weeks=median / 7.0)
    calibration = known_calibration(
        [tool], samples=SAMPLES, lead_log_sd=log_sd, coefficients={"log_sudden_per_life": np.log(per_day * 365.25 / 12)}
    )
    answer = only(forecast_fleet(calibration))
    expected = stats.lognorm(log_sd, scale=median).expect(lambda days: -np.expm1(-per_day * days))
    noise = 4 * np.sqrt(expected * (1 - expected) / SAMPLES)
    assert answer["gap_risk_if_ordered_today"] == pytest.approx(expected, abs=noise)
    assert expected + np.expm1(-per_day * median) > 1.5 * noise  # a lead time that never varied would be told apart
    assert answer["p_within_12_months"] == 0.0  # a sudden stop is no wear-out


def test_a_tolerance_that_is_reached_exactly_is_kept():
    """Ten draws, of which one is worn out on the first day: a tolerance of a tenth accepts it."""
    life = np.array([1.0, *[1e9] * 9])
    calibration = known_calibration([Tool(life=life, stated=3000.0)], shape=200.0, samples=10, lead_weeks=1.0)
    kept, broken = (only(forecast_fleet(calibration, tolerance=tolerance)) for tolerance in (0.1, 0.0999))
    assert kept["gap_risk_if_ordered_today"] == broken["gap_risk_if_ordered_today"] == 0.1
    assert (kept["overdue"], kept["order_by"]) == (False, None)  # it never gets worse within the horizon
    assert (broken["overdue"], broken["order_by"]) == (True, AS_OF.isoformat())


def test_order_by_looks_beyond_the_horizon_for_a_tool_that_fails_before_the_replacement_is_there():
    # A sharp law: worn out at ETA shots, eleven years on. An order within the horizon of ten years is the last that is safe.
    calibration = known_calibration([Tool(stated=ETA / (11 * 12))], shape=500.0, lead_weeks=60.0)
    tool = only(forecast_fleet(calibration))
    assert set(tool["wear_out_on"].values()) == {None}
    assert tool["order_by"] is not None
    assert "2036-02" <= tool["order_by"] <= "2036-05"


def test_a_worn_tool_is_overdue_and_its_clock_stands_still():
    calibration = known_calibration([Tool(spent=700.0, status="worn", stated=50.0, shots_this_life=640.0)])
    for day in (AS_OF, AS_OF + dt.timedelta(days=300)):
        tool = only(forecast_fleet(calibration, day))
        assert set(tool["life_used"].values()) == {1.0}
        assert set(tool["remaining_shots"].values()) == {0.0}
        assert set(tool["wear_out_on"].values()) == {day.isoformat()}
        assert (tool["order_by"], tool["overdue"], tool["status"]) == (day.isoformat(), True, "worn")
        assert (tool["gap_risk_if_ordered_today"], tool["p_within_12_months"]) == (1.0, 1.0)
        assert tool["shots_this_life"] == 640.0


@pytest.mark.parametrize("status", ["stored", "held"])
def test_a_tool_that_is_away_has_the_same_life_before_it_later(status: str):
    calibration = known_calibration([Tool(spent=400.0, status=status, stated=20.0)])
    now, later = (only(forecast_fleet(calibration, day)) for day in (AS_OF, AS_OF + dt.timedelta(days=365)))
    assert now["status"] == status
    assert later["remaining_shots"] == now["remaining_shots"]
    assert later["life_used"] == now["life_used"]


def test_shots_of_a_life_whose_opening_is_reckoned_are_a_range():
    """And those made since the calibration's day come on top."""
    opening = np.linspace(1000.0, 2000.0, SAMPLES)
    calibration = known_calibration(
        [Tool("old", spent=opening + 50.0, stated=20.0, shots_this_life=50.0, opening=opening, life=1e5), Tool("known", stated=20.0)],
        samples=SAMPLES,
    )
    old, known = forecast_fleet(calibration).tools
    assert known["shots_this_life"] == 0.0
    assert old["problem"] is None
    for name, share in (("p05", 0.05), ("p50", 0.5), ("p95", 0.95)):
        assert old["shots_this_life"][name] == pytest.approx(1050.0 + 1000.0 * share, abs=5.0)
    later = forecast_fleet(calibration, AS_OF + dt.timedelta(days=365)).tools[0]["shots_this_life"]
    assert later["p50"] - old["shots_this_life"]["p50"] == pytest.approx(240.0, abs=10.0)


def test_a_tool_of_unknown_age_is_not_guessed_at():
    calibration = known_calibration([Tool("old", spent=np.nan, stated=20.0, shots_this_life=np.nan), Tool("known", stated=20.0)])
    old, known = forecast_fleet(calibration).tools
    assert "opening_life_shots" in old["problem"]
    assert old["shots_this_life"] is None
    for answer in ("life_used", "remaining_shots", "wear_out_on"):
        assert set(old[answer].values()) == {None}
    assert known["problem"] is None
    assert known == only(forecast_fleet(calibration, tools=["known"]))


def test_a_tool_without_any_use_ahead_says_so():
    tool = only(forecast_fleet(known_calibration([Tool(status="no_runs")], shape=SHAPE)))
    assert "shots_per_month" in tool["problem"]
    assert set(tool["wear_out_on"].values()) == {None}
    assert (tool["order_by"], tool["overdue"], tool["p_within_12_months"]) == (None, False, 0.0)
    assert tool["remaining_shots"]["p50"] == pytest.approx(further(0.0, 0.5), rel=1e-3)


def test_a_later_day_rolls_the_clock_forward_by_expected_use():
    calibration = known_calibration([Tool(spent=200.0, stated=50.0, shots_this_life=180.0)], shape=SHAPE, samples=SAMPLES)
    tool = only(forecast_fleet(calibration, dt.date(2026, 11, 30)))
    assert tool["shots_this_life"] == pytest.approx(480.0)
    for name, probability in zip(NAMES, PROBABILITIES, strict=True):
        low, high = further(500.0, probability - 1 / SAMPLES), further(500.0, probability)
        assert low * (1 - 1e-9) <= tool["remaining_shots"][name] <= high * (1 + 1e-9)


def test_a_tool_that_came_through_is_more_likely_a_lasting_one():
    """Half the draws say a life of 600, half one of 1400; 300 shots later the mixture is the survivors'."""
    life = np.where(np.arange(SAMPLES) % 2, 600.0, 1400.0)
    calibration = known_calibration([Tool(spent=300.0, life=life, stated=50.0)], shape=3.0, samples=SAMPLES)
    shots = only(forecast_fleet(calibration, dt.date(2026, 11, 30)))["remaining_shots"]
    laws = [stats.weibull_min(3.0, scale=eta) for eta in (600.0, 1400.0)]
    came_through = np.array([law.sf(600.0) / law.sf(300.0) for law in laws])
    share = came_through / came_through.sum()

    def left(more: float) -> float:
        return float(sum(s * law.sf(600.0 + more) / law.sf(600.0) for s, law in zip(share, laws, strict=True)))

    effective = came_through.sum() ** 2 / (2 * (came_through**2).sum()) * SAMPLES
    for name, probability in (("p25", 0.25), ("p50", 0.5), ("p75", 0.75)):
        assert left(shots[name]) == pytest.approx(1.0 - probability, abs=4 * np.sqrt(0.25 / effective))
    unweighed = brentq(lambda more: sum(0.5 * law.sf(600.0 + more) / law.sf(600.0) for law in laws) - 0.5, 1.0, 2000.0)
    assert shots["p50"] > 1.1 * unweighed


def test_what_a_tool_is():
    tool = Tool("unnamed", service_class=-1, plant=-1, design=-1, mix=(0.0,), due=20_700.0)
    answer = only(forecast_fleet(known_calibration([tool], samples=20)))
    assert (answer["tool_id"], answer["service_class"], answer["design_id"], answer["plant_id"]) == ("unnamed", "unknown", None, None)
    assert answer["replacement_due_on"] == "2026-09-04"
    assert answer["conditions"] == {"plant_id": None, "resins": [], "shots_per_month": 0.0}


def test_tools_that_are_not_live_are_refused_and_say_why():
    calibration = known_calibration([Tool("cup-1")], samples=5, retired=["cup-0"])
    with pytest.raises(Refusal, match="cup-0 is retired"):
        forecast_fleet(calibration, tools=["cup-1", "cup-0"])
    with pytest.raises(Refusal, match="cup-9 is not in the records"):
        forecast_fleet(calibration, tools=["cup-9"])
    with pytest.raises(Refusal, match="future"):
        forecast_fleet(calibration, AS_OF - dt.timedelta(days=1))


@pytest.mark.parametrize(("tolerance", "horizon"), [(0.0, 10.0), (1.0, 10.0), (np.nan, 10.0), (0.1, 0.0), (0.1, 101.0), (0.1, np.nan)])
def test_a_tolerance_or_horizon_that_is_none_is_wrong_use(tolerance: float, horizon: float):
    with pytest.raises(Refusal) as refused:
        forecast_fleet(known_calibration([Tool()], samples=5), horizon_years=horizon, tolerance=tolerance)
    assert refused.value.status == 2


def test_a_fleet_without_live_tools_has_an_empty_forecast():
    assert forecast_fleet(known_calibration([], samples=5, retired=["cup-0"])).as_json() == {"tools": []}
