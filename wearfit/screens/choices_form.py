"""Questions that the records leave open, as controls; and every choice as the text of its file."""

from collections.abc import Sequence
from typing import Final

import streamlit as st

from wearfit.errors import Refusal
from wearfit.records.choices import Choices, read_choices
from wearfit.records.decisions import Place, decide, decisions, take_back, toml_of
from wearfit.records.tables import TABLES
from wearfit.screens import shell, states
from wearfit.screens.looking import begin_reading
from wearfit.screens.session import Handing
from wearfit.workflow.open_questions import UNUSED, OpenQuestion, answers_at, asked_at
from wearfit.workflow.wording import cut

FIRST_QUESTIONS: Final = 12  # at once; the rest when these are settled
LONGEST: Final = 240
EXAMPLE: Final = '[columns.runs]\n"Pressings" = "shots"'
AS_READ: Final = "As the reader takes it"


def choices_section(store: str, handing: Handing, questions: Sequence[OpenQuestion], choices: Choices) -> None:
    """Draw the questions, and what else can be decided.

    Parameters
    ----------
    choices : Choices
        Those that the records were read with.
    """
    still = [question for question in questions if question.open]
    others = [question for question in questions if not question.open]
    if still:
        st.header("What only you can settle", anchor="settle")
        st.write("Something is not used before this is answered. Nothing is stored by answering.")
        _questions(store, handing, still, choices, "open")
    held = decisions(choices)
    name = "Correct how the records were read" + (f" ({len(held)} of your choices hold)" if held else "")
    with st.expander(name):
        if others:
            st.write("The reader has decided these by itself. Where it is wrong, say so.")
            _questions(store, handing, others, choices, "settled")
        _one_column(store, handing, choices)
        if held:
            _held(store, handing, choices, list(held))
        _as_text(store, handing, choices)


def _read_again(store: str, handing: Handing, choices: Choices) -> None:
    begin_reading(store, handing.files, choices)
    st.rerun()


def _questions(store: str, handing: Handing, questions: Sequence[OpenQuestion], choices: Choices, key: str) -> None:
    held = decisions(choices)
    with st.form(f"questions_{key}", border=False):
        answered, said = {}, ""
        for question in questions[:FIRST_QUESTIONS]:
            words = list(question.answers)
            now = held.get(question.place)
            answered[question.place] = st.selectbox(
                shell.escape_markdown(question.asks),
                words,
                index=words.index(now) if now in words else None,
                format_func=lambda word, answers=question.answers: answers[word],
                placeholder=AS_READ,
                key=f"answer_{key}_{question.place}",
                width=420,
            )
            if question.problem != said:  # of many headers of a sheet it is one sentence
                st.caption(shell.escape_markdown(cut(question.problem, LONGEST)))
            said = question.problem
        if len(questions) > FIRST_QUESTIONS:
            st.caption(f"{len(questions) - FIRST_QUESTIONS:,} more follow when these are settled.")
        if not st.form_submit_button("Read again with these answers"):
            return
    decided = choices
    for place, word in answered.items():
        if word is not None:
            decided = decide(decided, place, word)
        elif place in held:
            decided = take_back(decided, [place])
    if decided == choices:
        st.write("No answer was changed.")
        return
    _read_again(store, handing, decided)


def _one_column(store: str, handing: Handing, choices: Choices) -> None:
    """Any header of any table, for a column that the reader took for another."""
    st.subheader("A column that was taken for another", anchor=False)
    with st.container(horizontal=True, gap="medium", vertical_alignment="bottom", key="column_filters"):
        table = st.selectbox("Table", list(TABLES), index=None, placeholder="Choose", key="column_table")
        header = st.text_input("Header, as it stands in the file", key="column_header", max_chars=200)
        answers = answers_at(Place("columns", table or "", ""))
        column = st.selectbox(
            "It is", list(answers), index=None, format_func=lambda word: answers[word], placeholder="Choose", key="column_is"
        )
        if not st.button("Read again so", key="column_set"):
            return
    if table is None or column is None or not header.strip():
        st.write(f"Choose the table, enter the header, and choose the column that it is, or “{UNUSED}”.")
        return
    _read_again(store, handing, decide(choices, Place("columns", table, header.strip()), column))


def _held(store: str, handing: Handing, choices: Choices, places: Sequence[Place]) -> None:
    st.subheader("Choices that hold", anchor=False)
    held = decisions(choices)
    gone = st.multiselect("Take back", places, format_func=lambda place: _said(place, held[place]), placeholder="None", key="choices_gone")
    if st.button("Read again without these", key="choices_back") and gone:
        _read_again(store, handing, take_back(choices, gone))


def _said(place: Place, word: str) -> str:
    return f"{asked_at(place)} {answers_at(place, word).get(word, word)}"


def _as_text(store: str, handing: Handing, choices: Choices) -> None:
    st.subheader("All choices as a file", anchor=False)
    text = toml_of(choices)
    st.caption("As `wearfit recalibrate --choices FILE` takes it: to keep, to hand on, or to edit here.")
    with st.form("choices_text", border=False):
        written = st.text_area("The file of choices (TOML)", text, height=160, placeholder=EXAMPLE, key=f"choices_{hash(text)}")
        if st.form_submit_button("Read again with this text") and written != text:
            try:
                decided = read_choices(written)
            except Refusal as refusal:
                states.note("This is no file of choices", refusal.problem, refusal.repair)
            else:
                _read_again(store, handing, decided)
    st.download_button("Download the file", text.encode(), "choices.toml", "application/toml", key="choices_file", on_click="ignore")
