"""Age replacement against published values, closed forms and a simulation of its own."""

import math

import numpy as np
import pytest
from known_draws import known_new_tool

from wearfit.decisions.decision import decide
from wearfit.decisions.replacement_age import PER, REPLACEMENT_AGE, cost_rates


def asked(tool, planned: float, failure: float):
    return decide(REPLACEMENT_AGE, tool, {"planned_cost": planned, "failure_cost": failure})


def test_barlow_and_hunter_against_the_published_optimum():
    # Barlow & Hunter 1960; Barlow & Proschan 1965: eta 1000, k 2.5, planned 1, failure 5.
    outcome = asked(known_new_tool(1000.0, 2.5, samples=3), 1.0, 5.0)
    assert outcome.details["best_age_shots"] == pytest.approx(493.047, rel=1e-4)
    never = outcome.actions[0].expected_cost / PER
    assert never == pytest.approx(0.00563530, rel=1e-5)
    assert never * (1.0 - outcome.details["saving"]) == pytest.approx(0.00346204, rel=1e-5)


@pytest.mark.parametrize(
    ("shape", "ratio", "age", "saving"), [(3, 2, 0.92, 12), (3, 3, 0.72, 28), (3, 5, 0.57, 46), (3, 10, 0.43, 65), (2, 2, 1.31, 3)]
)
def test_best_age_over_the_median_and_the_saving(shape: float, ratio: float, age: float, saving: float):
    # The trade notes' computed table, section 7.
    found = asked(known_new_tool(700.0, shape, samples=3), 1.0, ratio).details
    assert found["best_age_shots"] / found["median_life_shots"] == pytest.approx(age, abs=0.005)
    assert 100.0 * found["saving"] == pytest.approx(saving, abs=0.5)


@pytest.mark.parametrize(
    ("shape", "planned", "failure"), [(2.5, 0.0, 0.0), (1.0, 1.0, 5.0), (0.8, 1.0, 5.0), (2.5, 1.0, 1.0), (2.5, 2.0, 1.0)]
)
def test_no_finite_optimum_is_said_plainly(shape: float, planned: float, failure: float):
    # The same sources: none where k <= 1 or failure costs no more; the rate is then c_f / MTTF.
    outcome = asked(known_new_tool(1000.0, shape, samples=3), planned, failure)
    assert outcome.details["best_age_shots"] is None
    assert outcome.best == "run it until it stops"
    assert outcome.advice.startswith("No planned age pays")
    mean_life = 1000.0 * math.gamma(1.0 + 1.0 / shape)
    assert outcome.actions[0].expected_cost / PER == pytest.approx(failure / mean_life, rel=2e-4)


def test_sudden_stops_stay_and_move_the_best_age_out():
    calm = asked(known_new_tool(1000.0, 3.0, samples=3), 1.0, 3.0).details
    sudden = asked(known_new_tool(1000.0, 3.0, sudden=1e-3, samples=3), 1.0, 3.0).details
    assert sudden["best_age_shots"] > calm["best_age_shots"]
    assert sudden["saving"] < calm["saving"]


def test_rates_with_sudden_stops_against_a_simulation():
    shape, life, rate, age = 2.5, 1000.0, 4e-4, 600.0
    rng = np.random.default_rng(5)
    lives = np.minimum(life * rng.weibull(shape, 400_000), rng.exponential(1.0 / rate, 400_000))
    cost, length = np.where(lives < age, 5.0, 1.0), np.minimum(lives, age)
    found = cost_rates(np.geomspace(1.0, age, 200), np.log([life]), np.array([shape]), np.array([rate]), 1.0, 5.0)[0, -1]
    expected = cost.mean() / length.mean()
    error = (cost - expected * length).std() / length.mean() / np.sqrt(len(lives))
    assert abs(found - expected) < 4.0 * error


def test_the_rate_is_averaged_over_the_draws_not_the_age():
    tool = known_new_tool(1000.0, 2.5, samples=4, tool_sd=0.8)
    found = asked(tool, 1.0, 5.0).details["best_age_shots"]
    ages = np.geomspace(50.0, 5000.0, 4000)
    rates = cost_rates(ages, tool.log_life, tool.shape, tool.sudden_per_shot, 1.0, 5.0).mean(axis=0)
    assert found == pytest.approx(ages[rates.argmin()], rel=2e-3)
    assert found != pytest.approx(493.047 / 1000.0 * np.exp(tool.log_life).mean(), rel=0.02)


def test_an_infinite_age_is_running_to_failure():
    rates = cost_rates(np.append(np.geomspace(1.0, 1e5, 500), np.inf), np.log([1000.0]), np.array([2.0]), np.array([0.0]), 1.0, 4.0)
    assert rates[0, -1] == pytest.approx(4.0 / (1000.0 * math.gamma(1.5)), rel=1e-5)
