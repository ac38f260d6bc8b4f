"""The part of Evidence that says what to measure next, and by when to look at each tool."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import streamlit as st

from wearfit.screens import cached, shell
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, in_numbers, table
from wearfit.screens.sentences import listed
from wearfit.screens.unbroken import escape
from wearfit.workflow.downloads import Value
from wearfit.workflow.measure_in_words import (
    WHERE,
    best_in_words,
    by_urgency,
    inspect_in_words,
    meaning,
    narrows_in_words,
    record_in_words,
    shared_rows,
    summary,
)
from wearfit.workflow.wording import capital

FIRST: Final = 12  # tools in the table; the rest is in the numbers
COLUMNS: Final = ("Tool", "Find out", "Range of its date", "Inspect by")
EVERY: Final = ("Tool", "Plant", "Record", "Goes to", "Range now (months)", "Range with it (months)", "Inspect by", "Inspect for")


def measure_section(answering: Answering) -> None:
    """Draw what to measure next, once it is worked out."""
    st.header("What to measure next", anchor="measure-next")
    job = cached.measure_job(answering)
    if not shell.ready(job, "Working out what each missing record would narrow"):
        return
    document: Mapping[str, Any] = job.result()
    st.html(f'<p class="wf-lead">{escape(" ".join(summary(document)))}</p>')
    tools, years = by_urgency(document["tools"]), document["horizon_years"]
    rows = [
        (t["tool_id"], best_in_words(t), narrows_in_words(t, years), inspect_in_words(t, document["as_of"], years)) for t in tools[:FIRST]
    ]
    table(Numbers("measure-next", COLUMNS, rows), "The tools to be looked at first, and what to find out about each.", "measure")
    st.caption(meaning(document))
    in_numbers(Numbers("measure", EVERY, _every(tools)), "Every record that is missing of every live tool.", "measure_all")
    if shared := shared_rows(document):
        st.subheader("What would narrow the dates of several tools", anchor=False)
        listed([f"{capital(record)}: {narrows}, over {of}." for record, of, narrows in shared])


def _every(tools: Sequence[Mapping[str, Any]]) -> list[tuple[Value, ...]]:
    return [
        (
            tool["tool_id"], tool["plant_id"], record_in_words(record), WHERE[record["record"]], tool["range_months"],
            record["range_months"], tool["inspect_by"], tool["inspect_for"],
        )
        for tool in tools
        for record in tool["records"]
    ]  # fmt: skip
