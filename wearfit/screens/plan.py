"""Plan: what needs doing over what is to be made, what it costs, and where it will be short."""

from collections.abc import Mapping
from concurrent.futures import Future
from typing import Any

import streamlit as st

from wearfit.screens import cached, plan_drawn, session, shell, states
from wearfit.screens.cached import Answering
from wearfit.screens.plan_form import AskedPlan, ask_plan
from wearfit.screens.session import Planning
from wearfit.screens.told import told_section
from wearfit.screens.unbroken import escape
from wearfit.workflow import plan_in_words as words
from wearfit.workflow.wording import HELD, count, day_in_words, month_in_words

WHY_WAIT = "Every tool is walked month by month through 2,000 possible futures; a large fleet takes some seconds."


def show() -> None:
    """Draw the page."""
    shell.answering_screen("Plan", _draw)


def _draw(answering: Answering) -> None:
    own_day = cached.own_day(answering)
    if answering.as_of != own_day:
        st.caption(f"The plan begins with {day_in_words(own_day)}, the day up to which the records are known.")
    asked = ask_plan(answering)
    if asked is None:
        return
    job = _job(answering, asked)
    if shell.ready(job, "Walking the plan", WHY_WAIT):
        _answer(answering, job.result(), asked.file is not None)


def _job(answering: Answering, asked: AskedPlan) -> Future[Mapping[str, Any]]:
    """The plan on record is of all users; one of a file is held by the user's session alone."""
    user, file = session.of_user(), asked.file
    if file is None:
        user.planning = None
        return cached.plan_job(answering, asked.terms)
    held = user.planning
    if held is None or (held.answering, held.terms, held.file) != (answering, asked.terms, file):
        held = user.planning = Planning(answering, asked.terms, file, cached.plan_of_file(answering, asked.terms, file.rows))
    return held.job


def _answer(answering: Answering, document: Mapping[str, Any], of_file: bool) -> None:
    first, last = (month_in_words(document[name]) for name in ("first_month", "last_month"))
    plan = f"the plan {'of your file' if of_file else 'on record'}, and on use as of late where it says nothing"
    st.header("What needs doing", anchor="doing")
    st.html(f'<p class="wf-standing">{escape(f"{first} to {last}, on {plan}.")}</p>')
    if document["problems"]:
        n = len(document["problems"])
        states.note(
            f"{count(n, 'row', 'rows')} of the file could not be used",
            " ".join(f"Row {problem['row']}: {problem['problem']}" for problem in document["problems"][: plan_drawn.FIRST_SHOWN]),
            f"And {n - plan_drawn.FIRST_SHOWN} more." if n > plan_drawn.FIRST_SHOWN else "",
        )
    st.html(f'<p class="wf-lead">{escape(words.summary(document))}</p>')
    if held := words.held_of(document):
        states.note("STOP", f"{held} No run until it is released.")
        shell.caution(HELD)
    plan_drawn.orders(document, answering)
    plan_drawn.copies(document)
    plan_drawn.renewals(document)
    plan_drawn.spend(document)
    plan_drawn.shortage(document)
    st.header("To be read with it", anchor=False)
    notes = [note for note in document["notes"] if note != held]
    st.html(f'<ul class="wf-sentences">{"".join(f"<li>{escape(note)}</li>" for note in notes)}</ul>')
    told_section(document, "plan-assumptions")


if __name__ == "__main__":
    show()
