"""Next run: the chance that a tool wears out before a run is finished, and what else one would ask before running it."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import streamlit as st

from wearfit.calibration import Calibration
from wearfit.forecasts.run_question import RunQuestion
from wearfit.forecasts.run_risk import RunRisk
from wearfit.screens import cached, intervals, run_charts, shell, states
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, in_numbers
from wearfit.screens.run_form import ask
from wearfit.screens.unbroken import escape
from wearfit.workflow import run_in_words as words
from wearfit.workflow.look_first import look_first
from wearfit.workflow.noted_words import LOOK
from wearfit.workflow.wording import FLASH, HELD, MOVING, frequencies, frequency

MOST_PLANTS: Final = 25  # that are drawn side by side; the table has all
LEAST_TOP: Final = 0.001  # of a scale of chances
NEVER_SEEN: Final = "never seen here: drawn from its population"


def show() -> None:
    """Draw the page."""
    shell.answering_screen("Next run", _draw)


def _draw(answering: Answering) -> None:
    current = cached.current(answering)
    asked = ask(answering, current)
    if asked is None:
        return
    if asked.held:
        states.note("STOP", "This tool is held and must not run until it is released.")
        shell.caution(HELD)
        return
    if asked.question is None:
        return
    if not shell.ready(
        cached.runs_job(answering, asked.question.tool_id), "Working out how far the tool has come", "It takes a second or two."
    ):
        return
    risk = cached.run_risk(answering, asked.question, asked.after_plan)
    if risk.along is None:
        states.note("This run cannot be answered", risk.answer["problem"])
        return
    if look := look_first(current.calibration, asked.question.tool_id):
        states.note(LOOK, look)
    _answer(risk)
    accepted = _accepted()
    plants = _known_plants(current.calibration, asked.question.plant_id)
    answers = cached.at_plants(answering, asked.question, plants, accepted, asked.after_plan)
    here = next(answer for answer in answers if answer["plant_id"] == asked.question.plant_id)
    st.html(f'<p class="wf-lead">{escape(words.accepted_sentence(here, accepted, _largest(here) or 0))}</p>')
    run_charts.along(risk, accepted)
    _other_plants(answers, asked.question, accepted)
    _hangs_on(risk)
    if asked.home is not None and asked.home != asked.question.plant_id:
        shell.caution(MOVING)
    shell.caution(FLASH)


def _answer(risk: RunRisk) -> None:
    answer = risk.answer
    chance = frequency(answer["p_wear_out"])
    st.html(f'<p class="wf-answer"><strong>{escape(chance[0].upper() + chance[1:])}</strong> {escape(words.chance_sentence(answer))}</p>')
    st.html(f'<p class="wf-lead">{escape(words.interval_sentence(answer))}</p>')
    worn, range_of = words.percent(answer["p_wear_out"]), words.percents(*answer["p_wear_out_interval"])
    facts = (
        ("Worn out, in numbers", worn if worn == range_of else f"{worn} ({range_of})"),
        ("Any stop, sudden damage counted", f"{frequency(answer['p_any_stop'])} ({words.percent(answer['p_any_stop'])})"),
    )
    st.html(f'<dl class="wf-facts">{"".join(f"<div><dt>{escape(n)}</dt><dd>{escape(v)}</dd></div>" for n, v in facts)}</dl>')
    if answer["new"]:
        st.html(f'<ul class="wf-sentences">{"".join(f"<li>{escape(s)}</li>" for s in words.new_sentences(answer))}</ul>')


def _accepted() -> float:
    """The chance that the user accepts."""
    st.header("The largest run at a chance you accept", anchor=False)
    percent = st.number_input(
        "Accept a chance of wear-out up to (%)", 0.1, 99.0, 10.0, 1.0, format="%.3g", key="accept", bind="query-params", width=340
    )
    return (percent or 10.0) / 100.0


def _known_plants(calibration: Calibration, asked: str) -> tuple[str, ...]:
    """The plant that is asked about, and those of which records tell."""
    known = [str(plant) for plant, seen in zip(calibration.levels.plant, calibration.plants.seen, strict=True) if seen]
    return tuple(sorted({*known, asked}))


def _largest(answer: Mapping[str, Any]) -> int | None:
    """The largest run at the chance accepted, the only one that is looked for here."""
    (largest,) = answer["largest_run_at_risk"].values()
    return largest


def _other_plants(answers: Sequence[Mapping[str, Any]], question: RunQuestion, accepted: float) -> None:
    if len(answers) < 2:
        return
    st.header("The same run at the other plants", anchor=False)
    answers = sorted(answers, key=lambda a: (a["p_wear_out"], a["plant_id"]))
    shown = answers[:MOST_PLANTS]
    if question.plant_id not in {answer["plant_id"] for answer in shown}:
        shown = [*shown[:-1], next(answer for answer in answers if answer["plant_id"] == question.plant_id)]
    top = max(LEAST_TOP, *(answer["p_wear_out_interval"][1] for answer in shown))
    rows = [_at_plant(answer, question.plant_id, top) for answer in shown]
    intervals.draw(
        rows, _ticks(top), "The same run at each plant", ("Plant", "Chance that it wears out before the end", "In words"), "plants"
    )
    left = f" {len(answers) - len(shown)} more are in the table." if len(answers) > len(shown) else ""
    st.caption(f"The line holds 9 in 10 of what the chance may be, the notch is the chance itself.{left}")
    in_numbers(_plant_numbers(answers, question.tool_id, accepted), "The same run at each plant.", "plants")


def _ticks(top: float) -> list[intervals.Tick]:
    """Marks of a scale of chances up to one."""
    step = intervals.round_step(top / 4.0)
    return [intervals.Tick(n * step / top, f"{100 * n * step:g} %") for n in range(6) if n * step <= top * 1.001]


def _at_plant(answer: Mapping[str, Any], asked: str, top: float) -> intervals.Interval:
    low, high = answer["p_wear_out_interval"]
    under = ", ".join(
        filter(None, ("asked about" if answer["plant_id"] == asked else "", NEVER_SEEN if answer["plant_id"] in answer["new"] else ""))
    )
    more = f"{frequencies((low, high))}; any stop {frequency(answer['p_any_stop'])}"
    chance = answer["p_wear_out"]
    return intervals.Interval(answer["plant_id"], under, frequency(chance), more, low / top, chance / top, high / top)


def _plant_numbers(answers: Sequence[Mapping[str, Any]], tool: str, accepted: float) -> Numbers:
    columns = (
        "Plant", "Chance of wear-out", "Low (5 %)", "High (95 %)", "Chance of any stop",
        f"Largest run at {words.percent(accepted)} (shots)", "Never seen here",
    )  # fmt: skip
    rows = [
        (
            answer["plant_id"], answer["p_wear_out"], *answer["p_wear_out_interval"], answer["p_any_stop"], _largest(answer),
            "yes" if answer["plant_id"] in answer["new"] else "no",
        )
        for answer in answers
    ]  # fmt: skip
    return Numbers(f"next-run-{tool}-plants", columns, rows)


def _from_to(good: float, bad: float) -> str:
    best, worst = frequency(good), frequency(bad)
    return best if best == worst else f"{best} to {worst.removeprefix('about ')}"


def _hangs_on(risk: RunRisk) -> None:
    st.header("What the answer hangs on", anchor=False)
    st.html(f'<p class="wf-lead">{escape(words.hangs_sentence(risk.hangs_on))}</p>')
    told = [one for one in risk.hangs_on if one.share >= words.WORTH_TELLING]
    if told:
        top = max(LEAST_TOP, *(one.bad for one in told))
        rows = [
            intervals.Interval(
                words.CAUSES[one.name][0], "", _from_to(one.good, one.bad),
                f"takes away {words.percent(one.share)} of the variance", one.good / top, risk.answer["p_wear_out"] / top, one.bad / top,
            )
            for one in told
        ]  # fmt: skip
        heads = ("Not known exactly", "Chance, from its best fifth to its worst", "In words")
        intervals.draw(rows, _ticks(top), "What the answer hangs on", heads, "hangs")
        st.caption("Luck stays even if all of this were known: the chance is then surer, not smaller.")
    columns = ("Not known exactly", "Share of the variance", "Chance in its best fifth", "Chance in its worst fifth")
    numbers = [(words.CAUSES[one.name][1], one.share, one.good, one.bad) for one in risk.hangs_on]
    in_numbers(Numbers(f"next-run-{risk.answer['tool_id']}-hangs-on", columns, numbers), "What the answer hangs on.", "hangs")


if __name__ == "__main__":
    show()
