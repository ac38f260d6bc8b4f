"""The probability that a tool wears out before a run is finished."""

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.clock import question_day, read_clocks
from wearfit.forecasts.conditions import (
    by_draw_and_tool,
    in_precision_of,
    modification_wear,
    new_plant_sudden,
    new_plant_wear,
    new_resin_wear,
    of_tools,
    sudden_rates,
)
from wearfit.forecasts.in_pieces import piece_of
from wearfit.forecasts.news import NO_NEWS, NOTHING, News
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.quantiles import weighted_mean, weighted_quantiles
from wearfit.forecasts.run import Run
from wearfit.forecasts.run_question import RunQuestion, as_asked, clock_from, month_of, problem_of, shots_of
from wearfit.forecasts.since import heed
from wearfit.forecasts.storage import days_to, idle_days, idle_wear_per_day, store_wear_per_day
from wearfit.forecasts.use_ahead import UseAhead
from wearfit.processors import shared_out

Array = np.ndarray

DRAWS: Final = ("wear_spent", "characteristic_life", "read_told", "law")  # that are asked for
RISKS: Final = (0.05, 0.10, 0.20)
INTERVAL: Final = (0.05, 0.95)
SETUPS: Final = 1.0  # a run asked about is one set-up


@dataclass(frozen=True)
class NextRunAnswer:
    """Answers to some questions, in their order."""

    as_of: dt.date
    runs: tuple[dict[str, Any], ...]

    @property
    def any_answered(self) -> bool:
        return any(run["problem"] is None for run in self.runs)

    def as_json(self) -> dict[str, Any]:
        return {"runs": list(self.runs)}


def answer_runs(
    calibration: Calibration,
    questions: Sequence[RunQuestion],
    as_of: dt.date | None = None,
    after_plan: bool = False,
    news: News = NO_NEWS,
) -> NextRunAnswer:
    """Answer each question alone, from the clock at the as-of day.

    Parameters
    ----------
    after_plan : bool
        Count planned and expected use between the as-of day and the run's month first.
    news : News
        Readings as they stand now; those that the calibration has not seen are counted.

    Raises
    ------
    Refusal
        Where the day lies before the calibration's.
    """
    day = question_day(calibration, as_of)
    runs = Runs(calibration, news, day, {question.tool_id for question in questions})
    return NextRunAnswer(day, tuple(runs.answers(questions, day, after_plan)))


class Runs:
    """Runs of the live tools of a calibration, whose outlook, and what is new of them, is worked out once for all questions.

    Parameters
    ----------
    news : News
        Readings as they stand on `day`, by default the calibration's own; those that it has not seen are counted.
    tools : collection of str, optional
        Those that will be asked about; all by default.
    """

    def __init__(
        self, calibration: Calibration, news: News = NO_NEWS, day: dt.date | None = None, tools: Collection[str] | None = None
    ) -> None:
        calibration = calibration.as_drawn()
        self._row = {str(tool): i for i, tool in enumerate(calibration.levels.tool[calibration.live.tool].tolist())}
        self._plant, self._resin = (_places(names) for names in (calibration.levels.plant, calibration.levels.resin))
        self._outlook = read_outlook(calibration, DRAWS)
        rows = np.array([row for tool, row in self._row.items() if tools is None or tool in tools], dtype=np.int64)
        self._calibration, self._since = heed(calibration, self._outlook, rows, news, question_day(calibration, day))

    def answer(self, question: RunQuestion, day: dt.date, after_plan: bool) -> dict[str, Any]:
        """The answer to one question as `NextRunAnswer` lists it; a question without one is answered with its problem."""
        return self.answers((question,), day, after_plan)[0]

    def answers(
        self, questions: Sequence[RunQuestion], day: dt.date, after_plan: bool, risks: Sequence[float] = RISKS
    ) -> list[dict[str, Any]]:
        """The same of some questions, each asked alone, in their order.

        Parameters
        ----------
        risks : sequence of float
            In (0, 1), for which the largest run is looked for: most of an answer's work.
        """
        told: list[dict[str, Any]] = [{}] * len(questions)
        asked: dict[dt.date, list[int]] = {}  # places by the day from which the clock runs to the question
        for i, question in enumerate(questions):
            problem = problem_of(self._calibration, self._row.get(question.tool_id), question, day)
            if problem is None:
                asked.setdefault(clock_from(question, day, after_plan), []).append(i)
            else:
                told[i] = self._unanswered(question, problem, risks)
        size = piece_of(len(questions))
        chunks = [(start, places[first : first + size]) for start, places in asked.items() for first in range(0, len(places), size)]

        def answer(chunk: tuple[dt.date, list[int]]) -> list[dict[str, Any]]:
            some = [questions[i] for i in chunk[1]]
            return self._told(some, self._under(some, day, chunk[0], after_plan), risks)

        for (_, places), answers in zip(chunks, shared_out(answer, chunks), strict=True):
            for i, one in zip(places, answers, strict=True):
                told[i] = one
        return told

    def answered(self, question: RunQuestion, run: Run | str) -> dict[str, Any]:
        """The answer to one question with the tool under its conditions at hand, as `run` gives it."""
        return self._unanswered(question, run) if isinstance(run, str) else self._told([question], run)[0]

    def _told(self, questions: Sequence[RunQuestion], run: Run, risks: Sequence[float] = RISKS) -> list[dict[str, Any]]:
        p = run.p_wear_out(shots_of(questions))
        weights, largest = run.clocks.weights, run.largest(risks)
        low, high = weighted_quantiles(p, weights, INTERVAL)
        wears_out = weighted_mean(p, weights)
        stops = np.exp(-self.sudden_stops(questions, run.rows))
        stops *= 1.0 - p
        any_stop = weighted_mean(np.subtract(1.0, stops, out=stops), weights)
        called, sizes = [_called(risk) for risk in risks], largest.T.tolist()
        return [
            {
                **as_asked(question),
                "p_wear_out": float(wears_out[i]),
                "p_wear_out_interval": [float(low[i]), float(high[i])],
                "p_any_stop": float(any_stop[i]),
                "hold": str(self._calibration.live.status[row]) == "held",
                "largest_run_at_risk": dict(zip(called, sizes[i], strict=True)),
                "new": list(run.new[i]),
                **self._since.get(int(row), NOTHING).as_json(),
                "problem": None,
            }
            for i, (question, row) in enumerate(zip(questions, run.rows, strict=True))
        ]

    def run(self, question: RunQuestion, day: dt.date, after_plan: bool) -> Run | str:
        """The tool under the conditions of a question, or in a sentence why there is no answer.

        Parameters
        ----------
        day : date
            Not before the calibration's.
        after_plan : bool
            As for `answer_runs`.
        """
        problem = problem_of(self._calibration, self._row.get(question.tool_id), question, day)
        return self._under([question], day, clock_from(question, day, after_plan), after_plan) if problem is None else problem

    def _under(self, questions: Sequence[RunQuestion], day: dt.date, start: dt.date, after_plan: bool) -> Run:
        """Tools under the conditions of questions that can be answered, their clocks moved on to a day by use."""
        calibration, live = self._calibration, self._calibration.live
        rows = np.array([self._row[question.tool_id] for question in questions])
        clocks = read_clocks(calibration, rows, UseAhead(calibration, self._outlook, rows), start, self._since)
        conditions = [self._conditions(question, int(row)) for question, row in zip(questions, rows, strict=True)]
        plant_wear, resin_wear = (
            np.array(factors, calibration.precision).T for factors in zip(*((c[1], c[2]) for c in conditions), strict=True)
        )
        setup = np.exp(calibration.coefficient("log_setup"))
        return Run(
            rows=rows,
            clocks=clocks,
            plant_wear=plant_wear,
            resin_wear=resin_wear,
            wear=plant_wear * resin_wear * modification_wear(calibration, live.modifications[rows]),
            per_setup=by_draw_and_tool(setup, live.setup_share[rows] * SETUPS),
            stood=np.zeros_like(clocks.spent) if after_plan else self._stood(questions, rows, day),
            new=[c[0] for c in conditions],
        )

    def _stood(self, questions: Sequence[RunQuestion], rows: Array, day: dt.date) -> Array:
        """Wear that tools asked about alone stand until their runs' months, in store or idle at their plants, shape (sample, run)."""
        asked = [month_of(question) for question in questions]
        ahead, idle = np.zeros(len(rows)), np.zeros(len(rows))
        for month in set(asked):
            of = np.array([each == month for each in asked])
            ahead[of], idle[of] = days_to(day, month), idle_days(self._calibration, rows[of], day, month)
        stood = store_wear_per_day(self._calibration, rows)
        stood *= in_precision_of(stood, ahead)
        idles = np.flatnonzero(idle > 0)
        stood[:, idles] += idle_wear_per_day(self._calibration, rows[idles]) * in_precision_of(stood, idle[idles])
        return stood

    def sudden_stops(self, questions: Sequence[RunQuestion], rows: Array) -> Array:
        """Expected sudden stops over runs and over the moves that they take where the tools are elsewhere, shape (sample, run)."""
        calibration, at = self._calibration, self._calibration.live.plant[rows]
        plant = np.array([self._plant.get(question.plant_id, -1) for question in questions])
        factor = of_tools(self._outlook.conditions.plant_sudden, plant)
        for i in np.flatnonzero(plant < 0).tolist():
            factor[:, i] = new_plant_sudden(calibration, questions[i].plant_id)
        per_shot, per_handling = sudden_rates(calibration, rows)
        moves = (at >= 0) & (at != plant)
        shots, handlings = (in_precision_of(factor, count) for count in (shots_of(questions), SETUPS + moves))
        return factor * (per_shot * shots + per_handling * handlings)

    def _unanswered(self, question: RunQuestion, problem: str, risks: Sequence[float] = RISKS) -> dict[str, Any]:
        row = self._row.get(question.tool_id)
        return {
            **as_asked(question),
            "p_wear_out": None,
            "p_wear_out_interval": [None, None],
            "p_any_stop": None,
            "hold": row is not None and str(self._calibration.live.status[row]) == "held",
            "largest_run_at_risk": {_called(risk): None for risk in risks},
            "new": [],
            **(NOTHING if row is None else self._since.get(row, NOTHING)).as_json(),
            "problem": problem,
        }

    def _conditions(self, question: RunQuestion, row: int) -> tuple[tuple[str, ...], Array, Array]:
        """What is new to the calibration, and the factors of plant and resin on wear per shot, shape (sample,)."""
        calibration, live, conditions = self._calibration, self._calibration.live, self._outlook.conditions
        plant, resin = self._plant.get(question.plant_id, -1), self._resin.get(question.resin_id, -1)
        design, calendar_month = int(live.design[row]), month_of(question).month - 1
        by_plant = conditions.plant_wear[calendar_month, :, plant] if plant >= 0 else new_plant_wear(calibration, question.plant_id)
        by_resin = conditions.resin_wear[:, resin, live.steel_group[row]] if resin >= 0 else new_resin_wear(calibration, question.resin_id)
        new = []
        if plant < 0 or not calibration.plants.seen[plant]:
            new.append(question.plant_id)
        if resin < 0 or not calibration.resins.seen[resin]:
            new.append(question.resin_id)
        if design >= 0 and not calibration.designs.seen[design]:
            new.append(str(calibration.levels.design[design]))
        return tuple(new), by_plant, by_resin


def _places(names: Array) -> dict[str, int]:
    """Where each of some names stands, first."""
    return {str(name): i for i, name in reversed(list(enumerate(names.tolist())))}


def _called(risk: float) -> str:
    """A risk as an answer names it: to the hundredth, or as finely as it was asked for."""
    rounded = f"{risk:.2f}"
    return rounded if float(rounded) == risk else f"{risk:g}"
