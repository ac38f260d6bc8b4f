"""The answer to a choice: the advice, each action's cost as an interval, how sure it is, and what it hangs on."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import streamlit as st

from wearfit.decisions.decision import WEAR_LIFE, Decision
from wearfit.decisions.money import amount
from wearfit.screens import intervals, shell, states
from wearfit.screens.age_chart import along_age
from wearfit.screens.figures import Numbers, in_numbers
from wearfit.screens.told import told_section
from wearfit.screens.unbroken import escape
from wearfit.screens.ways import way
from wearfit.workflow import choice_in_words as words
from wearfit.workflow.wording import HELD, MOVING, capital

STEPS: Final = 4  # between marks of a scale of money, so that they do not touch on a narrow page


def draw_answer(document: Mapping[str, Any], decision: Decision[Any], tool_address: str | None) -> None:
    """Draw it; `tool_address` is that of the page of the tool that it is about."""
    if document["hold"]:
        states.note("STOP", "This tool is held and must not run until it is released. What follows holds for the day on which it is.")
        shell.caution(HELD)
    st.header("The advice", anchor=False)
    st.html(
        f'<p class="wf-answer"><strong>{escape(words.headline(document))}</strong>{escape(words.on_page(document["advice"], decision))}</p>'
    )
    if tool_address is not None:
        st.html(f"<p>{way(tool_address, f'What {document["about"]["tool"]} has been through')}</p>")
    _actions(document)
    if document.get("curve"):
        along_age(document)
    if document.get("copies"):
        _copies(document)
    _hangs_on(document, decision)
    notes, cautions = words.notes_and_cautions(document)
    st.header("To be read with it", anchor=False)
    _sentences([*(words.on_page(note, decision) for note in notes), WEAR_LIFE])
    told_section(document, f"{_name(document)}-assumptions")
    for caution in cautions:
        shell.caution(caution)
    if any(action["action"].startswith("move ") for action in document["actions"]):
        shell.caution(MOVING)


def _sentences(sentences: Sequence[str]) -> None:
    st.html(f'<ul class="wf-sentences">{"".join(f"<li>{escape(sentence)}</li>" for sentence in sentences)}</ul>')


def _actions(document: Mapping[str, Any]) -> None:
    actions: Sequence[Mapping[str, Any]] = document["actions"]
    st.header("What each action costs", anchor=False)
    st.html(f'<p class="wf-standing">{escape(f"Cost {document['cost_of']}, in the currency of the records.")}</p>')
    ends = [end for a in actions for end in (a["cost"]["p05"], a["cost"]["p95"], a["expected_cost"])]
    scale = intervals.scale_over(ends, lambda money, _: amount(money), STEPS)
    ranked = sorted(actions, key=lambda a: a["expected_cost"])
    rows = [_interval(action, scale, words.least_words(action, document)) for action in ranked]
    intervals.draw(rows, scale.ticks, "What each action costs", ("Action", "Cost", "In words"), "actions")
    st.caption(f"{words.lines_sentence(actions)} {words.sure_sentence(document)}")
    columns = (
        "Action", "Best", "Cost to expect", "Cost to expect, low (5 %)", "Cost to expect, high (95 %)", "Cost, 1 in 10 below",
        "Cost, likely", "Cost, 1 in 10 above", "Share of draws in which it costs least",
    )  # fmt: skip
    numbers = [
        (
            a["action"], "yes" if a["action"] == document["best"] else "no", a["expected_cost"], *a["expected_cost_range"],
            *(a["cost"][q] for q in ("p10", "p50", "p90")), a["p_best"],
        )
        for a in ranked
    ]  # fmt: skip
    in_numbers(Numbers(_name(document), columns, numbers), "What each action costs.", "actions", workbook=True)


def _name(document: Mapping[str, Any]) -> str:
    """Of files that hold the answer."""
    return "-".join(("choice", document["what"], *document["about"].values()))


def _interval(action: Mapping[str, Any], scale: intervals.Scale, under: str) -> intervals.Interval:
    said, more = words.cost_words(action)
    least, low, high, most = (scale.at(action["cost"][q]) for q in ("p05", "p10", "p90", "p95"))
    return intervals.Interval(
        capital(words.on_page(action["action"])),
        under,
        said,
        more,
        low,
        scale.at(action["expected_cost"]),
        high,
        outer=(least, most),
    )


def _copies(document: Mapping[str, Any]) -> None:
    """Units on the launch day by number of tools."""
    copies: Sequence[Mapping[str, Any]] = document["copies"]
    st.header("Units on the launch day", anchor=False)
    scale = intervals.scale_over([0.0, *(c["units"]["p90"] for c in copies)], lambda units, _: amount(units), STEPS)
    rows = []
    for c in copies:
        low, likely, high = (c["units"][q] for q in ("p10", "p50", "p90"))
        made = f"{amount(likely)} likely; 8 in 10 from {amount(low)} to {amount(high)}"
        rows.append(
            intervals.Interval(
                f"{c['copies']} {'tool' if c['copies'] == 1 else 'tools'}", "",
                f"in time in {100 * c['p_on_time']:.0f} of 100 futures", made,
                scale.at(low), scale.at(likely), scale.at(high),
            )
        )  # fmt: skip
    intervals.draw(
        rows, scale.ticks, "Units on the launch day by number of tools", ("Tools", "Good units on the day", "In words"), "copies"
    )
    columns = (
        "Tools", "Chance to be in time", "Units, 1 in 10 below", "Units, likely", "Units, 1 in 10 above", "Cost of the tools",
        "Cost of lateness", "Cost of repairs before the launch", "Cost after the launch",
    )  # fmt: skip
    numbers = [
        (
            c["copies"], c["p_on_time"], *(c["units"][q] for q in ("p10", "p50", "p90")), c["tools"], c["lateness"], c["before_launch"],
            c["after_launch"],
        )
        for c in copies
    ]  # fmt: skip
    in_numbers(Numbers(f"{_name(document)}-units", columns, numbers), "Units on the launch day by number of tools.", "copies")


def _hangs_on(document: Mapping[str, Any], decision: Decision[Any]) -> None:
    st.header("What it hangs on most", anchor=False)
    st.html(f'<p class="wf-lead">{escape(words.on_page(document["hangs_on"], decision))}</p>')
    if others := words.turns(document):
        st.write("The next that would turn it, each alone:")
        _sentences([words.on_page(sentence, decision) for sentence in others])
    columns = ("Assumption or belief", "Now", "Break-even", "Way to the end of what is likely (share)", "Best beyond", "In words")
    numbers = [(t["name"], t["value"], t["break_even"], t["nearness"], t["instead"], t["sentence"]) for t in document["tried"] if t["name"]]
    if numbers:
        in_numbers(
            Numbers(f"{_name(document)}-hangs-on", columns, numbers), "Everything that was tried, the nearest break-even first.", "hangs"
        )
