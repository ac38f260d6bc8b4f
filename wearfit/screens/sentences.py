"""Sentences one under the other."""

from collections.abc import Sequence

import streamlit as st

from wearfit.screens.unbroken import with_commands


def listed(said: Sequence[str]) -> None:
    """A list of whole sentences, their commands set as what one types."""
    st.html(f'<ul class="wf-sentences">{"".join(f"<li>{with_commands(sentence)}</li>" for sentence in said)}</ul>')
