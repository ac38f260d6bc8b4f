"""Answers about plants and their air."""

from collections.abc import Mapping
from typing import Any

import streamlit as st

from wearfit.forecasts.changed_air import Gain, conditioned, dried
from wearfit.forecasts.humidity_relation import Relation, relation
from wearfit.screens.cached.keys import MOST_ANSWERS, MOST_RUNS, Answering, Version, line_now
from wearfit.screens.cached.loaded import calibration_job, current, records_of
from wearfit.workflow import answers
from wearfit.workflow.warmer_coolant import warmer_coolant


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def plants(answering: Answering) -> Mapping[str, Any]:
    """Plants compared, as `answers.plants` gives it; not to be changed."""
    return answers.plants_of(current(answering))


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def life_along(version: Version, covariate: str, first: float, last: float) -> Relation:
    """How life follows a measure of the air, beside its prior."""
    return relation(calibration_job(version).result(), covariate, first, last)


@st.cache_resource(max_entries=MOST_ANSWERS, show_spinner=False)
def drier_air(version: Version, whole: bool) -> tuple[Gain, ...]:
    """What a dry hall would give at each plant, or (`whole`) one that is conditioned."""
    return (conditioned if whole else dried)(calibration_job(version).result())


@st.cache_resource(max_entries=MOST_RUNS, show_spinner=False)
def _warmer_coolant(version: Version, line: int, degrees: int) -> tuple[Gain, ...]:
    return warmer_coolant(records_of(version, line).result(), calibration_job(version).result(), degrees)


def warmer(answering: Answering, degrees: int) -> tuple[Gain, ...]:
    """What a coolant so many degC warmer would give at each plant; quick when `records_job` is done."""
    return _warmer_coolant(answering.version, line_now(answering), degrees)
