"""The question of a choice: which of the decisions, and what it is about."""

from collections.abc import Iterable, Sequence
from typing import Any, Final, Literal

import streamlit as st

from wearfit.calibration import Calibration
from wearfit.decisions.choices import DECISIONS, decision_named
from wearfit.decisions.decision import Decision
from wearfit.exposures.classes import STEELS
from wearfit.forecasts.new_tool import SERVICE_CLASSES
from wearfit.records.coatings import COATINGS
from wearfit.screens import states
from wearfit.screens.unbroken import escape
from wearfit.workflow.subjects import KIND, SUBJECTS, Asked

IN_USE: Final = "a tool in use"
NEW: Final = "a new tool"
LIKE_ONE: Final = "one like a tool in use"
WIDTH: Final = 340  # of a field that stands alone
KEYS: Final = {"plant": "new_at", "resin": "new_in", "service_class": "new_class"} | {
    name: f"new_{name}" for name in ("steel", "coating", "design", "maker")
}
"""Where each word of what a new tool is to be stands in the address: not where a next run has its plant and resin."""
OTHER_PLANT: Final = "move_to"


def ask_question() -> Decision[Any]:
    """Draw the questions; the first one is asked until another is chosen."""
    questions = {decision.question: decision.name for decision in DECISIONS}
    chosen = st.pills(
        "What is to be decided?", list(questions), default=next(iter(questions)), required=True, key="decide", bind="query-params"
    )  # fmt: skip
    decision = decision_named(questions[str(chosen)])
    st.html(f'<p class="wf-lead">{escape(decision.help)}</p>')
    return decision


def ask_about(decision: Decision[Any], calibration: Calibration) -> Asked | None:
    """Draw what the question is about; None while it is not said in full, which the page then says."""
    takes = SUBJECTS[decision.subject].takes
    if "tool" not in takes:
        return _kind(takes, calibration)
    if "service_class" not in takes:
        tool = _tool(calibration)
        plant = (
            _name("Other plant", calibration.levels.plant, OTHER_PLANT, "all that have runs", WIDTH) if tool and "plant" in takes else ""
        )
        return Asked(tool=tool, plant=plant) if tool else None
    first = LIKE_ONE if decision.subject == "tool or kind" else IN_USE
    about = st.segmented_control(
        "About", (first, NEW), default=first, required=True, key=f"about_{decision.name}", bind="query-params"
    )  # fmt: skip
    if about == NEW:
        return _kind(KIND, calibration)
    tool = _tool(calibration)
    return Asked(tool=tool) if tool else None


def _tool(calibration: Calibration) -> str:
    known = [str(tool) for tool in calibration.levels.tool]
    live = sorted(known[i] for i in calibration.live.tool)
    wanted = st.query_params.get("tool")
    if wanted is not None and wanted not in live:
        what = "retired" if wanted in known else "not in the records"
        states.note("No such live tool", f"Tool {wanted} is {what}.", "Choose one of the live tools.")
    chosen = st.selectbox("Tool", live, index=None, placeholder="Type or choose", key="tool", bind="query-params", width=WIDTH)
    if chosen is None:
        st.write("Choose the tool that it is about.")
    return chosen or ""


def _kind(takes: Sequence[str], calibration: Calibration) -> Asked | None:
    """What a tool that is yet to be cut is to be, and where it is to run."""
    levels = calibration.levels
    with st.container(horizontal=True, gap="medium", key="subject_filters"):
        named = {"plant": _name("Plant", levels.plant, KEYS["plant"]), "resin": _name("Resin", levels.resin, KEYS["resin"])}
        if "service_class" in takes:
            named["service_class"] = _one("Class", SERVICE_CLASSES, KEYS["service_class"], "Type or choose")
        if "steel" in takes:
            named["steel"] = _one("Cavity steel", STEELS, KEYS["steel"], "usual for the class")
        named["coating"] = _one("Coating", COATINGS, KEYS["coating"], "none")
        named["design"] = _name("Design, if on record", levels.design, KEYS["design"], "none")
        named["maker"] = _name("Toolmaker, if on record", levels.maker, KEYS["maker"], "none")
    missing = [
        word for name, word in (("plant", "the plant"), ("resin", "the resin"), ("service_class", "the class")) if named.get(name) == ""
    ]
    if missing:
        st.write(f"Choose {' and '.join(missing)}.")
        return None
    return Asked(**named)


def _name(label: str, known: Iterable[Any], key: str, blank: str = "Type or choose", width: int | Literal["stretch"] = "stretch") -> str:
    """One of the names known, or another one; empty where none is given."""
    help_text = "Type the name of another one to ask about one that the records do not know."
    chosen = st.selectbox(
        label, [str(name) for name in known], index=None, placeholder=blank, key=key, bind="query-params",
        accept_new_options=True, help=help_text, width=width,
    )  # fmt: skip
    return str(chosen).strip() if chosen else ""


def _one(label: str, names: Sequence[str], key: str, blank: str) -> str:
    written = {name: name.replace("_", " ") for name in names}
    chosen = st.selectbox(label, names, index=None, placeholder=blank, format_func=lambda name: written[name], key=key, bind="query-params")
    return chosen or ""
