"""What a plan is asked: how far ahead, what is done with a worn surface, what is accepted, prices and times, and perhaps a file."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

import streamlit as st

from wearfit.decisions.plan_terms import INPUTS
from wearfit.errors import Refusal
from wearfit.records.readers.text_file import text_of
from wearfit.screens import cached, session
from wearfit.screens.cached import Answering
from wearfit.screens.session import PlanFile
from wearfit.screens.told import ask_inputs
from wearfit.workflow.plan import MOST_MONTHS, PlanTerms, months_planned
from wearfit.workflow.plan_file import COLUMNS, plan_rows

POLICIES: Final = {"as often as it pays": "when", "once before a new cavity set": "once", "never": "none"}
"""What is done with a worn surface, as a user says it, and as the plan names it."""


@dataclass(frozen=True)
class AskedPlan:
    """The question about a plan; no file asks the plan on record."""

    terms: PlanTerms
    file: PlanFile | None


def ask_plan(answering: Answering) -> AskedPlan | None:
    """Draw the form; None while something that was typed cannot be.

    Raises
    ------
    Refusal
        Where the file cannot be read; the form is drawn all the same.
    """
    # The months that are looked at follow the file, which stands below them all the same.
    settings, below = st.container(), st.container()
    with below:
        dropped = _dropped()
    file = None if dropped is None else _read(*dropped)
    with settings:
        terms = _terms(answering, file if isinstance(file, PlanFile) else None)
    if isinstance(file, Refusal):
        raise file
    return None if terms is None else AskedPlan(terms, file)


def _terms(answering: Answering, file: PlanFile | None) -> PlanTerms | None:
    usual = _months_of(file, answering) if file else months_planned(cached.current(answering).calibration)
    usual_chance = 100.0 * answering.within.tolerance
    with st.container(horizontal=True, vertical_alignment="bottom", gap="medium", key="plan_filters"):
        months = st.number_input(
            "Months ahead", 1, MOST_MONTHS, None, 1, placeholder=str(usual), key="months", bind="query-params",
            help="As far as the plan reaches unless you say so; 36 where nothing is planned. Emptied, it is that again.",
        )  # fmt: skip
        percent = st.number_input(
            "Accept a chance up to (%)", 0.1, 99.0, usual_chance, 1.0, format="%.3g", key="accept_plan", bind="query-params",
            help="Of no usable tool before an ordered replacement arrives, and of a short month.",
        )  # fmt: skip
    policy = st.segmented_control(
        "A worn surface is refurbished", list(POLICIES), default=next(iter(POLICIES)), required=True, key="refurbish", bind="query-params"
    )
    said = ask_inputs(INPUTS, {}, "plan", leading=0, prefix="plan_")
    if not said.whole:
        return None
    return PlanTerms(None if months is None else int(months), POLICIES[str(policy)], (percent or usual_chance) / 100.0, said.given)


def _dropped() -> tuple[str, bytes] | None:
    """Name and bytes of the user's file."""
    with st.expander("Ask about another plan: drop a CSV file"):
        columns = ", ".join(f"`{name}`" for name in COLUMNS)
        st.write(
            f"A row for each month and tool or design, with the columns {columns}: `month` (2026-09), one of `tool_id`, `design_id` and "
            "`product_id`, and `shots` or `units`. It stands in the place of the plan on record for this page alone and **is not stored**; "
            "what it does not speak of goes on as of late."
        )
        dropped = st.file_uploader("A plan", type="csv", key="plan_file", label_visibility="collapsed")
    return None if dropped is None else (dropped.name, dropped.getvalue())


def _read(name: str, content: bytes) -> PlanFile | Refusal:
    """The file's rows, looked through once, or why there are none."""
    held = session.of_user().planning
    if held is not None and held.file.content == content:
        return held.file
    what = f"The plan '{name}'"
    try:
        return PlanFile(content, tuple(plan_rows(text_of(content, what, "CSV"), what)))
    except Refusal as refusal:
        return refusal


def _months_of(file: PlanFile, answering: Answering) -> int:
    """Months from the day after the calibration's own to the last that a file plans."""
    first = cached.own_day(answering) + dt.timedelta(days=1)
    last = max((row.row.month for row in file.rows if row.row is not None), default=f"{first:%Y-%m}")
    year, month = (int(part) for part in last.split("-"))
    return max(1, min(MOST_MONTHS, (year - first.year) * 12 + month - first.month + 1))
