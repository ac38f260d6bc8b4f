"""What a calculator is told: a field for each input, empty where what is on record or a default stands, which is shown in it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any, Final

import streamlit as st

from wearfit.decisions.inputs import YES_NO, Input, Known, unless_given
from wearfit.errors import Refusal
from wearfit.screens import states
from wearfit.screens.figures import Numbers, downloads, table
from wearfit.workflow.typed_inputs import GROUPS, comes_from, group_of, in_field, label_of, told_of, typed

NO_YES: Final = ("no", "yes")
LEADING: Final = 3  # inputs that a calculator names first


@dataclass(frozen=True)
class Told:
    """What the user says.

    Parameters
    ----------
    given : tuple of (str, float)
        Inputs by name, those alone that the user sets.
    whole : bool
        Whether nothing is missing and all that was typed can be; the form says what is not.
    """

    given: tuple[tuple[str, float], ...]
    whole: bool


def ask_inputs(inputs: Sequence[Input], on_record: Mapping[str, float], key: str, leading: int = LEADING) -> Told:
    """Draw the fields: first what leads the list and what no default can stand for, the rest folded away in groups.

    Parameters
    ----------
    on_record : mapping of str to float
        Values that the records give, by input.
    key : str
        Unlike that of every other such form of the page.
    leading : int
        How many of the list are never folded away.
    """
    given, refused = _read(inputs)
    below = {name: refusal.repair for name, refusal in refused.items()}
    known = {item.name: _stands(item, inputs, on_record, given) for item in inputs}
    first = [item for place, item in enumerate(inputs) if item.default is None or place < leading]
    rest = [item for item in inputs if item not in first]
    if first:
        _fields(first, known, given, below, f"{key}_first")
    if rest:
        own = [item.label.lower() for item in rest if item.name in given]
        noun = f"{len(rest)} {'more ' if first else ''}{'assumption' if len(rest) == 1 else 'assumptions'}"
        # Label and key stay the same, so that it does not close over what is being typed; an address that changes something opens it.
        opened = f"{key}_more"
        if opened not in st.session_state and any(item.name in given or item.name in refused for item in rest):
            st.session_state[opened] = True
        with st.expander(f"{noun}, each with where it comes from; change any", key=opened, on_change="rerun"):
            for at, group in enumerate(GROUPS):
                if of_group := [item for item in rest if group_of(item) == group]:
                    st.subheader(group, anchor=False)
                    _fields(of_group, known, given, below, f"{key}_{at}")
        if own:
            st.caption(f"Yours among them: {', '.join(own)}.")
    if refused:
        states.note("This cannot be", " ".join(f"{refusal.problem} {refusal.repair}" for refusal in refused.values()))
    missing = [item for item in first if known[item.name] is None and item.name not in given and item.name not in refused]
    if missing:
        st.write(f"Fill in {' and '.join(label_of(item)[:1].lower() + label_of(item)[1:] for item in missing)}.")
    return Told(tuple(given.items()), not refused and not missing)


def begin_anew(inputs: Sequence[Input]) -> None:
    """Empty the fields before they are drawn: something else is asked about."""
    for item in inputs:
        if item.name in st.session_state or item.name in st.query_params:
            st.session_state[item.name] = in_field(item, _usual(item)) if item.unit == YES_NO else ""


def _text(item: Input) -> str:
    """What stands in a field, or in the address before it is drawn."""
    text = st.session_state.get(item.name, st.query_params.get(item.name))
    return str(text).strip() if text is not None else ""


def _read(inputs: Sequence[Input]) -> tuple[dict[str, float], dict[str, Refusal]]:
    """What the user set, and what of it cannot be."""
    given, refused = {}, {}
    for item in inputs:
        text = _text(item)
        if item.unit == YES_NO:
            if text and text != in_field(item, _usual(item)):
                given[item.name] = float(text == NO_YES[1])
        elif text:
            try:
                given[item.name] = typed(item, text)
            except Refusal as refusal:
                refused[item.name] = refusal
    return given, refused


def _stands(item: Input, inputs: Sequence[Input], on_record: Mapping[str, float], given: Mapping[str, float]) -> Known | None:
    """What stands for an input where its field is empty; None where nothing does yet."""
    try:
        return unless_given(item, inputs, on_record, given)
    except Refusal:
        return None


def _usual(item: Input) -> float:
    return item.default if isinstance(item.default, float) else 0.0


def _fields(
    items: Sequence[Input], known: Mapping[str, Known | None], given: Mapping[str, float], refused: Mapping[str, str], key: str
) -> None:
    with st.container(key=f"{key}_told"):
        for item in items:
            stands = known[item.name]
            with st.container(gap=None):
                if item.unit == YES_NO:
                    usual = in_field(item, _usual(item))
                    st.segmented_control(
                        label_of(item), NO_YES, default=usual, required=True, key=item.name, bind="query-params", help=item.meaning
                    )
                else:
                    shown = "" if stands is None else in_field(item, stands.value)
                    st.text_input(label_of(item), key=item.name, bind="query-params", placeholder=shown, help=item.meaning)
                below = refused.get(item.name) or comes_from(item, stands, item.name in given)
                loud = " wf-yours" if item.name in given or item.name in refused else ""
                st.html(f'<p class="wf-from{loud}">{escape(below)}</p>')


def told_section(document: Mapping[str, Any], name: str) -> None:
    """Everything that an answer was told, to read and to take away as a file of that name."""
    with st.expander("All that the answer was told, and where each comes from"):
        numbers = Numbers(name, ("Assumption", "Value", "Comes from", "Meaning"), told_of(document))
        table(numbers, "Every assumption of the answer with its value and where it comes from.", "told")
        downloads(numbers, "told")
