"""Answers from the current calibration of a store; nothing of the model is loaded."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from wearfit.calibration import Calibration, from_bytes
from wearfit.errors import Refusal
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.news import NO_NEWS, News
from wearfit.forecasts.next_run import Runs, answer_runs
from wearfit.forecasts.plants import compare_plants
from wearfit.forecasts.remaining_life import RemainingLife, remaining_life
from wearfit.forecasts.run_question import RunQuestion
from wearfit.forecasts.run_risk import RunRisk, run_risk
from wearfit.records.choices import Choices
from wearfit.store.store import Store
from wearfit.workflow.known_names import in_known_names, known_tool
from wearfit.workflow.look_first import look_first
from wearfit.workflow.news import NONE_UNCOUNTED, Uncounted, read_news
from wearfit.workflow.questions import Question, unanswered
from wearfit.workflow.settings import HORIZON, TOLERANCE


@dataclass(frozen=True)
class Current:
    """The calibration that answers, and the day it answers for.

    Parameters
    ----------
    number : int
        Of the calibration in the store.
    calibration : Calibration
    as_of : date
        Not before the calibration's own day.
    warning : str
        What is to be said with every answer, "" where nothing is.
    """

    number: int
    calibration: Calibration
    as_of: dt.date
    news: News = NO_NEWS
    uncounted: Uncounted = NONE_UNCOUNTED
    warning: str = ""

    def document(self, answer: Mapping[str, Any]) -> dict[str, Any]:
        """An answer with what every answer carries."""
        own = {"as_of": str(self.as_of), "calibration": self.number, "fingerprint": self.calibration.identity.fingerprint}
        return {**own, **({"warnings": [self.warning]} if self.warning else {}), **answer}


def read_current(store: Store, as_of: dt.date | None) -> Current:
    """The current calibration of a store, to answer for a day.

    Parameters
    ----------
    as_of : date, optional
        The calibration's own day by default; each clock is rolled forward to a later one.

    Raises
    ------
    Refusal
        Where no calibration is current or it cannot be read, and for a day before the calibration's own.
    """
    stored = store.calibration()
    return replace(current_for(stored.id, from_bytes(stored.blob, draws_later=True), as_of), warning=store.instead_of())


def current_for(number: int, calibration: Calibration, as_of: dt.date | None) -> Current:
    """A calibration at hand, to answer for a day; refuses as `read_current` does for a day before its own."""
    own_day = dt.date.fromisoformat(calibration.identity.as_of)
    if as_of is not None and as_of < own_day:
        raise Refusal(
            f"Calibration {number} knows the records up to {own_day}, so an answer as of {as_of} would know the future.",
            f"Ask for {own_day} or later, or run `wearfit recalibrate --as-of {as_of} --make-current` first.",
        )
    return Current(number, calibration, as_of or own_day)


@dataclass(frozen=True)
class Accepted:
    """How far ahead dates are named, and what chance of having no usable tool is accepted: of the caller, the store, or by default.

    Parameters
    ----------
    horizon_years : float
    tolerance : float
        In (0, 1).
    """

    horizon_years: float
    tolerance: float


def accepted(store: Store, horizon_years: float | None = None, tolerance: float | None = None) -> Accepted:
    """What was given, else the store's settings, else the defaults."""
    return Accepted(HORIZON.chosen(horizon_years, store), TOLERANCE.chosen(tolerance, store))


def forecast(
    store_url: str,
    as_of: dt.date | None = None,
    tools: Sequence[str] = (),
    horizon_years: float | None = None,
    tolerance: float | None = None,
    readings: Path | None = None,
) -> dict[str, Any]:
    """When each live tool will wear out.

    Parameters
    ----------
    tools : sequence of str
        The tools asked for; all where it is empty.
    horizon_years, tolerance : float, optional
        As the store's settings, else the defaults.
    readings : Path, optional
        A CSV file of readings to be counted too, as `read_news` takes it.

    Raises
    ------
    Refusal
        As `read_current` and `read_news`, and where a tool is not live.
    """
    with Store.open(store_url, must_exist=True) as store:
        current, choices = read_current(store, as_of), store.choices()
        within = accepted(store, horizon_years, tolerance)
        current = with_news(store, current, choices, readings)
    named = [known_tool(tool, current.calibration, choices) for tool in tools]
    return forecast_of(current, within, named)


def with_news(store: Store, current: Current, choices: Choices, readings: Path | None = None) -> Current:
    """A calibration with the readings of the store and of a file that it has not seen."""
    news, uncounted = read_news(store, current.calibration, choices, current.as_of, readings)
    return replace(current, news=news, uncounted=uncounted)


def forecast_of(current: Current, within: Accepted, tools: Sequence[str] = ()) -> dict[str, Any]:
    """The same from a calibration at hand, tools named as it names them."""
    fleet = forecast_fleet(current.calibration, current.as_of, within.horizon_years, within.tolerance, tools or None, current.news)
    return current.document(fleet.as_json() | current.uncounted.as_json())


def remaining_life_of(current: Current, within: Accepted, tool: str) -> RemainingLife:
    """What is left of one live tool's life, as curves, from a calibration at hand."""
    return remaining_life(current.calibration, tool, current.as_of, within.horizon_years, current.news)


def next_run(
    store_url: str, questions: Sequence[Question], as_of: dt.date | None = None, after_plan: bool = False, readings: Path | None = None
) -> tuple[dict[str, Any], bool]:
    """The chance that a tool wears out before a run is finished, each question asked alone.

    Parameters
    ----------
    questions : sequence of Question
        Rows that cannot be read as a question are answered with their problem.
    after_plan : bool
        Whether planned use up to the run's month comes first.
    readings : Path, optional
        A CSV file of readings to be counted too, as `read_news` takes it.

    Returns
    -------
    dict, bool
        The answer in the order of the questions, and whether any of them could be answered.
    """
    with Store.open(store_url, must_exist=True) as store:
        current, choices = read_current(store, as_of), store.choices()
        current = with_news(store, current, choices, readings)
    return next_run_of(current, choices, questions, after_plan)


def next_run_of(current: Current, choices: Choices, questions: Sequence[Question], after_plan: bool = False) -> tuple[dict[str, Any], bool]:
    """The same from a calibration at hand."""
    asked = [in_known_names(question.run, current.calibration, choices) for question in questions if question.run is not None]
    answer = answer_runs(current.calibration, asked, current.as_of, after_plan, current.news)
    rows = iter(answer.as_json()["runs"])
    runs = [next(rows) if question.run is not None else unanswered(question) for question in questions]
    runs = [run | {"look_first": look_first(current.calibration, run["tool_id"] or "") or None} for run in runs]
    return current.document({"runs": runs, **current.uncounted.as_json()}), answer.any_answered


def runs_of(current: Current, tool: str) -> Runs:
    """What any next run of a tool is answered from, worked out once for a calibration."""
    return Runs(current.calibration, current.news, current.as_of, (tool,))


def known_question(store_url: str, calibration: Calibration, question: RunQuestion) -> RunQuestion:
    """A question in the names that the calibration has, by what the user of the store decided about names."""
    with Store.open(store_url, must_exist=True) as store:
        return in_known_names(question, calibration, store.choices())


def run_risk_of(current: Current, runs: Runs, question: RunQuestion, after_plan: bool = False) -> RunRisk:
    """One next run in full, named as the calibration names it."""
    return run_risk(current.calibration, runs, question, current.as_of, after_plan)


def at_plants_of(
    current: Current, runs: Runs, question: RunQuestion, plants: Sequence[str], risk: float, after_plan: bool = False
) -> tuple[Mapping[str, Any], ...]:
    """The same run at some plants, as `answer_runs` answers it, but with the largest run at one risk alone.

    Parameters
    ----------
    risk : float
        In (0, 1).
    """
    asked = [replace(question, plant_id=plant) for plant in plants]
    return tuple(runs.answers(asked, current.as_of, after_plan, (risk,)))


def plants(store_url: str, as_of: dt.date | None = None) -> dict[str, Any]:
    """Plants compared by what their tools last and by their humidity exposure."""
    with Store.open(store_url, must_exist=True) as store:
        current = read_current(store, as_of)
    return plants_of(current)


def plants_of(current: Current) -> dict[str, Any]:
    """The same from a calibration at hand."""
    return current.document(compare_plants(current.calibration).as_json())
