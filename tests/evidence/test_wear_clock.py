"""Chances of runs one after another, against the next run's own answer and against the law written out, draw by draw."""

import datetime as dt

import numpy as np
import pytest
from in_double import in_double

from wearfit.calibration import Calibration, from_bytes
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.evidence.forecaster import LEAST
from wearfit.evidence.outcomes import AskedRun, Outcome
from wearfit.evidence.wear_clock import wear_clock
from wearfit.forecasts.conditions import modification_wear, read_conditions
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.next_run import answer_runs
from wearfit.forecasts.run_question import RunQuestion


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return in_double(from_bytes(shipped_calibration_bytes()))


def month_of(calibration: Calibration) -> str:
    return (dt.date.fromisoformat(calibration.identity.as_of) + dt.timedelta(days=1)).strftime("%Y-%m")


def asked(calibration: Calibration, row: int, shots: float, setups: float = 1.0) -> AskedRun:
    plant, resin = calibration.levels.plant[calibration.live.plant[row]], calibration.levels.resin[0]
    return AskedRun(str(plant), str(resin), month_of(calibration), setups, shots, shots, 0.0, 0.0)


def outcome(calibration: Calibration, row: int, *runs: AskedRun) -> Outcome:
    return Outcome(str(calibration.levels.tool[calibration.live.tool[row]]), 0, runs, 0.0, 0.0, 0.0)


def unread(calibration: Calibration, status: str = "running") -> int:
    """A tool in that status whose age is known and which has no readings."""
    alike = (calibration.live.status == status) & ~np.isnan(calibration.draws.wear_spent[0])
    alike[calibration.reads.live] = False
    return int(np.flatnonzero(alike)[0])


@pytest.mark.parametrize("status", ["running", "stored"])
def test_the_first_run_is_the_next_run(calibration: Calibration, status: str) -> None:
    row = unread(calibration, status)
    run = asked(calibration, row, 20_000.0)
    (chance,) = wear_clock(calibration).runs(outcome(calibration, row, run))
    tool = outcome(calibration, row).tool_id
    question = RunQuestion(tool, run.plant_id, run.resin_id, run.month, run.shots)
    (answer,) = answer_runs(calibration, [question]).runs
    assert chance.worn == pytest.approx(answer["p_wear_out"], rel=1e-9)
    assert chance.stopped == pytest.approx(answer["p_any_stop"], rel=1e-9)


def test_runs_one_after_another_by_the_law_written_out(calibration: Calibration) -> None:
    """Chance of the third run given the two before: 1 - E[S after it] / E[S before it], S = exp(H now - H)."""
    row = unread(calibration)
    runs = [asked(calibration, row, shots, setups) for shots, setups in ((9_000.0, 1.0), (30_000.0, 2.0), (15_000.0, 0.0))]
    told = [chance.worn for chance in wear_clock(calibration).runs(outcome(calibration, row, *runs))]

    live, draws = calibration.live, calibration.draws
    conditions = read_conditions(calibration)
    per_shot = (
        conditions.plant_wear[int(month_of(calibration)[5:]) - 1, :, live.plant[row]]
        * conditions.resin_wear[:, 0, live.steel_group[row]]
        * modification_wear(calibration, live.modifications[[row]])[:, 0]
    )
    setup = np.exp(calibration.coefficient("log_setup")) * live.setup_share[row]
    life, shape = draws.characteristic_life[:, row].astype(float), np.exp(calibration.coefficient("log_shape"))
    spent = draws.wear_spent[:, row].astype(float)
    now = (spent / life) ** shape
    good, expected = [1.0], []
    for run in runs:
        spent = spent + per_shot * (run.shots + setup * run.setups)
        good.append(float(np.exp(now - (spent / life) ** shape).mean()))
        expected.append(1.0 - good[-1] / good[-2])
    assert told == pytest.approx(expected, rel=1e-6)


def test_what_was_made_counts_for_the_next_run_and_what_was_asked_does_not(calibration: Calibration) -> None:
    row = unread(calibration)
    whole, part = asked(calibration, row, 30_000.0), asked(calibration, row, 10_000.0)
    broken_off = AskedRun(whole.plant_id, whole.resin_id, whole.month, 1.0, 30_000.0, 10_000.0, 0.0, 0.0)
    runs = wear_clock(calibration).runs
    assert runs(outcome(calibration, row, broken_off, whole))[1] == runs(outcome(calibration, row, part, whole))[1]


def test_a_chance_is_the_mean_of_what_the_draws_add_to_it(calibration: Calibration) -> None:
    row = unread(calibration)
    run = asked(calibration, row, 30_000.0)
    chances = wear_clock(calibration).runs(outcome(calibration, row, run, run, run))
    assert len(chances) == 3
    for chance in chances:
        assert chance.by_draw.mean() == pytest.approx(chance.worn, rel=1e-9)
        assert chance.by_draw.std() > 0.1 * chance.worn


def test_shots_left_are_those_of_the_forecast(calibration: Calibration) -> None:
    row = unread(calibration)
    tool = outcome(calibration, row).tool_id
    left = forecast_fleet(calibration, None, 10.0, 0.1, [tool]).as_json()["tools"][0]["remaining_shots"]
    within = wear_clock(calibration).within[tool]
    assert within(np.array([left["p10"], left["p50"], left["p90"]])) == pytest.approx([0.1, 0.5, 0.9], abs=2e-3)
    assert within(np.array([0.0]))[0] == 0.0


def test_no_chance_is_told_as_none_or_certain(calibration: Calibration) -> None:
    row = unread(calibration)
    shots = (1e-3, 1e9, 1e9)
    chances = [
        chance.worn for chance in wear_clock(calibration).runs(outcome(calibration, row, *(asked(calibration, row, n, 0.0) for n in shots)))
    ]
    assert chances == [LEAST, 1.0 - LEAST, 1.0 - LEAST]
