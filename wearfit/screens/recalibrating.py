"""A recalibration under way: how far it is, a way to cancel it, and what came of the last one."""

import datetime as dt
from typing import Final

import streamlit as st

from wearfit.screens import cached, shell, states
from wearfit.screens.person import person
from wearfit.screens.unbroken import escape
from wearfit.workflow.calibrations import why_not_passed
from wearfit.workflow.progress import OF_SEVERAL, STAGES
from wearfit.workflow.recalibrate import Order
from wearfit.workflow.recalibrations import Undertaking
from wearfit.workflow.standing import Standing
from wearfit.workflow.wording import count, day_in_words

LOOK_EVERY_SECONDS: Final = 1.0
STEPS: Final = tuple(stage for stage in STAGES if stage not in OF_SEVERAL)  # of a recalibration


def recalibration_section(store: str, stands: Standing) -> None:
    """Draw what is under way, or what came of the last one in this process; nothing where there was none."""
    seen = cached.recalibrations().seen(store)
    if seen is None:
        return
    if seen.under_way:
        st.header("Recalibrating", anchor="recalibrating")
        if seen.why:
            st.html(f'<p class="wf-standing">{escape(seen.why)} It was begun by itself.</p>')
        _under_way(store, stands.current is not None)
        return
    _came_of_it(store, seen, stands)


@st.fragment(run_every=LOOK_EVERY_SECONDS)
def _under_way(store: str, answers: bool) -> None:
    work = cached.recalibrations()
    seen = work.seen(store)
    if seen is None or not seen.under_way:
        st.rerun()
        return
    stage = seen.progress.stage
    place = STEPS.index(stage) + 1
    sentence = seen.progress.sentence
    said = f"Step {place} of {len(STEPS)}: {sentence}."
    if seen.progress.share is not None:
        st.progress(min(1.0, max(0.0, seen.progress.share)), f"{said} {100 * seen.progress.share:.0f} % of this step is done.")
    else:
        st.html(f'<p class="wf-lead" role="status">{escape(said)}</p>')
    left = seen.progress.seconds_left
    times = f"{seen.seconds:.0f} s so far" + ("" if left is None else f", about {left:.0f} s left of this step")
    until = "Until it is done, the answers rest on the calibration before." if answers else "There are no answers before it is done."
    st.caption(f"{times}. You may leave this page and come back; everybody who opens it sees the same. {until}")
    if seen.state == "stopping":
        st.write("Stopping …")
    elif person().keeps and st.button("Cancel", key="cancel"):
        work.cancel(store)
        st.rerun()


def _came_of_it(store: str, seen: Undertaking, stands: Standing) -> None:
    when = _clock(seen.began_at)
    still = f"Calibration {stands.current.id} still answers." if stands.current else "No calibration answers yet."
    if seen.state == "cancelled":
        states.note("Cancelled", f"The recalibration begun at {when} was cancelled. Records and calibrations are as they were. {still}")
    elif seen.refusal is not None:
        states.note("Not recalibrated", seen.refusal.problem, f"{seen.refusal.repair} {still}")
    elif seen.outcome is not None:
        _done(store, seen, stands, when, still)


def _done(store: str, seen: Undertaking, stands: Standing, when: str, still: str) -> None:
    outcome = seen.outcome
    assert outcome is not None
    identity, number = outcome.identity, outcome.calibration
    rests = (
        f"It rests on the records up to {day_in_words(identity.as_of)}: {count(identity.lives, 'life', 'lives')}, "
        f"{count(identity.wear_outs, 'wear-out', 'wear-outs')}. It took {seen.seconds:.0f} s, begun at {when}."
    )
    if outcome.current:
        states.note(f"Calibration {number} is made and answers now", rests)
        st.page_link(shell.FLEET_PAGE, label="See the fleet")
        return
    if identity.diagnostics["passed"]:
        states.note(
            f"Calibration {number} is made and does not answer",
            f"{rests} The one that answers knows later records.",
            "Make it current below if you want it.",
        )
        return
    why = why_not_passed(identity.diagnostics["reasons"])
    states.note(f"Calibration {number} is kept but not used", f"It did not settle: {why}. {still}", "Other random draws often settle.")
    if person().keeps and st.button("Try again with other random draws", key="other_draws"):
        cached.recalibrations().begin(store, Order(seed=identity.seed + 1, today=dt.date.today()))
        st.rerun()


def _clock(at: dt.datetime) -> str:
    return f"{at.astimezone():%H:%M}"
