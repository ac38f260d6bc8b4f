"""What the calibration that answers changed against one before it."""

from collections.abc import Sequence
from typing import Final

import streamlit as st

from wearfit.screens import cached, session, shell
from wearfit.screens.cached import Answering, Version
from wearfit.screens.figures import Numbers, in_numbers
from wearfit.screens.past_calibrations import WIDTH, called
from wearfit.screens.unbroken import escape
from wearfit.workflow.standing import Standing
from wearfit.workflow.what_changed import COLUMNS, NEAR_DAYS, Change, change_table, moved_in_words, wear_out_in_words
from wearfit.workflow.wording import count, day_in_words

FIRST_MOVED: Final = 12


def moved_section(store: str, stands: Standing) -> None:
    """Draw the comparison; nothing where no calibration answers, or there is only one to answer."""
    current, within = stands.current, stands.within
    others = [entry for entry in stands.calibrations if entry.summary.passed and (current is None or entry.id != current.id)]
    if current is None or within is None or not others:
        return
    st.header("What changed", anchor="what-changed")
    earlier = [entry for entry in others if entry.id < current.id]
    start = others.index(earlier[-1]) if earlier else 0
    against = st.selectbox(
        f"Calibration {current.id} answers. Compare it with", others, index=start, format_func=called, key="against", width=WIDTH
    )
    day = max(current.summary.as_of, against.summary.as_of)
    before, after = (Answering(Version.of(store, entry), day, within) for entry in (against, current))
    jobs = (cached.fleet_job(before), cached.fleet_job(after), cached.new_records_job(before.version, after.version))
    if not all(shell.ready(job, "Comparing the two calibrations") for job in jobs):
        return
    changed = cached.changes(before, after)
    far = [c for c in changed.changes if c.became in ("earlier", "later") and (c.days is None or abs(c.days) >= NEAR_DAYS)]
    st.html(
        f'<p class="wf-lead">Of {count(len(changed.changes), "tool", "tools")}, {len(far):,} moved by a month or more, '
        f"both calibrations asked as of {escape(day_in_words(day))}.</p>"
    )
    if changed.fleet:
        st.html(f'<p class="wf-standing">New for the whole fleet: {escape(" ".join(changed.fleet))}</p>')
    change_list(changed.changes[:FIRST_MOVED])
    says = "Every tool with its likely wear-out day before and now, and why it moved."
    with session.resting_on(current):
        in_numbers(Numbers("what-changed", COLUMNS, change_table(changed.changes)), says, "changed", workbook=True)
    shell.caution()


def change_list(changes: Sequence[Change]) -> None:
    """Draw the tools with their likely wear-out before and now, and why it moved."""
    heads = ("Tool", "Likely wear-out", "Moved", "Why")
    head = "".join(f'<th scope="col">{head}</th>' for head in heads)
    body = "".join(_row(change) for change in changes)
    says = "Tools whose forecast moved most"
    st.html(f'<table class="wf-table wf-moved" aria-label="{says}"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>')


def _row(change: Change) -> str:
    cells = (wear_out_in_words(change), moved_in_words(change), change.why)
    under = f'<span class="wf-under">{escape(", ".join(filter(None, (change.design_id, change.plant_id))))}</span>'
    return f'<tr><th scope="row">{escape(change.tool_id)}{under}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in cells)}</tr>'
