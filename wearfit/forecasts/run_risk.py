"""One next run in full: the risk along it, and what its risk hangs on."""

import datetime as dt
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit import law
from wearfit.calibration import Calibration
from wearfit.forecasts.hangs_on import Dependence, hangs_on
from wearfit.forecasts.next_run import Runs
from wearfit.forecasts.quantiles import weighted_mean, weighted_quantiles
from wearfit.forecasts.run import Run
from wearfit.forecasts.run_question import RunQuestion

Array = np.ndarray

POINTS: Final = 61  # of the curve
BAND: Final = (0.05, 0.95)
BEYOND: Final = 1.25  # of the run that is asked about, the curve goes on for


@dataclass(frozen=True)
class RiskAlong:
    """The chance that the tool is worn out by the time that so many shots of the run are made. Arrays of shape (point,).

    Parameters
    ----------
    shots : array
        Evenly spaced from 0, where the run is set up and nothing is made yet.
    chance, low, high : array
        Mean of the draws, and the ends of the interval that holds 90 % of them.
    """

    shots: Array
    chance: Array
    low: Array
    high: Array


@dataclass(frozen=True)
class RunRisk:
    """One run in full.

    Parameters
    ----------
    answer : dict
        As `answer_runs` gives it.
    along : RiskAlong or None
        None where there is no answer; `answer` then says why.
    hangs_on : tuple of Dependence
        Named tool, kind, age, use, plant, resin, setup, shape; the largest share first.
    """

    answer: dict[str, Any]
    along: RiskAlong | None
    hangs_on: tuple[Dependence, ...]


def run_risk(calibration: Calibration, runs: Runs, question: RunQuestion, day: dt.date, after_plan: bool) -> RunRisk:
    """One run in full.

    Parameters
    ----------
    runs : Runs
        Of the same calibration.
    day : date
        Not before the calibration's.
    after_plan : bool
        As for `answer_runs`.
    """
    run = runs.run(question, day, after_plan)
    answer = runs.answered(question, run)
    if isinstance(run, str):
        return RunRisk(answer, None, ())
    return RunRisk(answer, risk_along(run, BEYOND * question.shots), run_hangs_on(calibration, run, question.shots))


def risk_along(run: Run, furthest: float) -> RiskAlong:
    """The risk along a run, up to so many shots."""
    shots = np.linspace(0.0, furthest, POINTS)
    by_draw = np.concatenate([run.p_wear_out(n) for n in shots], axis=1)
    weights = np.broadcast_to(run.clocks.weights, by_draw.shape)
    low, high = weighted_quantiles(by_draw, weights, BAND)
    return RiskAlong(shots, weighted_mean(by_draw, weights), low, high)


def run_hangs_on(calibration: Calibration, run: Run, shots: float) -> tuple[Dependence, ...]:
    """What the risk of a run of so many shots hangs on.

    Notes
    -----
    tool: the tool's own log life beside others of its kind. kind: log life of its class, steel, coating, design and maker. age: wear behind
    it at the calibration's day. use: wear between that day and the run, where some is counted. plant, resin: their factors on wear per
    shot. setup: what a set-up costs. shape: how sharply tools wear out.
    """
    live, row = calibration.live, int(run.rows[0])
    log_life = np.log(np.asarray(calibration.draws.characteristic_life[:, row], dtype=float))
    own = np.asarray(calibration.draws.tool[:, int(live.tool[row])], dtype=float)
    calibrated = np.asarray(calibration.draws.wear_spent[:, row], dtype=float)
    causes = {
        "tool": own,
        "kind": log_life - own,
        "age": calibrated,
        "use": (run.clocks.spent + run.stood)[:, 0] - calibrated,
        "plant": run.plant_wear[:, 0],
        "resin": run.resin_wear[:, 0],
        "setup": run.per_setup[:, 0],
        "shape": law.k_of(run.clocks.shape)[:, 0],
    }
    return hangs_on(run.p_wear_out(shots)[:, 0], run.clocks.weights[:, 0], causes)
