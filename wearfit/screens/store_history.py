"""The history of the store: who did what when, every version of a tool's rows, and the way to a past state."""

from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from datetime import datetime
from typing import Any, Final

import streamlit as st

from wearfit.errors import Refusal
from wearfit.screens import cached, session, shell, states
from wearfit.screens.figures import Numbers, downloads, in_numbers, table
from wearfit.screens.past_states import past_state_section
from wearfit.screens.session import Versions
from wearfit.screens.unbroken import escape
from wearfit.workflow.kept_history import history, in_words, version_in_words
from wearfit.workflow.standing import Standing
from wearfit.workflow.wording import capital, count, cut, day_in_words

FIRST_SHOWN: Final = 6
LONGEST: Final = 160  # letters of what a line is about, or of a name
COLUMNS: Final = ("Line", "When (UTC)", "Who", "What")
OF_ROWS: Final = ("Table", "Row", "Line", "When (UTC)", "Who", "What it says")
UNKNOWN: Final = "not known who"  # of a deed from before the history was kept


def history_section(store: str, stands: Standing) -> None:
    """Draw the list, the versions of a tool's rows and a past state; nothing where nothing was stored yet."""
    if stands.uploads is None:
        return
    lines: Sequence[Mapping[str, Any]] = history(store)["lines"][::-1]
    if not lines:
        return
    st.header("History", anchor="history")
    st.html(f'<ul class="wf-findings">{"".join(_item(line) for line in lines[:FIRST_SHOWN])}</ul>')
    if len(lines) > FIRST_SHOWN:
        st.caption(f"{count(len(lines) - FIRST_SHOWN, 'older one is', 'older ones are')} in the table.")
    rows = [(line["line"], _utc(line), line["by"] or UNKNOWN, in_words(line)) for line in lines]
    with nullcontext() if stands.current is None else session.resting_on(stands.current):
        in_numbers(Numbers("history", COLUMNS, rows), "Who did what when, newest first.", "history")
        _versions(store, lines[0]["line"])
        past_state_section(store, {line["line"]: _called(line) for line in lines})


def _item(line: Mapping[str, Any]) -> str:
    return (
        f'<li><div class="wf-became"><strong>Line {line["line"]}</strong> <span>{escape(_here(line))}</span></div>'
        f'<div><div>{escape(_what(line))}</div><div class="wf-where">{escape(cut(line["by"] or UNKNOWN, LONGEST))}</div></div></li>'
    )


def _called(line: Mapping[str, Any]) -> str:
    return f"After line {line['line']}, {_here(line)}: {_what(line)}"


def _what(line: Mapping[str, Any]) -> str:
    return capital(cut(in_words(line), LONGEST))


def _here(line: Mapping[str, Any]) -> str:
    """When, by the clock of this machine."""
    at = datetime.fromisoformat(line["at"]).astimezone()
    return f"{day_in_words(at.date())}, {at:%H:%M}"


def _utc(line: Mapping[str, Any]) -> str:
    return (line["at"] or "")[:16].replace("T", " ")


def _versions(store: str, last: int) -> None:
    """A field for a tool, and every version of its rows."""
    user = session.of_user()
    tool = st.text_input(
        "Every version of a tool's rows", placeholder="The tool's name, as the records have it", key="versions_of", width=380
    ).strip()
    if not tool:
        user.versions = None
        return
    if user.versions is None or (user.versions.tool, user.versions.last) != (tool, last):
        user.versions = Versions(tool, last, cached.readers().submit(history, store, tool))
    try:
        if not shell.ready(user.versions.job, "Looking up every version", "Each row may have several."):
            return
    except Refusal as refusal:
        states.note("No such tool", refusal.problem, refusal.repair)
        return
    found = user.versions.job.result()["versions"]
    rows = [
        (v["table"], " ".join(map(str, v["key"])), v["line"], _utc(v), v["by"] or UNKNOWN, version_in_words(v)) for v in found
    ]  # fmt: skip
    numbers = Numbers("versions", OF_ROWS, rows)
    table(numbers, "Every version of the tool's rows, oldest first within a row.", "versions")
    downloads(numbers, "versions")
