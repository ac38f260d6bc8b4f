"""A preview of what the records that came since the calibration change, until they are calibrated on."""

import streamlit as st

from wearfit.errors import Refusal
from wearfit.screens import cached, session, shell, states
from wearfit.screens.cached import Version
from wearfit.screens.figures import Numbers, in_numbers
from wearfit.screens.unbroken import escape
from wearfit.screens.what_moved import FIRST_MOVED, change_list
from wearfit.workflow.standing import Standing
from wearfit.workflow.what_changed import COLUMNS, change_table
from wearfit.workflow.wording import count


def preview_section(store: str, stands: Standing) -> None:
    """Draw it; nothing where no calibration answers, no record is newer, or a recalibration is under way."""
    if stands.current is None or not stands.newer_records or _recalibrating(store):
        return
    st.header("Preview of the new records", anchor="preview")
    job = cached.preview_job(Version.of(store, stands.current), stands.records_line)
    try:
        if not shell.ready(job, "Weighing the new records in", "Seconds for a hundred tools. The answers stay as they are meanwhile."):
            return
    except Refusal as refusal:
        states.note("There is no preview", refusal.problem, refusal.repair)
        return
    seen = job.result()
    if not seen.reliable:
        if _recalibrating(store):  # the preview has just begun it
            st.rerun()
        states.note("The new records say too much for a preview", " ".join(seen.sentences), "Recalibrate on the stored records.")
        return
    st.html(f'<p class="wf-lead">{escape(seen.sentences[0])}</p>')
    said = [*seen.sentences[1:], *seen.changes.fleet]
    if said:
        st.html(f'<p class="wf-standing">{escape(" ".join(said))}</p>')
    if not seen.new:
        return
    change_list(seen.changes.changes[:FIRST_MOVED])
    more = len(seen.changes.changes) - FIRST_MOVED
    if more > 0:
        st.caption(f"The {count(FIRST_MOVED, 'tool', 'tools')} that move furthest; {more:,} more under the numbers.")
    says = "Preview: every tool with its likely wear-out day before and with the new records, and why it moves."
    with session.resting_on(stands.current):
        in_numbers(Numbers("preview", COLUMNS, change_table(seen.changes.changes)), says, "previewed", workbook=True)


def _recalibrating(store: str) -> bool:
    running = cached.recalibrations().seen(store)
    return running is not None and running.under_way
