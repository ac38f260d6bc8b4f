"""What the owner says of a tool, beside what the model says; and the form to say it."""

from collections.abc import Mapping
from typing import Any, Final

import streamlit as st

from wearfit.errors import Refusal
from wearfit.screens import session, states
from wearfit.screens.cached import Answering
from wearfit.screens.person import person
from wearfit.screens.unbroken import escape
from wearfit.store.overrides import Override
from wearfit.workflow.due import wear_out_in_words
from wearfit.workflow.overrides import keep_override, overrides_of, said
from wearfit.workflow.wording import day_in_words

DAY: Final = "It wears out on a day"
SHOTS: Final = "It has so many shots left"
BACK: Final = "Take my judgement back"


def owner_section(tool: Mapping[str, Any], answering: Answering) -> None:
    """Draw what holds, what held before, and the form."""
    kept = overrides_of(answering.version.store, tool["tool_id"])
    holds = bool(kept) and not kept[0].says_nothing
    if holds:
        _beside(kept[0], tool, answering)
    if not person().keeps:
        return
    with st.expander("Change or take back the owner's judgement" if holds else "You know better? Say so, and why"):
        _form(tool["tool_id"], holds, answering)
        if kept:
            st.html(f'<ul class="wf-past">{"".join(_line(override) for override in kept)}</ul>')


def _beside(override: Override, tool: Mapping[str, Any], answering: Answering) -> None:
    model = wear_out_in_words(tool, answering.within.horizon_years, answering.as_of)
    by = f"{override.by}, {day_in_words(override.at.date())}"
    stands = "It knows nothing of the owner's judgement, and its order day stands."
    sides = (("The owner says", said(override), override.reason, by), ("The model says", model, stands))
    st.html(f'<dl class="wf-beside">{"".join(_side(*side) for side in sides)}</dl>')


def _side(head: str, says: str, *more: str) -> str:
    quieter = "".join(f'<dd class="wf-more">{escape(text)}</dd>' for text in more)
    return f"<div><dt>{escape(head)}</dt><dd>{escape(says)}</dd>{quieter}</div>"


def _line(override: Override) -> str:
    return (
        f"<li>{escape(day_in_words(override.at.date()))}, {escape(override.by)}: {escape(said(override))}. {escape(override.reason)}</li>"
    )


def _form(tool_id: str, holds: bool, answering: Answering) -> None:
    user, here = session.of_user(), person()
    with st.form(f"owner_{tool_id}", border=False):
        st.write("Your judgement is kept with your name and the reason, and shown beside the model's answer; it never replaces it.")
        kind = st.radio("What do you say?", (DAY, SHOTS, *((BACK,) if holds else ())), key=f"owner_kind_{tool_id}")
        with st.container(horizontal=True, gap="medium", key="owner_filters"):
            day = st.date_input("The day, if a day", value=None, min_value=answering.as_of, key=f"owner_day_{tool_id}")
            shots = st.number_input("The shots, if shots", value=None, min_value=0, step=1000, format="%d", key=f"owner_shots_{tool_id}")
            name = here.name if here.signed_in else _asked_name(tool_id, user.name)
        reason = st.text_area("What do you know that the records do not?", key=f"owner_reason_{tool_id}", max_chars=2000, height=90)
        if not st.form_submit_button("Keep it"):
            return
    try:
        if kind == DAY and day is None:
            raise Refusal("No day is given.", "Choose the day on which the tool wears out.", 2)
        if kind == SHOTS and shots is None:
            raise Refusal("No number of shots is given.", "Enter how many shots the tool has left.", 2)
        keep_override(
            answering.version.store, tool_id, name, reason, answering.as_of, day if kind == DAY else None, shots if kind == SHOTS else None
        )
    except Refusal as refusal:
        states.refused(refusal)
        return
    user.name = name
    st.rerun()


def _asked_name(tool_id: str, before: str) -> str:
    return st.text_input("Your name", value=before, key=f"owner_name_{tool_id}", max_chars=200)
