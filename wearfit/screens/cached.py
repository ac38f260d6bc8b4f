"""Every cached call. What each rests on is its argument: the store's address, the calibration, the day, and what is accepted.

A new calibration has another key, so that nothing has to be cleared. Values of `cache_resource` are shared by all users and
frozen. Nothing that came from an upload is cached here.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any, Final

import streamlit as st

from wearfit.calibration import Calibration, from_bytes
from wearfit.decisions.choices import decision_named
from wearfit.forecasts.changed_air import Gain, conditioned, dried
from wearfit.forecasts.humidity_relation import Relation, relation
from wearfit.forecasts.next_run import RunQuestion, Runs
from wearfit.forecasts.remaining_life import RemainingLife
from wearfit.forecasts.run_risk import RunRisk
from wearfit.store.calibrations import CalibrationEntry
from wearfit.store.store import Store
from wearfit.workflow import answers
from wearfit.workflow.answers import Accepted, Current
from wearfit.workflow.choose import choose_of, draws_of, listed_of
from wearfit.workflow.evidence_in_words import Beliefs, Searched, beliefs_of, searches
from wearfit.workflow.fit import fit_of
from wearfit.workflow.measure import measure_in
from wearfit.workflow.new_records import NewRecords, read_new_records
from wearfit.workflow.plan import PlanTerms, plan_of_current, read_makes
from wearfit.workflow.plan_file import FileRow
from wearfit.workflow.recalibrations import Recalibrations
from wearfit.workflow.recorded import Recorded, read_recorded
from wearfit.workflow.standing import standing
from wearfit.workflow.subjects import Asked
from wearfit.workflow.tool_history import ToolHistory
from wearfit.workflow.tool_history import tool_history as look_up
from wearfit.workflow.usual_run import cavities_of
from wearfit.workflow.warmer_coolant import warmer_coolant
from wearfit.workflow.what_changed import Changes, what_changed

MOST_CALIBRATIONS: Final = 2  # held at once: the current one, and the one before it while pages move over
MOST_ANSWERS: Final = 8
MOST_TOOLS: Final = 200  # whose pages are held
MOST_RUNS: Final = 500  # questions about next runs whose answers are held


@dataclass(frozen=True)
class Version:
    """One calibration, told from every other one.

    Parameters
    ----------
    store : str
        Absolute address.
    number : int
    fingerprint : str
        Of the records.
    made_at : str
        A store that was begun anew may give the same number to another calibration of the same records.
    """

    store: str
    number: int
    fingerprint: str
    made_at: str

    @classmethod
    def of(cls, store: str, entry: CalibrationEntry) -> "Version":
        """That of a calibration that the store lists."""
        return cls(store, entry.id, entry.summary.fingerprint, entry.made_at.isoformat())


@dataclass(frozen=True)
class Answering:
    """What answers: the calibration, the day asked about, what is accepted, and the records handed over. The key of every answer.

    Parameters
    ----------
    uploads : int or None
        How many the store had: readings that came since the calibration are counted. None: they are not, and the calibration
        answers by itself.
    """

    version: Version
    as_of: dt.date
    within: Accepted
    uploads: int | None = None


@st.cache_resource(max_entries=MOST_CALIBRATIONS, show_spinner="Loading the calibration")
def _calibration(version: Version) -> Calibration:
    with Store.open(version.store, must_exist=True) as store:
        return from_bytes(store.calibration(version.number).blob)


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def current(answering: Answering) -> Current:
    """The calibration that answers, for the day asked about, with the readings since; its draws are loaded once a process."""
    own = answers.current_for(answering.version.number, _calibration(answering.version), answering.as_of)
    if answering.uploads is None:
        return own
    with Store.open(answering.version.store, must_exist=True) as store:
        return answers.with_news(store, own, store.choices())


@st.cache_resource(show_spinner=False)
def _workers() -> ThreadPoolExecutor:
    # One at a time: two large fleets at once would be slower for both, and the app is to stay quick beside them.
    return ThreadPoolExecutor(1, "wearfit-answer")


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def fleet_job(answering: Answering) -> Future[dict[str, Any]]:
    """The forecast of every live tool, under way or done; `shell.ready` waits for it without holding up the page."""
    return _workers().submit(answers.forecast_of, current(answering), answering.within)


def fleet(answering: Answering) -> Mapping[str, Any]:
    """The forecast of every live tool, as `answers.forecast` gives it; not to be changed. Waits where it is under way."""
    return fleet_job(answering).result()


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def measure_job(answering: Answering) -> Future[dict[str, Any]]:
    """What to measure next of every live tool, under way or done; not to be changed."""
    return _workers().submit(measure_in, answering.version.store, current(answering), answering.within)


def own_day(answering: Answering) -> dt.date:
    """The day up to which the calibration knows the records."""
    return dt.date.fromisoformat(_calibration(answering.version).identity.as_of)


@st.cache_resource(max_entries=MOST_CALIBRATIONS, show_spinner=False)
def _records_job(version: Version, uploads: int) -> Future[Recorded]:
    return _workers().submit(read_recorded, version.store, dt.date.fromisoformat(_calibration(version).identity.as_of))


def records_job(answering: Answering) -> Future[Recorded]:
    """The records up to the calibration's day, being put together or there; an upload since is seen."""
    return _records_job(answering.version, _uploads(answering))


def _uploads(answering: Answering) -> int:
    return standing(answering.version.store).uploads or 0


@st.cache_resource(max_entries=MOST_CALIBRATIONS, show_spinner="Putting the records together")
def _recorded(version: Version, uploads: int) -> Recorded:
    return _records_job(version, uploads).result()


@st.cache_resource(max_entries=MOST_TOOLS, show_spinner="Looking up what the tool has been through")
def _tool_history(version: Version, uploads: int, tool: str) -> ToolHistory:
    return look_up(_recorded(version, uploads), _calibration(version), tool)


def tool_history(answering: Answering, tool: str) -> ToolHistory:
    """What one live tool has been through, up to the calibration's day; an upload since is seen."""
    return _tool_history(answering.version, _uploads(answering), tool)


@st.cache_resource(max_entries=MOST_TOOLS, show_spinner="Working out what is left of the tool")
def remaining_life(answering: Answering, tool: str) -> RemainingLife:
    """What is left of one live tool, as curves."""
    return answers.remaining_life_of(current(answering), answering.within, tool)


@st.cache_resource(max_entries=MOST_CALIBRATIONS, show_spinner=False)
def _runs(answering: Answering) -> Runs:
    return answers.runs_of(current(answering))


@st.cache_resource(max_entries=MOST_RUNS, show_spinner=False)
def run_risk(answering: Answering, question: RunQuestion, after_plan: bool) -> RunRisk:
    """One next run in full; the question in the calibration's names."""
    return answers.run_risk_of(current(answering), _runs(answering), question, after_plan)


@st.cache_resource(max_entries=MOST_RUNS, show_spinner="Asking the other plants")
def at_plants(answering: Answering, question: RunQuestion, plants: Sequence[str], after_plan: bool) -> tuple[Mapping[str, Any], ...]:
    """The same run at some plants."""
    return answers.at_plants_of(current(answering), _runs(answering), question, plants, after_plan)


@st.cache_resource(max_entries=MOST_RUNS, show_spinner=False)
def largest_run(answering: Answering, question: RunQuestion, risk: float, after_plan: bool) -> int | None:
    """The largest run under a question's conditions at a risk."""
    return answers.largest_run_of(current(answering), _runs(answering), question, risk, after_plan)


@st.cache_resource(max_entries=MOST_TOOLS, show_spinner=False)
def _cavities(version: Version, uploads: int, tool: str) -> int | None:
    return cavities_of(_recorded(version, uploads), tool)


def cavities(answering: Answering, tool: str) -> int | None:
    """Cavities of a tool by the list of tools; ready when `records_job` is."""
    return _cavities(answering.version, _uploads(answering), tool)


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def plants(answering: Answering) -> Mapping[str, Any]:
    """Plants compared, as `answers.plants` gives it; not to be changed."""
    return answers.plants_of(current(answering))


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def life_along(version: Version, covariate: str, first: float, last: float) -> Relation:
    """How life follows a measure of the air, beside its prior."""
    return relation(_calibration(version), covariate, first, last)


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def drier_air(version: Version, whole: bool) -> tuple[Gain, ...]:
    """What a dry hall would give at each plant, or (`whole`) one that is conditioned."""
    return (conditioned if whole else dried)(_calibration(version))


@st.cache_resource(max_entries=MOST_RUNS, show_spinner=False)
def _warmer_coolant(version: Version, uploads: int, degrees: int) -> tuple[Gain, ...]:
    return warmer_coolant(_recorded(version, uploads), _calibration(version), degrees)


def warmer(answering: Answering, degrees: int) -> tuple[Gain, ...]:
    """What a coolant so many degC warmer would give at each plant; quick when `records_job` is done."""
    return _warmer_coolant(answering.version, _uploads(answering), degrees)


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def beliefs(version: Version) -> Beliefs:
    """What was believed before the records, and after."""
    return beliefs_of(_calibration(version))


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def searched(version: Version) -> tuple[Searched, ...]:
    """What each of the separate searches found."""
    return searches(_calibration(version))


@st.cache_resource(max_entries=MOST_CALIBRATIONS, show_spinner=False)
def _fit_job(version: Version, uploads: int) -> Future[Mapping[str, Any]]:
    return _workers().submit(
        lambda calibration, records: fit_of(calibration, records.result()), _calibration(version), _records_job(version, uploads)
    )


def fit_job(answering: Answering) -> Future[Mapping[str, Any]]:
    """The records set against what the calibration believes, under way or done; not to be changed."""
    return _fit_job(answering.version, _uploads(answering))  # the records went before it to the same worker


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def new_records_job(before: Version, after: Version) -> Future[NewRecords]:
    """The records that came between two calibrations, under way or known."""
    return _workers().submit(_new_records, before, after, (_calibration(before), _calibration(after)))


def _new_records(before: Version, after: Version, calibrations: tuple[Calibration, Calibration]) -> NewRecords:
    with Store.open(before.store, must_exist=True) as store:
        entries = {entry.id: entry for entry in store.calibrations()}
    return read_new_records(before.store, entries[before.number], entries[after.number], calibrations)


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def changes(before: Answering, after: Answering) -> Changes:
    """What one calibration changed against another, for one day; their forecasts and new records are best ready."""
    new = new_records_job(before.version, after.version).result()
    return what_changed(fleet(before), fleet(after), new, after.within.horizon_years)


@st.cache_resource(show_spinner=False)
def readers() -> ThreadPoolExecutor:
    """Threads that read what users hand over; what they read is the user's alone and kept nowhere here."""
    return ThreadPoolExecutor(2, "wearfit-reader")


@st.cache_resource(show_spinner=False)
def recalibrations() -> Recalibrations:
    """The recalibrations of this process: of no user, to be watched by all."""
    return Recalibrations()


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def draws_job(answering: Answering, what: str, meant: Asked) -> Future[Any]:
    """Draws of what a decision is about, under way or done; named as the calibration names it."""
    return _workers().submit(_draws, answering.version.store, current(answering), what, meant)


def _draws(store_url: str, current: Current, what: str, meant: Asked) -> Any:
    decision = decision_named(what)
    with Store.open(store_url, must_exist=True) as store:
        listed = listed_of(store, current.calibration, decision, meant)
    return draws_of(current, decision, meant, listed)


@st.cache_resource(max_entries=MOST_RUNS, show_spinner=False)
def choice_job(answering: Answering, what: str, meant: Asked, given: tuple[tuple[str, float], ...]) -> Future[Mapping[str, Any]]:
    """The answer of a decision, under way or done; not to be changed."""
    return _workers().submit(_choice, current(answering), what, meant, draws_job(answering, what, meant), dict(given))


def _choice(current: Current, what: str, meant: Asked, draws: Future[Any], given: Mapping[str, float]) -> Mapping[str, Any]:
    return choose_of(current, decision_named(what), meant, draws.result(), given)  # the draws went before it to the same worker


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def plan_job(answering: Answering, terms: PlanTerms) -> Future[Mapping[str, Any]]:
    """The plan on record from the calibration's own day on, under way or done; not to be changed."""
    return plan_of_file(answering, terms, None)


def plan_of_file(answering: Answering, terms: PlanTerms, asked: Sequence[FileRow] | None) -> Future[Mapping[str, Any]]:
    """The same of a user's own file: cached nowhere, for the user alone to hold."""
    own = replace(current(answering), as_of=own_day(answering))
    return _workers().submit(_plan, answering.version.store, own, terms, asked)


def _plan(store_url: str, current: Current, terms: PlanTerms, asked: Sequence[FileRow] | None) -> Mapping[str, Any]:
    with Store.open(store_url, must_exist=True) as store:
        recorded = read_makes(store)
    return plan_of_current(current, recorded, terms, asked)[0]
