"""The part of Evidence that says which law of wear the records speak for."""

from typing import Final

import streamlit as st

from wearfit.screens import states
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, in_numbers
from wearfit.screens.sentences import listed
from wearfit.workflow.laws import kept_laws
from wearfit.workflow.laws_in_words import LAW_NAMES, khat_words

COLUMNS: Final = ("Law", "Elpd (nat)", "To the best", "Standard error", "Weight (%)", "Lives left out")


def law_section(answering: Answering) -> None:
    """Draw how the laws compare, where the store keeps an answer about this calibration."""
    st.header("Which law of wear?", anchor=False)
    kept = kept_laws(answering.version.store, answering.version.number)
    if kept is None:
        states.note(
            "Not asked yet",
            "Nobody has asked yet whether lives scatter as the law of this calibration has it, or with another law's tails.",
            "Run `wearfit law`; it calibrates under three laws and takes some minutes.",
        )
        return
    listed(kept["sentences"])
    rows = []
    for law in kept["laws"]:
        numbers = (round(law[name], 1) for name in ("elpd", "difference", "error"))
        rows.append((LAW_NAMES[law["law"]], *numbers, round(100 * law["weight"]), khat_words(law)))
    in_numbers(Numbers("laws", COLUMNS, rows), "How well each law forecasts a life from all others.", "laws")
