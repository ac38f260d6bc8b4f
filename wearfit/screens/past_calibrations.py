"""Every calibration that was made, and going back to one."""

from typing import Final

import streamlit as st

from wearfit.errors import Refusal
from wearfit.screens import session, states
from wearfit.screens.figures import Numbers, in_numbers
from wearfit.screens.person import person
from wearfit.screens.unbroken import escape
from wearfit.store.calibrations import CalibrationEntry
from wearfit.workflow.calibrations import calibrations, why_not_passed
from wearfit.workflow.laws_in_words import by_law, listed
from wearfit.workflow.standing import Standing
from wearfit.workflow.wording import count, day_in_words

FIRST_SHOWN: Final = 6
WIDTH: Final = 440  # of a field that names a calibration
SHORT: Final = 8  # letters of a fingerprint that tell two records apart at a glance
COLUMNS: Final = (
    "Calibration",
    "Made (UTC)",
    "Records up to",
    "Lives",
    "Wear-outs",
    "Law",
    "Seed",
    "Fingerprint of the records",
    "Stands",
    "Why not used",
)


def past_section(store: str, stands: Standing) -> None:
    """Draw the list and the way back; nothing before the first calibration."""
    entries = stands.calibrations[::-1]
    if not entries:
        return
    st.header("Calibrations", anchor="calibrations")
    st.html(f'<ul class="wf-findings">{"".join(_item(entry) for entry in entries[:FIRST_SHOWN])}</ul>')
    if len(entries) > FIRST_SHOWN:
        st.caption(f"{count(len(entries) - FIRST_SHOWN, 'older one is', 'older ones are')} in the table.")
    rows = [
        (
            e.id, e.made_at.isoformat(sep=" ", timespec="minutes")[:16], e.summary.as_of.isoformat(), e.summary.lives, e.summary.wear_outs,
            listed(e.summary.law), e.summary.seed, e.summary.fingerprint, _stands(e), why_not_passed(e.summary.reasons) or None,
        )
        for e in entries
    ]  # fmt: skip
    in_numbers(Numbers("calibrations", COLUMNS, rows), "Every calibration, newest first.", "calibrations")
    if person().keeps:
        _go_back(store, [entry for entry in entries if entry.summary.passed and not entry.current])


def _stands(entry: CalibrationEntry) -> str:
    return "answers" if entry.current else "passed" if entry.summary.passed else "not used"


def _item(entry: CalibrationEntry) -> str:
    s = entry.summary
    if entry.current:
        stands, why = "answers", ""
    elif s.passed:
        stands, why = "passed", "It can be made current again."
    else:
        stands, why = (
            "not used",
            f"It did not settle: {why_not_passed(s.reasons) or 'no reason was recorded'}. It is kept, and never answers.",
        )
    made = f"made on {day_in_words(entry.made_at.astimezone().date())} at {entry.made_at.astimezone():%H:%M}"
    of = f"{count(s.lives, 'life', 'lives')}, {count(s.wear_outs, 'wear-out', 'wear-outs')}, {by_law(s.law)}"
    data = f"{of}, records {s.fingerprint[:SHORT]}"
    return (
        f'<li><div class="wf-became"><strong>Calibration {entry.id}</strong> <span>{escape(stands)}</span></div>'
        f"<div><div>Records up to {escape(day_in_words(s.as_of))}, {escape(made)}</div>"
        f'<div class="wf-where">{escape(data)}</div><div>{escape(why)}</div></div></li>'
    )


def called(entry: CalibrationEntry) -> str:
    """A calibration where one is chosen from several."""
    return f"Calibration {entry.id}, records up to {day_in_words(entry.summary.as_of)}, {listed(entry.summary.law)}"


def _go_back(store: str, others: list[CalibrationEntry]) -> None:
    if not others:
        return
    user = session.of_user()
    with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
        chosen = st.selectbox(
            "Let another calibration answer",
            others,
            index=None,
            format_func=called,
            placeholder="Choose",
            key="use",
            width=WIDTH,
        )
        if st.button("Make it current …", disabled=chosen is None, key="use_ask") and chosen is not None:
            user.asked_number = chosen.id
    asked = next((entry for entry in others if entry.id == user.asked_number), None)
    if asked is None or chosen is None or asked.id != chosen.id:
        return
    states.note(
        f"Let calibration {asked.id} answer?",
        f"Every page, for everybody who uses this store, will rest on the records up to {day_in_words(asked.summary.as_of)}.",
        "The present one stays and can be made current again.",
    )
    with st.container(horizontal=True, gap="small"):
        yes = st.button(f"Yes, use calibration {asked.id}", type="primary", key="use_yes")
        no = st.button("No", key="use_no")
    if no:
        user.asked_number = None
        st.rerun()
    if yes:
        try:
            calibrations(store, asked.id)
        except Refusal as refusal:
            states.note("All is as it was", refusal.problem, refusal.repair)
            return
        user.asked_number = None
        st.rerun()
