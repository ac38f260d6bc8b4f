"""A past state of the store: what it held then, its rows to look at and take away, and going back to it."""

from collections.abc import Mapping
from typing import Final

import streamlit as st

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.decisions import toml_of
from wearfit.screens import cached, session, shell, states
from wearfit.screens.figures import Numbers, draw_table, table
from wearfit.screens.person import person
from wearfit.screens.session import LookingBack
from wearfit.screens.unbroken import escape
from wearfit.workflow.kept_history import restore
from wearfit.workflow.past_states import Past, answers_then, as_archive, going_back_in_words, look_back
from wearfit.workflow.wording import count

MOST_ROWS: Final = 1_000  # of a table that are listed; the archive has all


def past_state_section(store: str, lines: Mapping[int, str]) -> None:
    """Draw the field for a past state, and what is chosen.

    Parameters
    ----------
    lines : mapping of int to str
        What each line of the history is called, newest first.
    """
    user = session.of_user()
    if user.back:
        states.note("That state is back", user.back)
    chosen = st.selectbox(
        "Look at a past state",
        list(lines),
        index=None,
        format_func=lines.__getitem__,
        placeholder="Choose what the store is to be shown after",
        key=f"past_{user.turns_back}",
    )
    if chosen is None:
        user.looking_back = None
        return
    user.back = ""
    last = next(iter(lines))
    at = user.looking_back
    if at is None or (at.line, at.last) != (chosen, last):
        at = user.looking_back = LookingBack(chosen, last, cached.readers().submit(look_back, store, chosen, person().keeps))
        user.asked_line = None
    try:
        if not shell.ready(at.job, "Looking up what the store held then", "Nothing is changed by looking."):
            return
    except Refusal as refusal:
        states.note("This state cannot be shown", refusal.problem, refusal.repair)
        return
    past = at.job.result()
    _show(past)
    if person().keeps:
        _go_back(store, past)


def _show(past: Past) -> None:
    state = past.state
    says = f"Rows after line {past.line}, by table"
    draw_table(("Table", "Rows then", "Rows now"), [(name, f"{then:,}", f"{now:,}") for name, (then, now) in past.rows.items()], says)
    said = [past.sentence]
    if state.settings:
        said.append(f"Settings: {', '.join(f'{name} {value}' for name, value in state.settings.items())}.")
    st.html(f'<p class="wf-standing">{escape(" ".join(said))}</p>')
    with st.expander("The rows of then"):
        tables = [name for name, (then, _) in past.rows.items() if then]
        name = st.selectbox("Table", tables, key="past_table", width=240)
        if name is not None:
            _list(past, name)
        if state.choices != Choices():
            st.caption("They were read by these choices:")
            st.code(toml_of(state.choices), language="toml")
        st.download_button(
            "Download all rows of then (ZIP)",
            lambda: as_archive(past),
            f"wearfit-after-line-{past.line}.zip",
            "application/zip",
            on_click="ignore",
            key="past_zip",
        )


def _list(past: Past, name: str) -> None:
    rows = past.rows_of(name)
    columns = list(dict.fromkeys(column for row in rows for column in row.values))
    cells = [tuple(row.values.get(column) for column in columns) for row in rows[:MOST_ROWS]]
    table(Numbers(name, columns, cells), f"Rows of {name} after line {past.line}.", "past_rows")
    if len(rows) > MOST_ROWS:
        st.caption(f"The first {MOST_ROWS:,} of {len(rows):,}; the download has all.")


def _go_back(store: str, past: Past) -> None:
    would = past.going_back
    if would is None or (would.line is None and not would.kept_calibration):
        st.caption("The store is now as it was then: there is nothing to go back to.")
        return
    user = session.of_user()
    if st.button("Go back to this state …", key="back_ask"):
        user.asked_line = past.line
    if user.asked_line != past.line:
        return
    states.note(
        f"Go back to the state after line {past.line}?",
        f"For everybody who uses this store: {going_back_in_words(would)} {answers_then(past)}",
        "Nothing is lost: what is there now stays in the history and can be brought back in the same way.",
    )
    with st.container(horizontal=True, gap="small"):
        yes = st.button("Yes, go back", type="primary", key="back_yes")
        no = st.button("No", key="back_no")
    if no:
        user.asked_line = None
        st.rerun()
    if not yes:
        return
    try:
        done = restore(store, past.line)
    except Refusal as refusal:
        states.note("All is as it was", refusal.problem, refusal.repair)
        return
    user.asked_line, user.looking_back = None, None
    user.turns_back += 1
    user.back = _done(past.line, done["brought_back"], done["withdrawn"], done["calibration"])
    st.rerun()


def _done(line: int, back: int, withdrawn: int, calibration: int | None) -> str:
    rows = f"{count(back, 'row is', 'rows are')} as after line {line} again, {count(withdrawn, 'row was', 'rows were')} taken out."
    return rows if calibration is None else f"{rows} Calibration {calibration} answers."
