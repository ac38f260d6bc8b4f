"""Answers about how far to trust a calibration, and what to measure next."""

from collections.abc import Mapping
from concurrent.futures import Future
from typing import Any

import streamlit as st

from wearfit.calibration import Calibration
from wearfit.screens.cached.keys import MOST_ANSWERS, MOST_CALIBRATIONS, Answering, Version, fleet_calculators, line_now
from wearfit.screens.cached.loaded import calibration_job, current_job, records_of
from wearfit.workflow.answers import Accepted, Current
from wearfit.workflow.evidence_in_words import Beliefs, Searched, beliefs_of, searches
from wearfit.workflow.fit import fit_of
from wearfit.workflow.measure import measure_in
from wearfit.workflow.recorded import Recorded


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def beliefs(version: Version) -> Beliefs:
    """What was believed before the records, and after."""
    return beliefs_of(calibration_job(version).result())


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def searched(version: Version) -> tuple[Searched, ...]:
    """What each of the separate searches found."""
    return searches(calibration_job(version).result())


def fit_job(answering: Answering) -> Future[Mapping[str, Any]]:
    """The records set against what the calibration believes, under way or done; not to be changed."""
    return _fit_job(answering.version, line_now(answering))


@st.cache_resource(max_entries=MOST_CALIBRATIONS, show_spinner=False)
def _fit_job(version: Version, line: int) -> Future[Mapping[str, Any]]:
    return fleet_calculators().submit(_fit, calibration_job(version), records_of(version, line))


def _fit(calibration: Future[Calibration], records: Future[Recorded]) -> Mapping[str, Any]:
    return fit_of(calibration.result(), records.result())


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def measure_job(answering: Answering) -> Future[dict[str, Any]]:
    """What to measure next of every live tool, under way or done; not to be changed."""
    return fleet_calculators().submit(_measure, answering.version.store, current_job(answering), answering.within)


def _measure(store_url: str, current: Future[Current], within: Accepted) -> dict[str, Any]:
    return measure_in(store_url, current.result(), within)
