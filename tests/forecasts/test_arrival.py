"""When wear-out and sudden stops come, against a walk month by month in plain Python."""

import calendar
import datetime as dt

import numpy as np
import pytest
from known_fleet import AS_OF, Plant, Resin, Tool, known_calibration

from wearfit.calibration import Calibration
from wearfit.forecasts.arrival import Arrival, walk
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.use_ahead import UseAhead

FOR_EVER = 400 * 365.25


def arrival_of(calibration: Calibration, wear_left: np.ndarray, sudden_left: np.ndarray | None = None, days: float = FOR_EVER) -> Arrival:
    use = UseAhead(calibration, read_outlook(calibration), np.arange(len(calibration.live.tool)))
    return walk(use, AS_OF, days, wear_left, np.ones_like(wear_left) if sudden_left is None else sudden_left)


def days_to(day: str) -> float:
    return float((dt.date.fromisoformat(day) - AS_OF).days)


@pytest.mark.parametrize(
    ("wear_left", "day"),
    [
        (0.0, "2026-05-31"),
        (500.0, "2026-06-15"),  # half of June's thirty days
        (1000.0, "2026-06-30"),
        (3000.0, "2026-08-31"),
        (12_000.0, "2027-05-31"),
        (21_000.0, "2028-02-29"),  # a leap year's February is one month's use
        (1_200_000.0, "2126-05-31"),
    ],
)
def test_constant_use_by_hand(wear_left: float, day: str):
    arrival = arrival_of(known_calibration([Tool(stated=1000.0)], samples=1), np.array([[wear_left]]))
    assert arrival.wear_days[0, 0] == pytest.approx(days_to(day), abs=1e-6)
    assert arrival.wear_shots[0, 0] == pytest.approx(wear_left)


def test_a_month_planned_empty_is_waited_through():
    calibration = known_calibration([Tool(stated=1000.0, plan={1: 600.0, 2: 0.0, 3: 300.0})], samples=3)
    arrival = arrival_of(calibration, np.array([[600.0], [750.0], [1900.0]]))
    days = [days_to("2026-06-30"), days_to("2026-07-31") + 15.5, days_to("2026-09-30")]
    np.testing.assert_allclose(arrival.wear_days[:, 0], days, atol=1e-6)
    np.testing.assert_allclose(arrival.wear_shots[:, 0], [600.0, 750.0, 1900.0])


def test_shots_are_counted_at_the_conditions_of_their_month():
    plants, resins = (Plant(), Plant("Quay", wear=np.log(4.0))), (Resin(), Resin("glass", wear=np.log(2.0)))
    tool = Tool(stated=100.0, plan={1: 50.0, 2: 50.0}, plan_plant={1: 1}, plan_resin={2: 1})
    arrival = arrival_of(known_calibration([tool], plants=plants, resins=resins, samples=1), np.array([[300.0 + 25.0]]))
    assert arrival.wear_shots[0, 0] == pytest.approx(50 + 50 + 25)  # 200, 100 and 25 of wear
    assert arrival.wear_days[0, 0] == pytest.approx(days_to("2026-07-31") + 31 / 4)


def test_without_use_it_never_comes_and_shots_left_are_told_all_the_same():
    calibration = known_calibration([Tool(), Tool("used", stated=1.0)], plants=(Plant(wear=np.log(2.0)),), samples=2)
    arrival = arrival_of(calibration, np.full((2, 2), 500.0))
    assert np.isinf(arrival.wear_days[:, 0]).all()
    assert np.isinf(arrival.sudden_days[:, 0]).all()
    np.testing.assert_allclose(arrival.wear_shots, 250.0)
    assert arrival.never.tolist() == [True, False]


def test_a_plan_that_ends_may_be_all_the_use_there_is():
    arrival = arrival_of(known_calibration([Tool(plan={1: 100.0})], samples=2), np.array([[99.0], [101.0]]))
    assert np.isfinite(arrival.wear_days[:, 0]).tolist() == [True, False]
    np.testing.assert_allclose(arrival.wear_shots[:, 0], [99.0, 101.0])


def test_unknown_wear_stays_unknown():
    arrival = arrival_of(known_calibration([Tool(stated=1.0)], samples=1), np.array([[np.nan]]))
    assert np.isnan(arrival.wear_days).all()
    assert np.isnan(arrival.wear_shots).all()


def test_days_beyond_those_asked_for_are_never_and_shots_do_not_mind():
    calibration = known_calibration([Tool(recent=(0.0, 900.0, 100.0, 400.0))], samples=200)
    left = np.random.default_rng(6).exponential(30_000.0, (200, 1))
    far, near = arrival_of(calibration, left), arrival_of(calibration, left, days=2 * 365.25)
    np.testing.assert_array_equal(near.wear_shots, far.wear_shots)
    soon = far.wear_days <= 2 * 365.25
    assert 0 < soon.sum() < 200
    np.testing.assert_array_equal(near.wear_days[soon], far.wear_days[soon])


def _months(first: dt.date, count: int) -> list[tuple[int, int]]:
    start = first + dt.timedelta(days=1)
    return [divmod(start.year * 12 + start.month - 1 + i, 12) for i in range(count)]


def _slow_walk(calibration: Calibration, first: dt.date, draw: int, wear_left: float, sudden_left: float) -> tuple[float, float, float]:
    """Days to wear-out, shots until then, days to a sudden stop, of the only tool; plain Python over a century."""
    live, season = calibration.live, read_outlook(calibration).season
    own = dt.date.fromisoformat(calibration.identity.as_of)
    plants, resins = calibration.draws.plant[draw], calibration.draws.resin[draw]
    per_life, sudden_plant = np.exp(calibration.coefficient("log_sudden_per_life")[draw]), np.exp(calibration.draws.sudden_plant[draw])
    sweating = calibration.coefficient("slope.sweating_within")[draw]
    worn = struck = None
    shots, now = 0.0, 0.0
    for year, month in _months(first, 1200):
        ahead = (year - own.year) * 12 + month + 1 - own.month
        length = calendar.monthrange(year, month + 1)[1]
        last = dt.date(year, month + 1, length)
        days = (last - max(first, last - dt.timedelta(days=length))).days
        use, plant, resin = float(live.shots_per_month[0]) * season[draw, month], int(live.plant[0]), 0
        if ahead < live.plan_shots.shape[1]:
            use = use if np.isnan(live.plan_shots[0, ahead]) else float(live.plan_shots[0, ahead])
            plant = int(live.plan_plant[0, ahead]) if live.plan_plant[0, ahead] >= 0 else plant
            resin = int(live.plan_resin[0, ahead]) if live.plan_resin[0, ahead] >= 0 else resin
        use *= days / length
        wear = use * np.exp(plants[plant] + resins[resin] + sweating * calibration.plants.season[plant, month, 0])
        sudden = use * per_life * sudden_plant[plant]
        if worn is None and use > 0 and wear_left <= wear:
            worn, shots = now + days * wear_left / wear, shots + use * wear_left / wear
        if struck is None and use > 0 and sudden_left <= sudden:
            struck = now + days * sudden_left / sudden
        if worn is None:
            wear_left, shots = wear_left - wear, shots + use
        sudden_left, now = sudden_left - sudden, now + days
    return worn if worn is not None else np.inf, shots, struck if struck is not None else np.inf


@pytest.mark.parametrize("days_on", [0, 17, 245, 500])
def test_against_a_walk_month_by_month(days_on: int):
    samples = 60
    rng = np.random.default_rng(8)
    season = tuple(rng.uniform(-0.5, 0.5, 12))
    plants = (Plant(wear=rng.normal(0, 0.3, samples), season=season), Plant("Quay", wear=rng.normal(0.5, 0.3, samples), sudden=1.0))
    resins = (Resin(wear=rng.normal(0, 0.2, samples)), Resin("glass", wear=rng.normal(0.4, 0.2, samples)))
    tool = Tool(
        stated=800.0,
        plan={1: 500.0, 2: 0.0, 3: 0.0, 5: 2500.0, 9: 100.0},
        plan_plant={1: 1, 5: 1},
        plan_resin={5: 1, 9: 1},
    )
    pacemakers = [Tool(f"{i}", recent=tuple(rng.gamma(0.5, 1000.0, 24))) for i in range(5)]
    coefficients = {"slope.sweating_within": rng.normal(0.5, 0.3, samples), "log_sudden_per_life": np.log(3e-5)}
    calibration = known_calibration([tool, *pacemakers], plants=plants, resins=resins, samples=samples, coefficients=coefficients)
    wear_left = rng.exponential(30_000.0, (samples, 1)) * (rng.random((samples, 1)) > 0.1)
    sudden_left = rng.exponential(1.0, (samples, 1))
    use = UseAhead(calibration, read_outlook(calibration), np.array([0]))
    first = AS_OF + dt.timedelta(days=days_on)
    arrival = walk(use, first, 99 * 365.25, wear_left, sudden_left)
    slow = [_slow_walk(calibration, first, draw, float(wear_left[draw, 0]), float(sudden_left[draw, 0])) for draw in range(samples)]
    np.testing.assert_allclose(np.stack([arrival.wear_days, arrival.wear_shots, arrival.sudden_days])[:, :, 0].T, slow, rtol=1e-9)
