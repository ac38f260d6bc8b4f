"""The risk along a run and what it hangs on, against closed forms."""

import datetime as dt

import numpy as np
import pytest
from known_fleet import AS_OF, Plant, Resin, Tool, known_calibration
from scipy import stats

from wearfit.calibration import Calibration
from wearfit.forecasts.hangs_on import Dependence, hangs_on
from wearfit.forecasts.next_run import Runs
from wearfit.forecasts.run import Run
from wearfit.forecasts.run_question import RunQuestion
from wearfit.forecasts.run_risk import POINTS, risk_along, run_hangs_on

RUN = RunQuestion("cup-1", "Heath", "plain", "2026-06", 400)
EVEN = np.ones(20_000)


def prepared(calibration: Calibration, question: RunQuestion = RUN, as_of: dt.date = AS_OF, after_plan: bool = False) -> Run:
    run = Runs(calibration).run(question, as_of, after_plan)
    assert isinstance(run, Run)
    return run


def by_name(found: tuple[Dependence, ...]) -> dict[str, Dependence]:
    return {one.name: one for one in found}


def test_the_curve_is_the_laws_own_and_begins_with_the_set_up():
    calibration = known_calibration([Tool(spent=500.0)], samples=3, coefficients={"log_setup": np.log(30.0)})
    along = risk_along(prepared(calibration), 600.0)
    law = stats.weibull_min(2.5, scale=1000.0)
    expected = 1.0 - law.sf(530.0 + np.linspace(0.0, 600.0, POINTS)) / law.sf(500.0)
    np.testing.assert_allclose(along.chance, expected, rtol=1e-12)
    np.testing.assert_allclose(along.low, expected)
    np.testing.assert_allclose(along.high, expected)


def test_the_curve_passes_through_the_answer_and_its_interval():
    rng = np.random.default_rng(3)
    calibration = known_calibration([Tool(spent=rng.uniform(0.0, 600.0, 400), life=rng.lognormal(7.0, 0.5, 400))], samples=400)
    answer = Runs(calibration).answer(RUN, AS_OF, False)
    along = risk_along(prepared(calibration), float(RUN.shots))
    assert along.chance[-1] == pytest.approx(answer["p_wear_out"], rel=1e-12)
    assert [along.low[-1], along.high[-1]] == pytest.approx(answer["p_wear_out_interval"])
    assert np.all(np.diff(along.chance) > 0.0)


def test_a_risk_of_ones_own_is_turned_round():
    calibration = known_calibration([Tool(life=1e6)], samples=2)
    law = stats.weibull_min(2.5, scale=1e6)
    for risk in (0.003, 0.37, 0.9):
        assert prepared(calibration).largest((risk,))[0, 0] == int(law.ppf(risk))


def test_shares_of_a_sum_are_those_of_its_variance():
    a, b, c = np.random.default_rng(1).standard_normal((3, len(EVEN)))
    found = by_name(hangs_on(3.0 * a + 2.0 * b + 0.0 * c, EVEN, {"a": a, "b": b, "c": c}))
    assert found["a"].share == pytest.approx(9.0 / 13.0, abs=0.02)
    assert found["b"].share == pytest.approx(4.0 / 13.0, abs=0.02)
    assert found["c"].share == pytest.approx(0.0, abs=0.005)


def test_causes_that_go_together_each_take_away_what_the_other_would():
    rng = np.random.default_rng(2)
    a = rng.standard_normal(len(EVEN))
    b = 0.8 * a + 0.6 * rng.standard_normal(len(EVEN))
    found = by_name(hangs_on(a + b, EVEN, {"a": a, "b": b}))
    # E[a + b | a] = 1.8 a, and the variance of the sum is 3.6.
    assert found["a"].share == pytest.approx(1.8**2 / 3.6, abs=0.02)
    assert found["b"].share == pytest.approx(1.8**2 / 3.6, abs=0.02)


def test_a_bend_is_seen_and_both_ends_are_the_means_there():
    x = np.random.default_rng(5).uniform(-1.0, 1.0, len(EVEN))
    (found,) = hangs_on(x**2, EVEN, {"x": x})
    assert found.share > 0.97
    straight = hangs_on(-x, EVEN, {"x": x})[0]
    assert straight.good == pytest.approx(-0.8, abs=0.01)  # the mean of the last fifth of a uniform
    assert straight.bad == pytest.approx(0.8, abs=0.01)


def test_noise_explains_nothing_though_there_are_few_draws():
    rng = np.random.default_rng(6)
    shares = [hangs_on(rng.standard_normal(200), np.ones(200), {"x": rng.standard_normal(200)})[0].share for _ in range(60)]
    assert np.mean(shares) < 0.04


def test_weights_count_as_repeats_do():
    rng = np.random.default_rng(8)
    x, noise = rng.standard_normal((2, 4000))
    weights = rng.integers(0, 4, 4000)
    (weighted,) = hangs_on(x + noise, weights.astype(float), {"x": x})
    (repeated,) = hangs_on(np.repeat(x + noise, weights), np.ones(weights.sum()), {"x": np.repeat(x, weights)})
    assert weighted.share == pytest.approx(repeated.share, abs=0.01)
    assert [weighted.good, weighted.bad] == pytest.approx([repeated.good, repeated.bad], abs=0.01)


def test_a_cause_that_is_known_explains_nothing():
    (found,) = hangs_on(np.arange(500.0), np.ones(500), {"x": np.full(500, 2.0)})
    assert (found.share, found.good, found.bad) == (0.0, 249.5, 249.5)


@pytest.mark.parametrize("cause", ["plant", "resin", "shape", "age", "kind", "setup"])
def test_the_one_thing_that_is_unsure_is_named(cause: str):
    unsure = np.random.default_rng(9).normal(0.0, 0.3, 2000)
    tool = Tool(spent=200.0 * np.exp(unsure) if cause == "age" else 200.0, life=1000.0 * np.exp(unsure) if cause == "kind" else 1000.0)
    calibration = known_calibration(
        [tool],
        shape=2.5 * np.exp(unsure) if cause == "shape" else 2.5,
        plants=(Plant("Heath", wear=unsure if cause == "plant" else 0.0),),
        resins=(Resin("plain", wear=unsure if cause == "resin" else 0.0),),
        coefficients={"log_setup": np.log(100.0) + (unsure if cause == "setup" else 0.0)},
    )
    found = run_hangs_on(calibration, prepared(calibration), 400.0)
    assert found[0].name == cause
    assert found[0].share > 0.95
    assert {one.share for one in found[1:]} == {0.0}


def test_use_until_the_run_is_named_where_it_is_counted():
    tool = Tool(spent=300.0, recent=[0.0, 60.0, 10.0, 120.0])
    calibration = known_calibration([tool])
    later = RunQuestion("cup-1", "Heath", "plain", "2026-09", 200)
    assert run_hangs_on(calibration, prepared(calibration, later, after_plan=True), 200.0)[0].name == "use"
