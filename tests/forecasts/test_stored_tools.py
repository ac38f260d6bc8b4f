"""Tools in store: their clocks move on, nobody sees it, and the risk of a run counts it."""

import datetime as dt

import numpy as np
import pytest
from known_fleet import AS_OF, Tool, known_calibration

from wearfit.calibration import STORAGE_QUANTILES, Calibration
from wearfit.exposures.covariates import PLANT_COVARIATES
from wearfit.forecasts.clock import Clocks, read_clocks
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.next_run import answer_runs
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.quantiles import PROBABILITIES
from wearfit.forecasts.run_question import RunQuestion
from wearfit.forecasts.use_ahead import UseAhead

SHARE, PRESERVED, EXPONENT, AIR, BAND = 0.03, -0.8, 0.6, 1.5, 5000.0
STORAGE = {"log_storage": np.log(SHARE), "storage.preserved": PRESERVED, "storage.corrosivity": EXPONENT}
PER_YEAR = SHARE * np.exp(PRESERVED + EXPONENT * AIR) * BAND
SHAPE, LIFE, SPENT = 2.0, 4000.0, 1000.0
TWO_YEARS_ON = dt.date(2028, 5, 31)


def stored(tool_id: str = "cup-1", **cells) -> Tool:
    given = {"spent": SPENT, "life": LIFE, "status": "stored", "in_store": True, "store_preserved": 1.0, "store_log_corrosivity": AIR}
    return Tool(tool_id, log_band=np.log(BAND), **{**given, **cells})


def calibrated(*tools: Tool, samples: int = 4) -> Calibration:
    return known_calibration(tools, shape=SHAPE, samples=samples, coefficients=STORAGE)


def clocks_of(calibration: Calibration, day: dt.date) -> Clocks:
    rows = np.arange(len(calibration.live.tool))
    return read_clocks(calibration, rows, UseAhead(calibration, read_outlook(calibration), rows), day)


def hazard(spent: float) -> float:
    return (spent / LIFE) ** SHAPE


def days(later: dt.date) -> int:
    return (later - AS_OF).days


def test_a_clock_in_store_moves_on_at_its_place_and_preservation():
    clocks = clocks_of(calibrated(stored()), TWO_YEARS_ON)
    np.testing.assert_allclose(clocks.spent, SPENT + PER_YEAR * days(TWO_YEARS_ON) / 365.25)
    np.testing.assert_array_equal(clocks.shots_since, 0.0)


def test_time_in_store_weighs_no_draw_for_nobody_looked():
    clocks = clocks_of(calibrated(stored(life=np.array([1100.0, 2000.0, 4000.0, 8000.0]))), TWO_YEARS_ON)
    np.testing.assert_array_equal(clocks.weights, 1.0)
    np.testing.assert_allclose(clocks.unseen, clocks.stored_since)


@pytest.mark.parametrize(("status", "in_store"), [("idle", False), ("running", False), ("held", False), ("worn", True)])
def test_other_tools_stand_still_without_use(status: str, in_store: bool):
    clocks = clocks_of(calibrated(stored(status=status, in_store=in_store)), TWO_YEARS_ON)
    np.testing.assert_array_equal(clocks.spent, SPENT)


def test_a_held_tool_in_store_wears_as_any():
    np.testing.assert_array_less(SPENT, clocks_of(calibrated(stored(status="held")), TWO_YEARS_ON).spent)


def test_planned_use_takes_it_out():
    """Planned from the second month on: July and later."""
    clocks = clocks_of(calibrated(stored(plan={1: 0.0, 2: 40.0, 3: 40.0})), dt.date(2026, 8, 31))
    np.testing.assert_allclose(clocks.spent, SPENT + PER_YEAR * 30 / 365.25 + 80.0)
    np.testing.assert_array_equal(clocks.unseen, 0.0)


def test_a_run_asked_of_a_stored_tool_counts_its_stay_until_the_month():
    until = PER_YEAR * (days(dt.date(2026, 12, 1))) / 365.25
    (run,) = answer_runs(calibrated(stored()), [RunQuestion("cup-1", "Heath", "plain", "2026-12", 300)]).runs
    assert run["p_wear_out"] == pytest.approx(1 - np.exp(hazard(SPENT) - hazard(SPENT + until + 300)))
    assert run["largest_run_at_risk"]["0.20"] > 0


def test_asked_later_the_time_in_store_since_is_no_better_known():
    """The same run has the same risk on any day: nobody has looked."""
    question = RunQuestion("cup-1", "Heath", "plain", "2028-12", 300)
    calibration = calibrated(stored())
    ways = ((None, False), (TWO_YEARS_ON, False), (None, True))
    asked = [answer_runs(calibration, [question], day, after_plan).runs[0] for day, after_plan in ways]
    first, later, planned = (run["p_wear_out"] for run in asked)
    assert later == pytest.approx(first, rel=1e-9)
    assert planned == pytest.approx(first, rel=1e-3)  # a day less


def test_a_long_stay_leaves_no_run_within_the_risk():
    question = RunQuestion("cup-1", "Heath", "plain", "2056-12", 1)
    (run,) = answer_runs(calibrated(stored()), [question]).runs
    assert run["largest_run_at_risk"] == {"0.05": 0, "0.10": 0, "0.20": 0}


def test_what_store_took_is_told_apart():
    shares = (0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5)
    one, two = forecast_fleet(calibrated(stored(storage_share=shares), stored("cup-2"))).tools
    assert one["storage_share"] == dict(zip(("p05", "p10", "p25", "p50", "p75", "p90", "p95"), shares, strict=True))
    assert set(two["storage_share"].values()) == {0.0}
    assert one["moved_by_storage"] == 0.0


def test_the_quantiles_kept_are_those_told():
    assert STORAGE_QUANTILES == PROBABILITIES


def test_of_an_unknown_age_nothing_is_told():
    (tool,) = forecast_fleet(calibrated(stored(spent=np.nan))).tools
    assert set(tool["storage_share"].values()) == {None}
    assert tool["moved_by_storage"] is None


# --- idle at its plant, and what was stood by the calibration's day ----------------------------------------------------

IDLE_PER_YEAR = SHARE * np.exp(EXPONENT * AIR) * BAND


def idle(**cells) -> Tool:
    given = {
        "status": "idle", "in_store": False, "store_log_corrosivity": 0.0, "idle_from": AS_OF - dt.timedelta(days=40),
        "stood_years": (40 / 365.25, 0.0), "stood_log_corrosivity": (AIR, 0.0),
    }  # fmt: skip
    return stored(**{**given, **cells})


def asked_of(tool: Tool, month: str, shots: float = 300, day: dt.date | None = None) -> float:
    (run,) = answer_runs(calibrated(tool), [RunQuestion("cup-1", "Heath", "plain", month, shots)], day).runs
    return run["p_wear_out"]


def test_a_run_of_an_idle_tool_counts_what_it_stood_and_will_stand():
    """By the calibration's day forty days, in the air that they were stood in; then until the month, in that of its plant."""
    plant = known_calibration([idle()], shape=SHAPE, samples=4, coefficients=STORAGE)
    air = plant.plants.level[0, [c.name for c in PLANT_COVARIATES].index("log_corrosivity")]
    stood = IDLE_PER_YEAR * 40 / 365.25
    ahead = SHARE * np.exp(EXPONENT * air) * BAND * days(dt.date(2026, 12, 1)) / 365.25
    expected = 1 - np.exp(hazard(SPENT - stood) - hazard(SPENT + ahead + 300))
    assert asked_of(idle(), "2026-12") == pytest.approx(expected)
    assert asked_of(idle(), "2026-12") > asked_of(idle(stood_years=(0.0, 0.0)), "2026-12") > asked_of(idle(idle_from=None), "2026-12")


def test_a_tool_in_use_stands_only_beyond_the_usual_pause():
    running = idle(status="running", stood_years=(0.0, 0.0), idle_from=AS_OF + dt.timedelta(days=60))
    never = idle(status="running", stood_years=(0.0, 0.0), idle_from=None)
    assert asked_of(running, "2026-07") == asked_of(never, "2026-07")
    assert asked_of(running, "2027-07") > asked_of(never, "2027-07")


def test_time_stood_in_store_before_the_calibration_is_no_better_known_than_after():
    stay = 2.0 * PER_YEAR
    tool = stored(spent=SPENT + stay, stood_years=(0.0, 2.0), stood_preserved=(0.0, 1.0), stood_log_corrosivity=(0.0, AIR))
    until = PER_YEAR * (days(dt.date(2026, 12, 1))) / 365.25
    assert asked_of(tool, "2026-12") == pytest.approx(1 - np.exp(hazard(SPENT) - hazard(SPENT + stay + until + 300)))
