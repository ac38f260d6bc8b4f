"""Charts that stay as they are while their answer does: putting one together takes longer than all else on a page."""

from collections.abc import Callable, Hashable
from typing import Final

import streamlit as st

MOST_DRAWINGS: Final = 50


@st.cache_resource(max_entries=MOST_DRAWINGS, show_spinner=False)
def drawing(rests_on: Hashable, _draw: Callable[[], str]) -> str:
    """A chart as JSON.

    Parameters
    ----------
    rests_on : hashable
        All that the chart follows from.
    _draw : callable
        Puts it together, where it is not held.
    """
    return _draw()
