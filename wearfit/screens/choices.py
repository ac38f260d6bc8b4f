"""Choices: what each action of a decision costs, which is the best, how sure that is, and what it hangs on."""

from typing import Any

import streamlit as st

from wearfit.decisions.decision import Decision
from wearfit.errors import Refusal
from wearfit.screens import cached, session, shell
from wearfit.screens.cached import Answering
from wearfit.screens.choice_answer import draw_answer
from wearfit.screens.choice_question import ask_about, ask_question
from wearfit.screens.told import ask_inputs, begin_anew
from wearfit.workflow.choice_in_words import on_page
from wearfit.workflow.choose import known_asked
from wearfit.workflow.subjects import Asked

WHY_WAIT = "Every assumption is tried at both ends of what it may be, which takes some seconds."


def show() -> None:
    """Draw the page."""
    shell.answering_screen("Choices", _draw)


def _draw(answering: Answering) -> None:
    calibration = cached.current(answering).calibration
    decision = ask_question()
    asked = ask_about(decision, calibration)
    if asked is None:
        return
    meant = known_asked(answering.version.store, calibration, asked)
    try:
        _answer(answering, decision, meant)
    except Refusal as refusal:
        raise Refusal(on_page(refusal.problem, decision), on_page(refusal.repair, decision)) from refusal


def _answer(answering: Answering, decision: Decision[Any], meant: Asked) -> None:
    draws = cached.draws_job(answering, decision.name, meant)
    if not shell.ready(draws, "Looking up what is on record"):
        return
    st.header("What it is told", anchor=False)
    user, about = session.of_user(), (decision.name, meant.tool)
    if user.told_about not in (None, about):
        begin_anew(decision.inputs)
    said = ask_inputs(decision.inputs, draws.result().on_record, "choice")
    user.told_about = about  # only now, so that a run that is broken off before leaves nothing of another tool behind
    if not said.whole:
        return
    job = cached.choice_job(answering, decision.name, meant, said.given)
    if shell.ready(job, "Working out what each action costs", WHY_WAIT):
        draw_answer(job.result(), decision, shell.tool_address(meant.tool, answering) if meant.tool else None)


if __name__ == "__main__":
    show()
