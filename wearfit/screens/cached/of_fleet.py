"""Answers about a whole fleet: its forecast, the plan, and what one calibration changed against another."""

import datetime as dt
from collections.abc import Mapping, Sequence
from concurrent.futures import Future
from contextvars import copy_context
from dataclasses import replace
from typing import Any

import streamlit as st

from wearfit.calibration import Calibration
from wearfit.screens.cached.keys import MOST_ANSWERS, Answering, Version, fleet_calculators, loaders
from wearfit.screens.cached.loaded import calibration_job, current, current_job, own_day, recalibrations
from wearfit.store.store import Store
from wearfit.workflow import answers
from wearfit.workflow.answers import Accepted, Current
from wearfit.workflow.new_records import NewRecords, read_new_records
from wearfit.workflow.plan import PlanTerms, plan_of_current, read_makes
from wearfit.workflow.plan_file import FileRow
from wearfit.workflow.preview import preview
from wearfit.workflow.preview_in_words import Preview
from wearfit.workflow.recalibrate import Order
from wearfit.workflow.recalibrations import Recalibrations
from wearfit.workflow.what_changed import Changes, what_changed


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def fleet_job(answering: Answering) -> Future[dict[str, Any]]:
    """The forecast of every live tool, under way or done; `shell.ready` waits for it without holding up the page."""
    return fleet_calculators().submit(_forecast, current_job(answering), answering.within)


def _forecast(current: Future[Current], within: Accepted) -> dict[str, Any]:
    return answers.forecast_of(current.result(), within)


def fleet(answering: Answering) -> Mapping[str, Any]:
    """The forecast of every live tool, as `answers.forecast` gives it; not to be changed. Waits where it is under way."""
    return fleet_job(answering).result()


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def new_records_job(before: Version, after: Version) -> Future[NewRecords]:
    """The records that came between two calibrations, under way or known."""
    return loaders().submit(_new_records, before, after, (calibration_job(before), calibration_job(after)))


def _new_records(before: Version, after: Version, calibrations: tuple[Future[Calibration], Future[Calibration]]) -> NewRecords:
    first, second = (calibration.result() for calibration in calibrations)
    with Store.open(before.store, must_exist=True) as store:
        entries = {entry.id: entry for entry in store.calibrations()}
    return read_new_records(before.store, entries[before.number], entries[after.number], (first, second))


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def changes(before: Answering, after: Answering) -> Changes:
    """What one calibration changed against another, for one day; their forecasts and new records are best ready."""
    new = new_records_job(before.version, after.version).result()
    return what_changed(fleet(before), fleet(after), new, after.within.horizon_years)


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def preview_job(version: Version, line: int) -> Future[Preview]:
    """What the records change against a calibration, by weights; where these cannot tell, a recalibration is begun.

    Parameters
    ----------
    line : int
        The last of the store's history that changed the records.

    Notes
    -----
    Whose page asks first is written down as the one who began that recalibration.
    """
    return fleet_calculators().submit(copy_context().run, _preview, version.store, recalibrations())


def _preview(store: str, works: Recalibrations) -> Preview:
    seen = preview(store)
    if not seen.reliable:
        works.begin(store, Order(today=dt.date.today()), " ".join(seen.sentences))
    return seen


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def plan_job(answering: Answering, terms: PlanTerms) -> Future[Mapping[str, Any]]:
    """The plan on record from the calibration's own day on, under way or done; not to be changed."""
    return plan_of_file(answering, terms, None)


def plan_of_file(answering: Answering, terms: PlanTerms, asked: Sequence[FileRow] | None) -> Future[Mapping[str, Any]]:
    """The same of a user's own file: cached nowhere, for the user alone to hold."""
    own = replace(current(answering), as_of=own_day(answering))
    return fleet_calculators().submit(_plan, answering.version.store, own, terms, asked)


def _plan(store_url: str, current: Current, terms: PlanTerms, asked: Sequence[FileRow] | None) -> Mapping[str, Any]:
    with Store.open(store_url, must_exist=True) as store:
        recorded = read_makes(store)
    return plan_of_current(current, recorded, terms, asked)[0]
