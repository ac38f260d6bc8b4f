"""The probability that a tool wears out before a run is finished."""

import datetime as dt
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.clock import FURTHEST_YEARS, question_day, read_clocks
from wearfit.forecasts.conditions import modification_wear, new_plant_sudden, new_plant_wear, new_resin_wear, position, sudden_rates
from wearfit.forecasts.fleet import UNKNOWN_AGE
from wearfit.forecasts.quantiles import weighted_mean, weighted_quantiles
from wearfit.forecasts.run import LARGEST_RUN, Run
from wearfit.forecasts.since import NO_NEWS, NOTHING, News, heed
from wearfit.forecasts.storage import days_to, idle_days, idle_wear_per_day, store_wear_per_day
from wearfit.forecasts.use_ahead import UseAhead, read_outlook

Array = np.ndarray

RISKS: Final = (0.05, 0.10, 0.20)
SETUPS: Final = 1.0  # a run asked about is one set-up


@dataclass(frozen=True)
class RunQuestion:
    """A run that somebody wants to make."""

    tool_id: str
    plant_id: str
    resin_id: str
    month: str  # YYYY-MM
    shots: float


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
    return NextRunAnswer(day, tuple(runs.answer(question, day, after_plan) for question in questions))


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
        self._row = {str(calibration.levels.tool[t]): i for i, t in enumerate(calibration.live.tool)}
        self._outlook = read_outlook(calibration)
        rows = np.array([row for tool, row in self._row.items() if tools is None or tool in tools], dtype=np.int64)
        self._calibration, self._since = heed(calibration, self._outlook, rows, news, question_day(calibration, day))

    def answer(self, question: RunQuestion, day: dt.date, after_plan: bool) -> dict[str, Any]:
        """The answer to one question as `NextRunAnswer` lists it; a question without one is answered with its problem."""
        return self.answered(question, self.run(question, day, after_plan))

    def answered(self, question: RunQuestion, run: Run | str) -> dict[str, Any]:
        """The same with the tool under the question's conditions at hand, as `run` gives it."""
        if isinstance(run, str):
            return self._unanswered(question, run)
        p = run.p_wear_out(question.shots)
        p_any = 1.0 - (1.0 - p) * np.exp(-self.sudden_stops(question, run.row))
        low, high = weighted_quantiles(p, run.clocks.weights, (0.05, 0.95))[:, 0]
        return {
            **self._asked(question),
            "p_wear_out": float(weighted_mean(p, run.clocks.weights)[0]),
            "p_wear_out_interval": [float(low), float(high)],
            "p_any_stop": float(weighted_mean(p_any, run.clocks.weights)[0]),
            "hold": str(self._calibration.live.status[run.row]) == "held",
            "largest_run_at_risk": {f"{risk:.2f}": run.largest(risk) for risk in RISKS},
            "new": list(run.new),
            **self._since.get(run.row, NOTHING).as_json(),
            "problem": None,
        }

    def run(self, question: RunQuestion, day: dt.date, after_plan: bool) -> Run | str:
        """The tool under the conditions of a question, or in a sentence why there is no answer.

        Parameters
        ----------
        day : date
            Not before the calibration's.
        after_plan : bool
            As for `answer_runs`.
        """
        row = self._row.get(question.tool_id)
        problem = self._problem(question, row, day)
        if row is None or problem is not None:
            return problem or UNKNOWN_AGE
        month = dt.date(int(question.month[:4]), int(question.month[5:]), 1)
        rows = np.array([row])
        use = UseAhead(self._calibration, self._outlook, rows)
        start = max(day, month - dt.timedelta(days=1)) if after_plan else day
        clocks = read_clocks(self._calibration, rows, use, start, self._since)
        if np.isnan(clocks.spent).any():
            return UNKNOWN_AGE
        new, by_plant, by_resin = self._conditions(question, row, month.month - 1)
        per_setup = np.exp(self._calibration.coefficient("log_setup")) * self._calibration.live.setup_share[row] * SETUPS
        return Run(
            row=row,
            clocks=clocks,
            plant_wear=by_plant,
            resin_wear=by_resin,
            wear=by_plant * by_resin * modification_wear(self._calibration, self._calibration.live.modifications[rows])[:, 0],
            per_setup=per_setup,
            stood=self._stood(rows, day, month) if not after_plan else np.zeros_like(clocks.spent),
            new=new,
        )

    def _stood(self, rows: Array, day: dt.date, month: dt.date) -> Array:
        """Wear that a tool asked about alone stands until the run's month, in store or idle at its plant, shape (sample, tool)."""
        in_store = store_wear_per_day(self._calibration, rows) * days_to(day, month)
        return in_store + idle_wear_per_day(self._calibration, rows) * idle_days(self._calibration, rows, day, month)

    def sudden_stops(self, question: RunQuestion, row: int) -> Array:
        """Expected sudden stops over the run and over the move that it takes where the tool is elsewhere, shape (sample, 1)."""
        calibration, at = self._calibration, int(self._calibration.live.plant[row])
        plant = position(calibration.levels.plant, question.plant_id)
        factor = self._outlook.conditions.plant_sudden[:, plant] if plant >= 0 else new_plant_sudden(calibration, question.plant_id)
        per_shot, per_handling = sudden_rates(calibration, np.array([row]))
        return factor[:, None] * (per_shot * question.shots + per_handling * (SETUPS + (0 <= at != plant)))

    def _asked(self, question: RunQuestion) -> dict[str, Any]:
        return {
            "tool_id": question.tool_id,
            "plant_id": question.plant_id,
            "resin_id": question.resin_id,
            "month": question.month,
            "shots": int(question.shots) if float(question.shots).is_integer() else question.shots,
        }

    def _unanswered(self, question: RunQuestion, problem: str) -> dict[str, Any]:
        row = self._row.get(question.tool_id)
        return {
            **self._asked(question),
            "p_wear_out": None,
            "p_wear_out_interval": [None, None],
            "p_any_stop": None,
            "hold": row is not None and str(self._calibration.live.status[row]) == "held",
            "largest_run_at_risk": {f"{risk:.2f}": None for risk in RISKS},
            "new": [],
            **(NOTHING if row is None else self._since.get(row, NOTHING)).as_json(),
            "problem": problem,
        }

    def _problem(self, question: RunQuestion, row: int | None, day: dt.date) -> str | None:
        """Why a question cannot be answered, None where it can."""
        if row is None:
            known = question.tool_id in set(self._calibration.levels.tool)
            return f"Tool {question.tool_id} is {'retired' if known else 'not in the records'}."
        if str(self._calibration.live.status[row]) == "worn":
            return f"Tool {question.tool_id} is worn by the records and waits for its renewal."
        if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", question.month):
            return f"'{question.month}' is no month; write it as YYYY-MM."
        if question.month < day.strftime("%Y-%m"):
            return f"The month {question.month} lies before the as-of day {day}."
        if int(question.month[:4]) > day.year + FURTHEST_YEARS:
            return f"The month {question.month} lies more than {FURTHEST_YEARS} years ahead."
        if not 0 < question.shots <= LARGEST_RUN:
            return f"The number of shots must be above 0 and no more than {LARGEST_RUN:,}."
        return None

    def _conditions(self, question: RunQuestion, row: int, calendar_month: int) -> tuple[tuple[str, ...], Array, Array]:
        """What is new to the calibration, and the factors of plant and resin on wear per shot, shape (sample,)."""
        calibration, live, conditions = self._calibration, self._calibration.live, self._outlook.conditions
        plant, resin = position(calibration.levels.plant, question.plant_id), position(calibration.levels.resin, question.resin_id)
        design = int(live.design[row])
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
