"""The risk of a run against its closed form, and what cannot be answered."""

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from known_fleet import AS_OF, Plant, Resin, Tool, known_calibration
from scipy import stats

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.clock import question_day
from wearfit.forecasts.largest_run import LARGEST_RUN
from wearfit.forecasts.next_run import Runs, answer_runs
from wearfit.forecasts.run_question import RunQuestion

RUN = RunQuestion("cup-1", "Heath", "plain", "2026-06", 400)
SETUP_SHOTS = 50.0
PLANTS = (Plant("Heath", wear=0.1, sudden=0.3), Plant("Quay", wear=0.4, season=(0.0,) * 8 + (0.5,) + (0.0,) * 3))
RESINS = (Resin("plain"), Resin("glass", filler=3.0))
COEFFICIENTS = {
    "log_setup": np.log(SETUP_SHOTS), "slope.filler_hard": 0.1, "slope.filler_soft": 0.3, "slope.modification": 0.2,
    "slope.sweating_within": 0.6, "log_sudden_per_life": np.log(0.2), "log_sudden_per_handling": np.log(0.02), "class_offset.103": 0.25,
}  # fmt: skip


def ask(calibration: Calibration, question: RunQuestion = RUN, as_of: dt.date | None = None, after_plan: bool = False) -> dict[str, Any]:
    (run,) = answer_runs(calibration, [question], as_of, after_plan).as_json()["runs"]
    return run


def wears_out(wear: float, spent: float, life: float = 1000.0, shape: float = 2.5) -> float:
    law = stats.weibull_min(shape, scale=life)
    return float(1.0 - law.sf(spent + wear) / law.sf(spent))


def test_risk_is_the_laws_own():
    run = ask(known_calibration([Tool(spent=500.0)], samples=3))
    assert run["p_wear_out"] == pytest.approx(wears_out(400.0, 500.0), rel=1e-12)
    np.testing.assert_allclose(run["p_wear_out_interval"], wears_out(400.0, 500.0))
    assert run["p_any_stop"] == pytest.approx(run["p_wear_out"])
    assert run["problem"] is None


@pytest.mark.parametrize(
    ("steel", "plant", "resin", "month", "log_wear"),
    [
        ("soft", "Heath", "plain", "2026-06", 0.1),
        ("soft", "Heath", "glass", "2026-06", 0.1 + 3 * 0.3),
        ("hard", "Quay", "glass", "2026-07", 0.4 + 3 * 0.1),
        ("hard", "Quay", "glass", "2026-09", 0.4 + 3 * 0.1 + 0.5 * 0.6),  # the sweating month, this year
        ("stainless", "Quay", "plain", "2029-09", 0.4 + 0.5 * 0.6),  # and any other
    ],
)
def test_wear_is_that_of_the_plant_resin_steel_and_month_with_one_set_up(steel: str, plant: str, resin: str, month: str, log_wear: float):
    tool = Tool(spent=300.0, steel=steel, modifications=2, setups_per_shot=0.5, setup_share=0.8)
    calibration = known_calibration([tool], plants=PLANTS, resins=RESINS, coefficients=COEFFICIENTS, samples=2)
    run = ask(calibration, RunQuestion("cup-1", plant, resin, month, 90))
    wear = np.exp(log_wear + 2 * 0.2) * (90 + 0.8 * SETUP_SHOTS)
    assert run["p_wear_out"] == pytest.approx(wears_out(wear, 300.0), rel=1e-12)


def test_risk_is_the_mean_and_the_interval_the_quantiles_of_the_draws():
    rng = np.random.default_rng(4)
    life, spent, shape = rng.lognormal(7.0, 0.5, 501), rng.uniform(0.0, 600.0, 501), rng.lognormal(0.8, 0.2, 501)
    run = ask(known_calibration([Tool(spent=spent, life=life)], shape=shape, samples=501))
    by_draw = [wears_out(400.0, s, eta, k) for s, eta, k in zip(spent, life, shape, strict=True)]
    assert run["p_wear_out"] == pytest.approx(np.mean(by_draw), rel=1e-12)
    np.testing.assert_allclose(run["p_wear_out_interval"], np.quantile(by_draw, (0.05, 0.95), method="inverted_cdf"))


@pytest.mark.parametrize(("plant", "handlings", "log_plant"), [("Heath", 1, 0.3), ("Quay", 2, 0.0)])
def test_any_stop_counts_sudden_stops_and_the_move_to_another_plant(plant: str, handlings: int, log_plant: float):
    tool = Tool(spent=300.0, log_band=np.log(5000.0))
    calibration = known_calibration([tool], plants=PLANTS, resins=RESINS, coefficients=COEFFICIENTS, samples=2)
    run = ask(calibration, RunQuestion("cup-1", plant, "plain", "2026-06", 90))
    stops = np.exp(log_plant) * (90 * 0.2 / 5000.0 / np.exp(0.25) + handlings * 0.02)
    assert run["p_any_stop"] == pytest.approx(1.0 - (1.0 - run["p_wear_out"]) * np.exp(-stops), rel=1e-12)


def test_a_tool_whose_place_is_not_known_is_not_said_to_move():
    calibration = known_calibration([Tool(spent=300.0, plant=-1)], plants=PLANTS, coefficients=COEFFICIENTS, samples=2)
    run = ask(calibration, replace(RUN, plant_id="Quay", shots=1))
    stops = 1 * 0.2 / np.exp(0.25) + 0.02
    assert run["p_any_stop"] == pytest.approx(1.0 - (1.0 - run["p_wear_out"]) * np.exp(-stops), rel=1e-12)


def test_largest_run_is_the_risk_turned_round():
    rng = np.random.default_rng(7)
    tool = Tool(spent=rng.uniform(0.0, 4e5, 300), life=rng.lognormal(13.0, 0.4, 300))
    calibration = known_calibration([tool], shape=2.5, samples=300, plants=PLANTS, coefficients=COEFFICIENTS)
    largest = ask(calibration)["largest_run_at_risk"]
    assert list(largest) == ["0.05", "0.10", "0.20"]
    for risk, shots in largest.items():
        assert ask(calibration, replace(RUN, shots=shots))["p_wear_out"] <= float(risk)
        assert ask(calibration, replace(RUN, shots=shots + 1))["p_wear_out"] > float(risk)


def test_largest_run_by_its_closed_form():
    largest = ask(known_calibration([Tool(life=1e6)], samples=2))["largest_run_at_risk"]
    law = stats.weibull_min(2.5, scale=1e6)
    assert largest == {risk: int(law.ppf(float(risk))) for risk in ("0.05", "0.10", "0.20")}


def test_largest_run_is_zero_where_one_shot_is_too_much():
    largest = ask(known_calibration([Tool(spent=900.0, life=10.0)], shape=4.0, samples=2))["largest_run_at_risk"]
    assert largest == {"0.05": 0, "0.10": 0, "0.20": 0}


def test_largest_run_of_a_tool_that_lasts_for_ever_is_bounded():
    largest = ask(known_calibration([Tool(life=1e30)], samples=2))["largest_run_at_risk"]
    assert all(LARGEST_RUN <= size <= 2 * LARGEST_RUN for size in largest.values())


@pytest.mark.parametrize(("risk", "called"), [(0.1, "0.10"), (0.125, "0.125"), (0.57 / 100, "0.0057")])
def test_largest_runs_of_many_questions_at_a_risk_of_ones_own_are_those_of_each_alone(risk: float, called: str):
    calibration = known_calibration([Tool("cup-1"), Tool("cup-2", spent=30_000.0)], plants=(Plant("Heath"), Plant("Moor")), samples=50)
    runs = Runs(calibration)
    asked = [replace(RUN, tool_id=tool, plant_id=plant, month=month) for tool in ("cup-1", "no-such", "cup-2") for plant in ("Heath", "Fen")
             for month in (RUN.month, "1999-01")]  # fmt: skip
    day = question_day(calibration, None)
    for after_plan in (False, True):
        alone = [runs.run(question, day, after_plan) for question in asked]
        answers = runs.answers(asked, day, after_plan, (risk,))
        found = [answer["largest_run_at_risk"][called] for answer in answers]
        assert found == [None if isinstance(run, str) else int(run.largest((risk,))[0, 0]) for run in alone]
        assert [{**answer, "largest_run_at_risk": {}} for answer in answers] == [
            {**answer, "largest_run_at_risk": {}} for answer in runs.answers(asked, day, after_plan)
        ]
        assert sum(size is not None for size in found) == 4


def test_levels_never_seen_are_listed_as_new():
    plants, resins = (Plant("Heath"), Plant("Moor", seen=False)), (Resin("plain"), Resin("foam", seen=False))
    tools = [Tool("cup-1"), Tool("lid-1", design=1)]
    calibration = known_calibration(
        tools, plants=plants, resins=resins, designs={"cup": True, "lid": False}, samples=50, scales={"plant": 0.3, "resin": 0.3}
    )
    assert ask(calibration)["new"] == []
    assert ask(calibration, replace(RUN, plant_id="Moor", resin_id="foam"))["new"] == ["Moor", "foam"]
    assert ask(calibration, replace(RUN, plant_id="Fen", resin_id="mystery"))["new"] == ["Fen", "mystery"]
    assert ask(calibration, replace(RUN, tool_id="lid-1"))["new"] == ["lid"]


def test_a_level_never_seen_widens_the_answer():
    calibration = known_calibration([Tool(spent=500.0)], samples=2000, scales={"plant": 0.5, "resin": 0.5, "sudden_plant": 0.5})
    known, new = ask(calibration), ask(calibration, replace(RUN, plant_id="Fen", resin_id="mystery"))
    assert known["p_wear_out_interval"][1] - known["p_wear_out_interval"][0] == 0.0
    low, high = new["p_wear_out_interval"]
    assert low < known["p_wear_out"] < high
    # known_fleet: log wear of such a plant and such a resin, with one of each seen.
    spread = np.sqrt(2 * 0.5**2 * 2 + 0.4**2)
    factors = stats.norm(0.3, spread)
    for probability, answer in ((0.05, low), (0.95, high)):
        below, above = (wears_out(400.0 * np.exp(factors.ppf(p)), 500.0) for p in (probability - 0.02, probability + 0.02))
        assert below < answer < above


def test_each_row_is_asked_alone():
    calibration = known_calibration([Tool("cup-1", spent=300.0), Tool("cup-2", spent=600.0)], samples=10)
    asked = [RUN, replace(RUN, tool_id="cup-2"), RUN, replace(RUN, tool_id="nowhere"), RUN]
    runs = answer_runs(calibration, asked).runs
    assert runs[0] == runs[2] == runs[4] == ask(calibration)
    assert [run["tool_id"] for run in runs] == ["cup-1", "cup-2", "cup-1", "nowhere", "cup-1"]


@pytest.mark.parametrize(
    ("question", "says"),
    [
        (replace(RUN, tool_id="nowhere"), "not in the records"),
        (replace(RUN, tool_id="cup-0"), "retired"),
        (replace(RUN, tool_id="worn"), "worn"),
        (replace(RUN, tool_id="old"), "opening_life_shots"),
        (replace(RUN, month="2026-04"), "before the as-of day"),
        (replace(RUN, month="2026-13"), "YYYY-MM"),
        (replace(RUN, month="26-06"), "YYYY-MM"),
        (replace(RUN, month="2026-06-01"), "YYYY-MM"),
        (replace(RUN, month="9999-12"), "100 years"),
        (replace(RUN, shots=0), "above 0"),
        (replace(RUN, shots=-5), "above 0"),
        (replace(RUN, shots=10**10), "no more than"),
    ],
)
@pytest.mark.parametrize("after_plan", [False, True])
def test_a_row_that_cannot_be_answered_says_why_in_the_shape_of_the_others(question: RunQuestion, says: str, after_plan: bool):
    tools = [Tool("cup-1"), Tool("worn", status="worn"), Tool("old", spent=np.nan)]
    calibration = known_calibration(tools, samples=2, retired=["cup-0"])
    answer = answer_runs(calibration, [question], after_plan=after_plan)
    (run,) = answer.runs
    assert says in run["problem"]
    assert not answer.any_answered
    assert run.keys() == ask(calibration).keys()
    assert run["p_wear_out"] is run["p_any_stop"] is None
    assert run["p_wear_out_interval"] == [None, None]
    assert set(run["largest_run_at_risk"].values()) == {None}
    assert answer_runs(calibration, [question, RUN]).any_answered


def test_a_held_tool_is_told_to_stop_and_a_stored_one_is_asked_as_it_lies():
    tools = [Tool("cup-1", spent=500.0), Tool("held", spent=500.0, status="held"), Tool("stored", spent=500.0, status="stored")]
    calibration = known_calibration(tools, samples=2)
    free, held, stored = (ask(calibration, replace(RUN, tool_id=name, month="2027-05")) for name in ("cup-1", "held", "stored"))
    assert [run["hold"] for run in (free, held, stored)] == [False, True, False]
    assert free["p_wear_out"] == held["p_wear_out"] == stored["p_wear_out"]


def test_after_plan_counts_the_use_up_to_the_runs_month_first():
    tools = [
        Tool("cup-1", spent=100.0, stated=20.0, plan={1: 50.0, 2: 70.0}),
        Tool("stored", spent=100.0, stated=20.0, plan={1: 50.0, 2: 70.0}, status="stored"),
    ]
    calibration = known_calibration(tools, samples=2)
    september = replace(RUN, month="2026-09")
    assert ask(calibration, september)["p_wear_out"] == pytest.approx(wears_out(400.0, 100.0))
    assert ask(calibration, september, after_plan=True)["p_wear_out"] == pytest.approx(wears_out(400.0, 100.0 + 50 + 70 + 20))
    stored = ask(calibration, replace(september, tool_id="stored"), after_plan=True)
    assert stored["p_wear_out"] == pytest.approx(wears_out(400.0, 100.0 + 50 + 70))
    assert ask(calibration, RUN, after_plan=True) == ask(calibration, RUN)


def test_a_later_day_asks_from_the_clock_rolled_forward():
    calibration = known_calibration([Tool(spent=100.0, stated=20.0)], samples=2)
    day = dt.date(2026, 8, 31)
    run = ask(calibration, replace(RUN, month="2026-09"), day)
    assert run["p_wear_out"] == pytest.approx(wears_out(400.0, 160.0))
    assert ask(calibration, replace(RUN, month="2026-07"), day)["problem"]
    assert ask(calibration, replace(RUN, month="2026-08"), day)["p_wear_out"] == run["p_wear_out"]
    with pytest.raises(Refusal, match="future"):
        answer_runs(calibration, [RUN], AS_OF - dt.timedelta(days=1))


def test_a_tool_that_came_through_is_trusted_more():
    life = np.array([300.0, 2000.0] * 20)
    calibration = known_calibration([Tool(spent=200.0, life=life, stated=100.0)], samples=40)
    run = ask(calibration, replace(RUN, month="2026-09", shots=50), dt.date(2026, 8, 31))
    laws = [stats.weibull_min(2.5, scale=eta) for eta in (300.0, 2000.0)]
    came_through = [law.sf(500.0) / law.sf(200.0) for law in laws]
    risks = [wears_out(50.0, 500.0, eta) for eta in (300.0, 2000.0)]
    assert run["p_wear_out"] == pytest.approx(np.average(risks, weights=came_through))
