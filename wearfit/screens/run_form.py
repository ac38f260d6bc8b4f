"""The question about a next run: tool, plant, resin, month and quantity, begun with what the tool is usually asked for."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import streamlit as st

from wearfit.errors import Refusal
from wearfit.forecasts.largest_run import LARGEST_RUN
from wearfit.forecasts.run_question import RunQuestion
from wearfit.screens import cached, filled, session, shell, states
from wearfit.screens.cached import Answering
from wearfit.workflow.answers import Current, known_question
from wearfit.workflow.usual_run import UsualRun, shots_for, usual_run
from wearfit.workflow.wording import count, month_in_words

MONTHS_AHEAD: Final = 60
COUNTED: Final = ("shots", "parts")
WIDTH: Final = 240  # of a field for a number
Begins = Callable[[str, str | int | None], None]
"""Gives a field, by its key, what it begins with."""


@dataclass(frozen=True)
class Asked:
    """What is asked.

    Parameters
    ----------
    question : RunQuestion or None
        In the calibration's names; None while something is missing, which the form says.
    after_plan : bool
        Whether planned and expected use until the run's month comes first.
    held : bool
        Whether the tool must not run.
    home : str or None
        Where the tool is.
    """

    question: RunQuestion | None
    after_plan: bool
    held: bool
    home: str | None


def ask(answering: Answering, current: Current) -> Asked | None:
    """Draw the form; None while no tool is chosen."""
    calibration = current.calibration
    live = calibration.live
    status = {str(calibration.levels.tool[t]): str(live.status[i]) for i, t in enumerate(live.tool)}
    wanted = st.query_params.get("tool")
    if wanted is not None and wanted not in status:
        known = wanted in set(calibration.levels.tool)
        states.note(
            "No such live tool", f"Tool {wanted} is {'retired' if known else 'not in the records'}.", "Choose one of the live tools."
        )
    user = session.of_user()
    fields = st.container(horizontal=True, gap="medium", key="run_filters")
    with fields:
        tool = st.selectbox(
            "Tool", sorted(status), index=None, placeholder="Type or choose", key="tool", bind="query-params", on_change=_begin_anew
        )  # fmt: skip
    if tool is None:
        st.write("Choose the tool that is to run.")
        return None
    usual = usual_run(calibration, tool)
    if status[tool] == "held":
        return Asked(None, False, True, usual.plant_id)
    begin: Begins = filled.fill if user.run_anew else filled.begin_with
    with fields:
        plant = _name("Plant", [str(p) for p in calibration.levels.plant], usual.plant_id, "at_plant", begin)
        resin = _name("Resin", [str(r) for r in calibration.levels.resin], usual.resin_id, "in_resin", begin)
        month = _month(answering.as_of)
    counted = st.segmented_control("Quantity in", COUNTED, default=COUNTED[0], required=True, key="counted", bind="query-params")
    if counted == "parts" and not _records_are_there(answering):
        return None
    shots = _parts(answering, tool, usual, begin) if counted == "parts" else _shots(usual, begin)
    user.run_anew = False  # only now, so that a run that is broken off before leaves nothing of another tool behind
    after_plan = st.checkbox(
        "Count its planned and expected use until that month first", key="after_plan", bind="query-params",
        help="Without it, the run is asked about as if it came next.",
    )  # fmt: skip
    if not plant or not resin or not shots:
        st.write("Fill in plant, resin and quantity.")
        return Asked(None, after_plan, False, usual.plant_id)
    question = known_question(answering.version.store, calibration, RunQuestion(tool, plant, resin, month, shots))
    return Asked(question, after_plan, False, usual.plant_id)


def _begin_anew() -> None:
    """Another tool was chosen: begin with its own usual run."""
    session.of_user().run_anew = True


def _name(label: str, known: Sequence[str], usual: str | None, key: str, begin: Begins) -> str | None:
    """One of the names known, or another one."""
    begin(key, usual)
    help_text = f"Type the name of another {label.lower()} to ask about one that the records do not know."
    chosen = st.selectbox(label, known, index=None, key=key, bind="query-params", accept_new_options=True, help=help_text)
    return chosen.strip() if chosen else None


def _month(as_of: dt.date) -> str:
    first = as_of.year * 12 + as_of.month - 1
    months = [f"{n // 12}-{n % 12 + 1:02d}" for n in range(first, first + MONTHS_AHEAD)]
    tomorrow = (as_of + dt.timedelta(days=1)).strftime("%Y-%m")
    chosen = st.selectbox("Month", months, index=months.index(tomorrow), format_func=month_in_words, key="month", bind="query-params")
    return chosen or tomorrow


def _shots(usual: UsualRun, begin: Begins) -> int | None:
    begin("shots", usual.shots)
    return st.number_input("Shots", 1, LARGEST_RUN, None, 1000, format="%d", key="shots", bind="query-params", width=WIDTH)


def _records_are_there(answering: Answering) -> bool:
    try:
        return shell.ready(cached.records_job(answering), "Looking up the tool's cavities")
    except Refusal:
        return True


def _parts(answering: Answering, tool: str, usual: UsualRun, begin: Begins) -> int | None:
    """Shots that a number of parts takes, said plainly."""
    try:
        stated = cached.cavities(answering, tool)
    except Refusal:  # the records are gone, so that nothing tells
        stated = None
    with st.container(horizontal=True, gap="medium"):
        open_cavities = st.number_input("Open cavities", 1, 10_000, stated or 1, key=f"cavities_{tool}", width=WIDTH)
        begin("parts", usual.shots * (open_cavities or 1))
        parts = st.number_input("Parts", 1, LARGEST_RUN, None, 1000, format="%d", key="parts", bind="query-params", width=WIDTH)
    if not parts or not open_cavities:
        return None
    shots = shots_for(parts, open_cavities)
    taken = "" if stated else " The list of tools states no cavities, so one is taken."
    cavities = count(open_cavities, "open cavity", "open cavities")
    st.caption(
        f"{parts:,} parts out of {cavities} are {shots:,} shots.{taken} Scrap and dry shots are not counted: add what you expect of them."
    )
    return shots
