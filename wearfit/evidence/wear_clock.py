"""Forecasts of the wear clock at a past day, for the runs that were then made."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from wearfit.calibration import Calibration
from wearfit.evidence.forecaster import Forecaster, RunChance, told
from wearfit.evidence.outcomes import Outcome
from wearfit.forecasts.ahead import look_ahead
from wearfit.forecasts.next_run import Runs
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.quantiles import weighted_mean
from wearfit.forecasts.run_question import RunQuestion

Array = np.ndarray

HORIZON_DAYS = 3_652.5  # how far ahead days are told apart; shots go on beyond


def wear_clock(calibration: Calibration) -> Forecaster:
    """What a calibration says on its own day.

    Notes
    -----
    A run is asked where, in what and in the month that it was made, as `wearfit next-run` is asked; those before it are counted with
    the shots that were made in them and the tool is taken to have come through them. Shots left are those of `wearfit forecast`, as
    the tool was used by then: nothing of the runs to come is known.
    """
    day = dt.date.fromisoformat(calibration.identity.as_of)
    runs = Runs(calibration)
    live = calibration.live
    rows = np.flatnonzero(live.status != "worn")
    ahead = look_ahead(calibration, read_outlook(calibration), rows, day, HORIZON_DAYS)
    names = [str(calibration.levels.tool[live.tool[row]]) for row in rows]
    within = {
        name: _within(ahead.arrival.wear_shots[:, i], ahead.clocks.weights[:, i]) for i, name in enumerate(names) if not ahead.unknown[i]
    }
    return Forecaster(lambda outcome: _run_chances(runs, outcome, day), within)


def _within(draws: Array, weights: Array) -> Callable[[Array], Array]:
    """Share of the weight of some draws at or under each point."""
    order = np.argsort(draws, kind="stable")
    reached = np.concatenate([[0.0], np.cumsum(weights[order])])
    ranked = draws[order]
    return lambda shots: np.asarray(reached[np.searchsorted(ranked, shots, side="right")] / reached[-1])


def _run_chances(runs: Runs, outcome: Outcome, day: dt.date) -> tuple[RunChance, ...]:
    """Chance of each run of one tool in turn."""
    chances: list[RunChance] = []
    made = stops = np.zeros(1)  # wear of the runs so far, and sudden stops expected in them
    good, stood = np.ones(1), None  # chance of having come so far, and wear before the first run in store or idle
    for asked in outcome.runs:
        question = RunQuestion(outcome.tool_id, asked.plant_id, asked.resin_id, asked.month, asked.shots)
        run = runs.run(question, day, after_plan=False)
        if isinstance(run, str):
            raise ValueError(f"{outcome.tool_id}: {run}")  # it was live, of known age and not worn
        stood = run.stood if stood is None else stood
        setups = asked.setups * run.per_setup
        whole, broken_off = (run.wear * (shots + setups) for shots in (asked.shots, asked.made))
        start = run.clocks.spent + stood + made
        good_after = 1.0 - run.clocks.ends_before(start + whole)
        unstopped = np.exp(-stops)
        goes_on = good_after * unstopped * np.exp(-runs.sudden_stops([question], run.rows))
        lasts = _share(good_after, good, run.clocks.weights)
        stopped = told(1.0 - _share(goes_on, good * unstopped, run.clocks.weights))
        chances.append(RunChance(told(1.0 - lasts), stopped, _by_draw(good_after, good, run.clocks.weights)))
        made = made + broken_off
        good = 1.0 - run.clocks.ends_before(start + broken_off)
        stops = stops + runs.sudden_stops([replace(question, shots=asked.made)], run.rows)
    return tuple(chances)


def _by_draw(after: Array, before: Array, weights: Array) -> Array:
    """What each draw adds to the chance of not being good after a run, times the number of draws, shape (sample,)."""
    lost = (weights * (before - after))[:, 0]
    of = float((weights * np.broadcast_to(before, after.shape)).sum())
    return np.asarray(lost * len(lost) / of) if of > 0.0 else np.zeros(len(lost))


def _share(after: Array, before: Array, weights: Array) -> float:
    """Chance of being good after a run given that the tool was good before it, over the draws; arrays of shape (sample, 1) or (1,)."""
    of = float(weighted_mean(np.broadcast_to(before, after.shape), weights)[0])
    return float(weighted_mean(after, weights)[0]) / of if of > 0.0 else 0.0
