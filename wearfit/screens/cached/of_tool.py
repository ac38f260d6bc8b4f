"""Answers about one tool: its forecast, its past, its next runs, and the decisions about it or about a kind of tool."""

from collections.abc import Mapping, Sequence
from concurrent.futures import Future
from typing import Any

import streamlit as st

from wearfit.decisions.choices import decision_named
from wearfit.forecasts.next_run import Runs
from wearfit.forecasts.remaining_life import RemainingLife
from wearfit.forecasts.run_question import RunQuestion
from wearfit.forecasts.run_risk import RunRisk
from wearfit.screens.cached.keys import MOST_ANSWERS, MOST_RUNS, MOST_TOOLS, Answering, Version, calculators, line_now
from wearfit.screens.cached.loaded import calibration_job, current, records_of
from wearfit.store.store import Store
from wearfit.workflow import answers
from wearfit.workflow.answers import Current
from wearfit.workflow.choose import choose_of, draws_of, listed_of
from wearfit.workflow.subjects import Asked
from wearfit.workflow.tool_history import ToolHistory
from wearfit.workflow.tool_history import tool_history as look_up
from wearfit.workflow.usual_run import cavities_of


@st.cache_resource(max_entries=MOST_TOOLS, show_spinner=False)
def tool_job(answering: Answering, tool: str) -> Future[dict[str, Any]]:
    """The forecast of one live tool, as `answers.forecast` gives it: of a large fleet it comes long before that of all."""
    return calculators().submit(answers.forecast_of, current(answering), answering.within, (tool,))


@st.cache_resource(max_entries=MOST_TOOLS, show_spinner=False)
def remaining_job(answering: Answering, tool: str) -> Future[RemainingLife]:
    """What is left of one live tool, as curves, under way or done."""
    return calculators().submit(answers.remaining_life_of, current(answering), answering.within, tool)


@st.cache_resource(max_entries=MOST_TOOLS, show_spinner=False)
def _tool_history(version: Version, line: int, tool: str) -> ToolHistory:
    return look_up(records_of(version, line).result(), calibration_job(version).result(), tool)


def tool_history(answering: Answering, tool: str) -> ToolHistory:
    """What one live tool has been through, up to the calibration's day; an upload since is seen. Quick when `records_job` is done."""
    return _tool_history(answering.version, line_now(answering), tool)


@st.cache_resource(max_entries=MOST_TOOLS, show_spinner=False)
def _cavities(version: Version, line: int, tool: str) -> int | None:
    return cavities_of(records_of(version, line).result(), tool)


def cavities(answering: Answering, tool: str) -> int | None:
    """Cavities of a tool by the list of tools; quick when `records_job` is done."""
    return _cavities(answering.version, line_now(answering), tool)


@st.cache_resource(max_entries=MOST_TOOLS, show_spinner=False)
def runs_job(answering: Answering, tool: str) -> Future[Runs]:
    """What any next run of a tool is answered from, under way or done."""
    return calculators().submit(answers.runs_of, current(answering), tool)


@st.cache_resource(max_entries=MOST_RUNS, show_spinner=False)
def run_risk(answering: Answering, question: RunQuestion, after_plan: bool) -> RunRisk:
    """One next run in full; the question in the calibration's names. This and what follows is quick when `runs_job` is done."""
    return answers.run_risk_of(current(answering), _runs(answering, question), question, after_plan)


@st.cache_resource(max_entries=MOST_RUNS, show_spinner=False)
def at_plants(
    answering: Answering, question: RunQuestion, plants: Sequence[str], risk: float, after_plan: bool
) -> tuple[Mapping[str, Any], ...]:
    """The same run at some plants, each with the largest run there at a risk."""
    return answers.at_plants_of(current(answering), _runs(answering, question), question, plants, risk, after_plan)


def _runs(answering: Answering, question: RunQuestion) -> Runs:
    return runs_job(answering, question.tool_id).result()


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def draws_job(answering: Answering, what: str, meant: Asked) -> Future[Any]:
    """Draws of what a decision is about, under way or done; named as the calibration names it."""
    return calculators().submit(_draws, answering.version.store, current(answering), what, meant)


def _draws(store_url: str, current: Current, what: str, meant: Asked) -> Any:
    decision = decision_named(what)
    with Store.open(store_url, must_exist=True) as store:
        listed = listed_of(store, current.calibration, decision, meant)
    return draws_of(current, decision, meant, listed)


@st.cache_resource(max_entries=MOST_RUNS, show_spinner=False)
def choice_job(answering: Answering, what: str, meant: Asked, given: tuple[tuple[str, float], ...]) -> Future[Mapping[str, Any]]:
    """The answer of a decision, under way or done; not to be changed."""
    return calculators().submit(_choice, current(answering), what, meant, draws_job(answering, what, meant), dict(given))


def _choice(current: Current, what: str, meant: Asked, draws: Future[Any], given: Mapping[str, float]) -> Mapping[str, Any]:
    return choose_of(current, decision_named(what), meant, draws.result(), given)  # the draws went before it to the same thread
