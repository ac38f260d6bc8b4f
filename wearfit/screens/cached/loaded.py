"""What is read from the store once: the calibration, what is new since, the records; and the recalibrations under way."""

import datetime as dt
from concurrent.futures import Future

import streamlit as st

from wearfit.calibration import Calibration, from_bytes
from wearfit.screens.cached.keys import MOST_ANSWERS, MOST_CALIBRATIONS, Answering, Version, line_now, loaders
from wearfit.store.store import Store
from wearfit.workflow import answers
from wearfit.workflow.answers import Current
from wearfit.workflow.recalibrations import Recalibrations
from wearfit.workflow.recorded import Recorded, read_recorded


@st.cache_resource(max_entries=MOST_CALIBRATIONS, show_spinner=False)
def calibration_job(version: Version) -> Future[Calibration]:
    """The calibration with its draws, being loaded or there, once a process."""
    return loaders().submit(_read_calibration, version)


def _read_calibration(version: Version) -> Calibration:
    with Store.open(version.store, must_exist=True) as store:
        return from_bytes(store.calibration(version.number).blob, draws_later=True)


def current_job(answering: Answering) -> Future[Current]:
    """The calibration that answers, for the day asked about, with the readings since; being loaded or there."""
    job = _current_job(answering)
    if job.done() and job.exception() is not None:  # told of this job; the next visit reads anew what may be well again by then
        _current_job.clear(answering)
        calibration_job.clear(answering.version)
    return job


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def _current_job(answering: Answering) -> Future[Current]:
    return loaders().submit(_read_current, answering, calibration_job(answering.version))


def _read_current(answering: Answering, calibration: Future[Calibration]) -> Current:
    own = answers.current_for(answering.version.number, calibration.result(), answering.as_of)
    if answering.records_line is None:
        return own
    with Store.open(answering.version.store, must_exist=True) as store:
        return answers.with_news(store, own, store.choices())


def current(answering: Answering) -> Current:
    """The same at hand; a page of `shell.answering_screen` is drawn only when it is."""
    return current_job(answering).result()


def own_day(answering: Answering) -> dt.date:
    """The day up to which the calibration knows the records."""
    return dt.date.fromisoformat(calibration_job(answering.version).result().identity.as_of)


@st.cache_resource(max_entries=MOST_CALIBRATIONS, show_spinner=False)
def _records_job(version: Version, line: int) -> Future[Recorded]:
    return loaders().submit(_read_records, version, calibration_job(version))


def _read_records(version: Version, calibration: Future[Calibration]) -> Recorded:
    return read_recorded(version.store, dt.date.fromisoformat(calibration.result().identity.as_of))


def records_job(answering: Answering) -> Future[Recorded]:
    """The records up to the calibration's day, being put together or there; an upload since is seen."""
    return records_of(answering.version, line_now(answering))


def records_of(version: Version, line: int) -> Future[Recorded]:
    """The same as the records were after a line of the store's history."""
    return _records_job(version, line)


@st.cache_resource(show_spinner=False)
def recalibrations() -> Recalibrations:
    """The recalibrations of this process: of no user, to be watched by all."""
    return Recalibrations()
