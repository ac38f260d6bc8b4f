"""Every cached call. What each rests on is its argument: the store's address, the calibration, the day, and what is accepted.

A new calibration has another key, so that nothing has to be cleared. Values of `cache_resource` are shared by all users and
frozen. Nothing that came from an upload is cached here.
"""

import datetime as dt
from collections.abc import Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Final

import streamlit as st

from wearfit.calibration import Calibration, from_bytes
from wearfit.forecasts.remaining_life import RemainingLife
from wearfit.store.calibrations import CalibrationEntry
from wearfit.store.store import Store
from wearfit.workflow import answers
from wearfit.workflow.answers import Accepted, Current
from wearfit.workflow.new_records import NewRecords, read_new_records
from wearfit.workflow.recalibrations import Recalibrations
from wearfit.workflow.recorded import Recorded, read_recorded
from wearfit.workflow.standing import standing
from wearfit.workflow.tool_history import ToolHistory
from wearfit.workflow.tool_history import tool_history as look_up
from wearfit.workflow.what_changed import Changes, what_changed

MOST_CALIBRATIONS: Final = 2  # held at once: the current one, and the one before it while pages move over
MOST_ANSWERS: Final = 8
MOST_TOOLS: Final = 200  # whose pages are held


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
    """What answers: the calibration, the day asked about, and what is accepted. The key of every answer."""

    version: Version
    as_of: dt.date
    within: Accepted


@st.cache_resource(max_entries=MOST_CALIBRATIONS, show_spinner="Loading the calibration")
def _calibration(version: Version) -> Calibration:
    with Store.open(version.store, must_exist=True) as store:
        return from_bytes(store.calibration(version.number).blob)


def current(answering: Answering) -> Current:
    """The calibration that answers, for the day asked about; its draws are loaded once a process."""
    return answers.current_for(answering.version.number, _calibration(answering.version), answering.as_of)


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


def own_day(answering: Answering) -> dt.date:
    """The day up to which the calibration knows the records."""
    return dt.date.fromisoformat(_calibration(answering.version).identity.as_of)


@st.cache_resource(max_entries=MOST_CALIBRATIONS, show_spinner="Putting the records together")
def _recorded(version: Version, uploads: int) -> Recorded:
    return read_recorded(version.store, dt.date.fromisoformat(_calibration(version).identity.as_of))


@st.cache_resource(max_entries=MOST_TOOLS, show_spinner="Looking up what the tool has been through")
def _tool_history(version: Version, uploads: int, tool: str) -> ToolHistory:
    return look_up(_recorded(version, uploads), _calibration(version), tool)


def tool_history(answering: Answering, tool: str) -> ToolHistory:
    """What one live tool has been through, up to the calibration's day; an upload since is seen."""
    return _tool_history(answering.version, standing(answering.version.store).uploads or 0, tool)


@st.cache_resource(max_entries=MOST_TOOLS, show_spinner="Working out what is left of the tool")
def remaining_life(answering: Answering, tool: str) -> RemainingLife:
    """What is left of one live tool, as curves."""
    return answers.remaining_life_of(current(answering), answering.within, tool)


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
