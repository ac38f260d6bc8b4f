"""Tool: what one tool has been through, and what is left of it."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import streamlit as st

from wearfit.screens import cached, shell, states, ways
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, downloads, table
from wearfit.screens.owner import owner_section
from wearfit.screens.readings import readings_section
from wearfit.screens.remaining import remaining_section
from wearfit.screens.spent import lives_section, sources_section
from wearfit.screens.unbroken import escape
from wearfit.workflow.brief import brief_pdf
from wearfit.workflow.due import cases_within, order_in_words, replacement_in_words, wear_out_months
from wearfit.workflow.noted_words import LOOK, YES, NotedWords, last_to_look_at, noted_words, why_look
from wearfit.workflow.tool_history import ToolHistory
from wearfit.workflow.wording import FLASH, HELD, UNKNOWN, capital, day_in_words, frequency, readings_since, shots, spread

ASKED: Final = "id"  # the tool in the address
WEAR_OR_SETTINGS: Final = (
    "Defects noted in the life under way. Wear shows late in a life, settings at any time: so the chance goes by how far the tool had come."
)


def show() -> None:
    """Draw the page."""
    shell.answering_screen("Tool", _draw, st.query_params.get(ASKED))


def _draw(answering: Answering) -> None:
    st.page_link(shell.FLEET_PAGE, label="← Back to the fleet")
    calibration, asked = cached.current(answering).calibration, st.query_params.get(ASKED)
    live = {str(calibration.levels.tool[t]) for t in calibration.live.tool}
    if asked is None or asked not in live:
        _choose(asked, sorted(live), answering)
        return
    records = cached.records_job(answering)  # so that they are put together while the forecast is drawn
    jobs = (cached.tool_job(answering, asked), cached.remaining_job(answering, asked))
    if not all(shell.ready(job, "Working out what is left of it", "It takes a second or two.") for job in jobs):
        return
    (tool,) = jobs[0].result()["tools"]
    _answer(tool, answering)
    _brief(asked, answering)
    owner_section(tool, answering)
    remaining_section(jobs[1].result(), tool, answering)
    _noted(tool)
    if shell.ready(
        records, "Looking up what it has been through", "The records are put together once; of a large fleet that takes some seconds."
    ):
        _past(cached.tool_history(answering, asked), answering)


def _past(history: ToolHistory, answering: Answering) -> None:
    """What the records tell of it."""
    _moved(history)
    st.caption(f"What follows is as of {day_in_words(cached.own_day(answering))}, the day of the calibration.")
    if not history.same_records:
        states.note(
            "Records came since",
            "The store holds other records by now than the calibration rests on, and what follows shows them.",
            "Run `wearfit recalibrate`, so that the forecast knows them.",
        )
    lives_section(history)
    sources_section(history)
    readings_section(history)
    _runs(history)
    st.header("On the list of tools", anchor=False)
    _facts(history.facts)


def _choose(asked: str | None, tools: Sequence[str], answering: Answering) -> None:
    if asked is not None:
        states.note("No such live tool", f"{asked} is not among the live tools.", "It may be retired, or written otherwise.")
    chosen = st.selectbox("Tool", tools, index=None, placeholder="Type or choose", key="tool_choose", width=340)
    if chosen is not None:
        ways.go(shell.tool_address(chosen, answering))


def _answer(tool: Mapping[str, Any], answering: Answering) -> None:
    """What the forecast says, dates and odds first."""
    horizon = answering.within.horizon_years
    conditions = tool["conditions"]
    what = (tool["design_id"], f"class {tool['service_class']}", tool["plant_id"], tool["status"].replace("_", " "))
    st.html(f'<p class="wf-lead">{escape(", ".join(filter(None, what)))}</p>')
    if tool["status"] == "held":
        states.note("STOP", "This tool is held and must not run until it is released.")
        shell.caution(HELD)
    elif noted := last_to_look_at(tool):
        states.note(LOOK, why_look(noted))
        shell.caution(FLASH)
    worn, on_order = tool["status"] == "worn", tool["replacement_due_on"]
    likely, most = wear_out_months(tool, horizon, answering.as_of) or (UNKNOWN, UNKNOWN)
    facts = (
        ("To do", (UNKNOWN if on_order else "order its replacement now") if worn else order_in_words(tool, horizon, answering.as_of)),
        ("Its replacement", replacement_in_words(on_order, answering.as_of) if worn and on_order else UNKNOWN),
        ("Likely worn out", likely),
        (f"{cases_within(most)} in 10 such tools", most),
        ("Worn out within 12 months", UNKNOWN if worn else frequency(tool["p_within_12_months"])),
        ("Shots left", UNKNOWN if worn else spread(tool["remaining_shots"])),
        ("Shots this life", spread(tool["shots_this_life"])),
        ("Gap if ordered today", UNKNOWN if worn or on_order else frequency(tool["gap_risk_if_ordered_today"])),
    )
    _facts(facts)
    if tool["problem"]:
        states.note("To know", tool["problem"])
    elif worn:
        st.caption("It is worn out by the records, and makes nothing until it is renewed.")
    elif conditions["shots_per_month"]:
        at = f" at {conditions['plant_id']}" if conditions["plant_id"] else ""
        resins = f" in {', '.join(conditions['resins'])}" if conditions["resins"] else ""
        use = f"{shots(conditions['shots_per_month'])} shots a month{at}{resins}"
        st.caption(f"Taken to go on with {use}, as planned, stated or seen in its last 24 months.")
    for sentence in readings_since(tool):
        st.html(f"<p>{escape(sentence)}</p>")
    next_run = [("Next run", "Ask about its next run")] if tool["status"] not in ("held", "worn") else []
    _links(tool["tool_id"], [*next_run, ("Choices", "Decide about it: replace, refurbish, move, keep")], answering)


def _brief(tool_id: str, answering: Answering) -> None:
    """The page that goes to who decides; it is made when the button is pressed."""
    current = cached.current(answering)
    st.download_button(
        "Download the one-page brief (PDF)",
        lambda: brief_pdf(answering.version.store, current, answering.within, tool_id),
        f"brief-{tool_id}.pdf",
        "application/pdf",
        key="brief",
        on_click="ignore",
    )


def _links(tool_id: str, screens: Sequence[tuple[str, str]], answering: Answering) -> None:
    links = "".join(f"<span>{ways.way(shell.address_for(title, tool_id, answering), words)}</span>" for title, words in screens)
    st.html(f'<p class="wf-links">{links}</p>')


def _facts(facts: Sequence[tuple[str, str]]) -> None:
    items = "".join(f"<div><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>" for name, value in facts if value != UNKNOWN)
    st.html(f'<dl class="wf-facts">{items}</dl>')


def _noted(tool: Mapping[str, Any]) -> None:
    """Defects that notes tell of: how likely each is wear, and what would settle it."""
    noted = noted_words(tool)
    if noted:
        st.header("Wear or settings?", anchor=False)
        st.html(f'<p class="wf-standing">{escape(WEAR_OR_SETTINGS)}</p>')
        st.html(f'<ul class="wf-findings">{"".join(_defect(words) for words in noted)}</ul>')


def _defect(words: NotedWords) -> str:
    became = f"<strong>{escape(words.chance)}</strong> <span>that it is wear</span>" if words.chance else "<strong>not told</strong>"
    what = f"{words.what[0].upper()}{words.what[1:]}, noted on {day_in_words(words.on)}: \u2018{words.note}\u2019"
    asked = f"To settle it: {words.question} {YES}" if words.question else ""
    more = "".join(f'<span class="wf-more">{escape(text)}</span>' for text in (words.used.capitalize(), asked) if text)
    look = f"<strong>{escape(words.look)}</strong>" if words.look else ""
    return f'<li><div class="wf-became">{became}</div><div>{escape(what)}{more}{look}</div></li>'


def _moved(history: ToolHistory) -> None:
    st.header("What moved the forecast", anchor=False)
    if not history.moved:
        st.write("Nothing beside its shots, plants and resins moved what is left of its life by 5 % or more.")
        return
    for moved in history.moved:
        change = f"{100 * abs(moved.factor - 1):.0f}\N{NO-BREAK SPACE}% {'more' if moved.factor > 1 else 'less'}"
        st.write(f"{capital(moved.what)}: the likely life left is **{change}** with that than without.")


def _runs(history: ToolHistory) -> None:
    st.header("Runs, events and notes", anchor=False)
    events = Numbers(
        f"events-{history.tool_id}",
        ("Day", "Event", "Details", "Note"),
        [(e.day, e.event, e.details, e.note) for e in reversed(history.events)],
    )
    runs = Numbers(
        f"runs-{history.tool_id}",
        ("From", "To", "Plant", "Resin", "Shots", "Set-ups"),
        [(r.started_on, r.ended_on, r.plant_id, r.resin_id, round(r.shots), r.setups) for r in reversed(history.runs)],
    )
    for numbers, key, says in ((events, "events", "Its events, newest first."), (runs, "runs", "Its runs, newest first.")):
        st.subheader(f"{key.capitalize()} ({len(numbers.rows):,})", anchor=False)
        if numbers.rows:
            table(numbers, says, key)
            downloads(numbers, key)


if __name__ == "__main__":
    show()
