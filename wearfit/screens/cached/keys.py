"""The keys of cached answers, how many are held, and the threads in which what takes a while is worked out beside the page."""

import datetime as dt
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import streamlit as st

from wearfit.store.calibrations import CalibrationEntry
from wearfit.workflow.answers import Accepted
from wearfit.workflow.standing import standing

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
    records_line : int or None
        The last line of the store's history that changed its records: readings that came since the calibration are counted. None:
        they are not, and the calibration answers by itself.
    """

    version: Version
    as_of: dt.date
    within: Accepted
    records_line: int | None = None


def line_now(answering: Answering) -> int:
    """The last line that changed the store's records by this moment, so that an upload since, or a state brought back, is seen."""
    return standing(answering.version.store).records_line


@st.cache_resource(show_spinner=False)
def loaders() -> ThreadPoolExecutor:
    """Threads that read what is stored. No job here waits for one of the others but those that wait for a calibration."""
    return ThreadPoolExecutor(2, "wearfit-loader")


@st.cache_resource(show_spinner=False)
def calculators() -> ThreadPoolExecutor:
    """The thread for answers about one tool or one kind, which are not to wait behind those about the fleet; in their order."""
    return ThreadPoolExecutor(1, "wearfit-answer")


@st.cache_resource(show_spinner=False)
def fleet_calculators() -> ThreadPoolExecutor:
    """The thread for answers about a whole fleet.

    Notes
    -----
    One at a time: two large fleets at once would be slower for both, and the app is to stay quick beside them.
    """
    return ThreadPoolExecutor(1, "wearfit-fleet")


@st.cache_resource(show_spinner=False)
def readers() -> ThreadPoolExecutor:
    """Threads that read what users hand over; what they read is the user's alone and kept nowhere here."""
    return ThreadPoolExecutor(2, "wearfit-reader")
