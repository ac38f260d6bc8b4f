"""The way in for records: drop files, see what was read of them, and only then keep them."""

import datetime as dt
from typing import Final

import streamlit as st

from wearfit.errors import Refusal
from wearfit.records.readers.limits import FILE_BYTES, size_text
from wearfit.records.template import template
from wearfit.screens import cached, session, shell, states
from wearfit.screens.choices_form import choices_section
from wearfit.screens.figures import draw_table
from wearfit.screens.finding_list import findings_section
from wearfit.screens.looking import begin_reading
from wearfit.screens.session import Handing
from wearfit.screens.unbroken import escape
from wearfit.store.uploads import UploadOutcome
from wearfit.workflow.hand_over import Files, Look, keep
from wearfit.workflow.open_questions import open_questions
from wearfit.workflow.recalibrate import Order
from wearfit.workflow.standing import Standing
from wearfit.workflow.wording import count, cut, day_in_words

ENDINGS: Final = ("csv", "xlsx", "ods", "zip", "xlsm", "tsv", "txt")
READING: Final = "A workbook of a hundred tools takes a second or two, ten years of a large fleet half a minute. Nothing is stored."
LONGEST_NAME: Final = 80


def hand_over_section(store: str, stands: Standing) -> None:
    """Draw the field for files, or what was read of them."""
    user = session.of_user()
    st.header("Hand over records", anchor="hand-over")
    if user.kept:
        states.note("Kept", user.kept)
    _field(store, stands)
    if user.handing is None:
        _stored(store, stands)
        return
    _read(store, stands, user.handing)


def _field(store: str, stands: Standing) -> None:
    user = session.of_user()
    st.write(
        "Drop workbooks (XLSX, XLSM, ODS), text files (CSV, TSV, TXT) or a ZIP of them, as many as belong together. They stay on "
        f"this machine, and **nothing is stored before you say so**. A file may have up to {size_text(FILE_BYTES)}; divide a larger one."
    )
    dropped = st.file_uploader(
        "Files of records", type=ENDINGS, accept_multiple_files=True, key=f"files_{user.round}", label_visibility="collapsed"
    )
    # In order of names, so that the same files are not read again because they are listed otherwise.
    files: Files = tuple(sorted((file.name, file.getvalue()) for file in dropped))
    if files and (user.handing is None or user.handing.files != files):
        begin_reading(store, files, None)
        user.kept = ""
    elif not files and user.handing is not None and user.handing.files:
        user.handing = None
    if user.handing is None:
        with st.container(horizontal=True, gap="medium", vertical_alignment="center"):
            st.download_button(
                "Download the empty template",
                template,
                "wearfit-records.xlsx",
                "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
                on_click="ignore",
            )
            st.caption("A workbook with a sheet for each table, every column explained. Sheets that you cannot fill may stay empty.")


def _stored(store: str, stands: Standing) -> None:
    """What the store holds, and what can be done with that alone."""
    if not stands.uploads:
        return
    running = _running(store)
    st.html(f'<p class="wf-lead">The store holds {count(stands.uploads, "upload", "uploads")} of records.</p>')
    with st.container(horizontal=True, gap="small"):
        if st.button("Recalibrate on the stored records", disabled=running, key="recalibrate_stored"):
            _recalibrate(store)
        if st.button("Look through the stored records", key="look_stored"):
            begin_reading(store, (), None)
            session.of_user().kept = ""
            st.rerun()


def _read(store: str, stands: Standing, handing: Handing) -> None:
    try:
        if not shell.ready(handing.job, "Reading the records", READING):
            return
        seen = handing.job.result()
    except Refusal as refusal:
        states.note("These files cannot be read yet", refusal.problem, f"{refusal.repair} Nothing was stored.")
        choices_section(store, handing, open_questions((), refusal), handing.choices or stands.choices)
        _put_away("Put these files away")
        return
    st.header("What was read" if seen.name else "What is stored", anchor="read")
    _what_was_read(seen, stands)
    findings_section(seen)
    choices_section(store, handing, open_questions(seen.findings, seen.refusal), seen.choices)
    _keep(store, seen)


def _what_was_read(seen: Look, stands: Standing) -> None:
    names = ", ".join(cut(name, LONGEST_NAME) for name in seen.name.split(", "))
    if seen.name:
        st.html(f'<p class="wf-lead">{escape(names)}</p>')
    used = "Used, with what is stored" if stands.uploads and seen.name else "Used"
    heads = ("Table", "Rows in the files" if seen.name else "Rows", used, "Set aside")
    draw_table(
        heads, [(name, f"{t.rows:,}", f"{t.used:,}", f"{t.set_aside:,}") for name, t in seen.tables.items()], "What was read, by table"
    )
    said = [] if seen.outcome is None else [_outcome(seen.outcome)]
    if seen.day is not None:
        said.append(f"Together the records reach to {day_in_words(seen.day)}.")
    st.html(f'<p class="wf-standing">{escape(" ".join(said))}</p>')
    for sentence in seen.damaged:
        states.note("A stored file is damaged", sentence, "Its rows stay as they were read.")
    if seen.refusal is not None:
        states.note("Not enough to calibrate on yet", seen.refusal.problem, seen.refusal.repair)


def _outcome(outcome: UploadOutcome) -> str:
    said = [
        (outcome.new, "row is new", "rows are new"),
        (outcome.changed, "changes what is stored", "change what is stored"),
        (outcome.unchanged, "is stored already", "are stored already"),
        (outcome.repeated, "repeats another", "repeat another"),
        (outcome.withdrawn, "stored row would be taken out", "stored rows would be taken out"),
    ]
    parts = [count(n, one, many) for n, one, many in said if n]
    return f"{', '.join(parts) or 'No row can be used'}."


def _keep(store: str, seen: Look) -> None:
    what = "these records" if seen.name else "these choices"
    if not seen.changes:
        read = seen.outcome is None or seen.outcome.unchanged or seen.outcome.repeated
        st.write(
            "All of it is stored already: keeping it would change nothing."
            if read
            else "Every row of these files was set aside, so that there is nothing to keep yet."
        )
        _put_away("Put these files away" if seen.name else "Done")
        return
    running = _running(store)
    with st.container(horizontal=True, gap="small"):
        both = st.button(
            f"Keep {what} and recalibrate", type="primary", disabled=running or seen.refusal is not None, key="keep_recalibrate"
        )
        alone = st.button(f"Keep {what}, recalibrate later", key="keep")
        _put_away("Put these files away" if seen.name else "Leave all as it was")
    if running:
        st.caption("A recalibration is under way; another can begin when it is done.")
    if not (both or alone):
        return
    try:
        outcomes = keep(store, seen)
    except Refusal as refusal:
        states.note("Nothing was stored", refusal.problem, refusal.repair)
        return
    _finish(" ".join(f"{cut(name, LONGEST_NAME)}: {_outcome(outcome)}" for name, outcome in outcomes) or "The choices are kept.")
    if both:
        _recalibrate(store)
    st.rerun()


def _put_away(label: str) -> None:
    if st.button(label, key="put_away"):
        _finish("")
        st.rerun()


def _finish(kept: str) -> None:
    user = session.of_user()
    user.handing, user.kept, user.round = None, kept, user.round + 1


def _recalibrate(store: str) -> None:
    cached.recalibrations().begin(store, Order(today=dt.date.today()))
    st.rerun()


def _running(store: str) -> bool:
    seen = cached.recalibrations().seen(store)
    return seen is not None and seen.under_way
