"""Who did what when."""

from typing import Final

import streamlit as st

from wearfit.screens.figures import Numbers, in_numbers
from wearfit.workflow.actions import actions_done
from wearfit.workflow.standing import Standing

MOST: Final = 500
COLUMNS: Final = ("When (UTC)", "Who", "What", "Which")


def actions_section(store: str, stands: Standing) -> None:
    """Draw the list; nothing where there is no store."""
    done = [] if stands.uploads is None else actions_done(store, MOST)
    if not done:
        return
    st.header("Who did what", anchor="who-did-what")
    rows = [(action.at.isoformat(sep=" ", timespec="minutes")[:16], action.by, action.what, action.detail) for action in done]
    in_numbers(Numbers("who-did-what", COLUMNS, rows), f"What was done with this store, newest first, at most {MOST}.", "actions_done")
