"""Sentences one under the other."""

from collections.abc import Sequence

import streamlit as st

from wearfit.screens.unbroken import escape


def listed(said: Sequence[str]) -> None:
    """A list of whole sentences."""
    st.html(f'<ul class="wf-sentences">{"".join(f"<li>{escape(sentence)}</li>" for sentence in said)}</ul>')
