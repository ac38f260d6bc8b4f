"""What a calculator is told: a field for each input, empty where what is on record or a default stands, which is shown in it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import streamlit as st

from wearfit.decisions.inputs import YES_NO, Input, Known, unless_given
from wearfit.errors import Refusal
from wearfit.screens import filled, states
from wearfit.screens.figures import Numbers, downloads, table
from wearfit.screens.unbroken import escape
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


@dataclass(frozen=True)
class _Field:
    """A field: what stands where it is empty, what is said below it, and whether that needs the reader."""

    item: Input
    key: str
    stands: Known | None
    said: str
    loud: bool


def ask_inputs(inputs: Sequence[Input], on_record: Mapping[str, float], key: str, leading: int = LEADING, prefix: str = "") -> Told:
    """Draw the fields: first what leads the list and what no default can stand for, the rest folded away in groups.

    Parameters
    ----------
    on_record : mapping of str to float
        Values that the records give, by input.
    key : str
        Unlike that of every other such form of the page.
    leading : int
        How many of the list are never folded away.
    prefix : str
        Before the inputs' names in the address: what is typed on one page is not to stand on another, which has inputs of the same names.
    """
    given, refused = _read(inputs, prefix)

    def field(item: Input) -> _Field:
        stands, own = _stands(item, inputs, on_record, given), item.name in given
        said = refused[item.name].repair if item.name in refused else comes_from(item, stands, own)
        return _Field(item, prefix + item.name, stands, said, own or item.name in refused)

    first = [field(item) for place, item in enumerate(inputs) if item.default is None or place < leading]
    rest = [field(item) for place, item in enumerate(inputs) if item.default is not None and place >= leading]
    if first:
        _draw(first, f"{key}_first")
    if rest:
        noun = f"{len(rest)} {'more ' if first else ''}{'assumption' if len(rest) == 1 else 'assumptions'}"
        # Label and key stay the same, so that it does not close over what is being typed; an address that changes something opens it.
        opened = f"{key}_more"
        if any(each.loud for each in rest):
            filled.begin_with(opened, True)
        with st.expander(f"{noun}, each with where it comes from; change any", key=opened, on_change="rerun"):
            for at, group in enumerate(GROUPS):
                if of_group := [each for each in rest if group_of(each.item) == group]:
                    st.subheader(group, anchor=False)
                    _draw(of_group, f"{key}_{at}")
        if own := [each.item.label.lower() for each in rest if each.item.name in given]:
            st.caption(f"Yours among them: {', '.join(own)}.")
    if refused:
        states.note("This cannot be", " ".join(f"{refusal.problem} {refusal.repair}" for refusal in refused.values()))
    missing = [label_of(each.item) for each in first if each.stands is None and not each.loud]
    if missing:
        st.write(f"Fill in {' and '.join(label[:1].lower() + label[1:] for label in missing)}.")
    return Told(tuple(given.items()), not refused and not missing)


def begin_anew(inputs: Sequence[Input]) -> None:
    """Empty the fields before they are drawn: something else is asked about."""
    for item in inputs:
        if item.name in st.session_state or item.name in st.query_params:
            filled.fill(item.name, in_field(item, _usual(item)) if item.unit == YES_NO else "")


def _text(key: str) -> str:
    """What stands in a field, or in the address before it is drawn."""
    text = st.session_state.get(key, st.query_params.get(key))
    return str(text).strip() if text is not None else ""


def _read(inputs: Sequence[Input], prefix: str) -> tuple[dict[str, float], dict[str, Refusal]]:
    """What the user set, and what of it cannot be."""
    given, refused = {}, {}
    for item in inputs:
        text = _text(prefix + item.name)
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


def _draw(fields: Sequence[_Field], key: str) -> None:
    with st.container(key=f"{key}_told"):
        for field in fields:
            item, label = field.item, label_of(field.item)
            filled.fill_again(field.key)
            with st.container(gap=None):
                if item.unit == YES_NO:
                    usual = in_field(item, _usual(item))
                    st.segmented_control(label, NO_YES, default=usual, required=True, key=field.key, bind="query-params", help=item.meaning)
                else:
                    shown = "" if field.stands is None else in_field(item, field.stands.value)
                    st.text_input(label, key=field.key, bind="query-params", placeholder=shown, help=item.meaning)
                st.html(f'<p class="wf-from{" wf-yours" if field.loud else ""}">{escape(field.said)}</p>')


def told_section(document: Mapping[str, Any], name: str) -> None:
    """Everything that an answer was told, to read and to take away as a file of that name."""
    with st.expander("All that the answer was told, and where each comes from"):
        numbers = Numbers(name, ("Assumption", "Value", "Comes from", "Meaning"), told_of(document))
        table(numbers, "Every assumption of the answer with its value and where it comes from.", "told")
        downloads(numbers, "told")
