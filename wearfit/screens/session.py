"""What one user has chosen, kept while the browser's page is open."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

import streamlit as st

_KEY: Final = "wearfit_user"


@dataclass
class User:
    """The choices of one user. A screen adds a field with its default here, never a key of its own.

    Parameters
    ----------
    as_of : date or None
        The day that is asked about; None is the calibration's own. Later, each clock is rolled forward by expected use.
    name : str
        Under which judgements are kept; there is no sign-in.
    """

    as_of: dt.date | None = None
    name: str = ""


def of_user() -> User:
    """The object of this user, made at the first call."""
    if _KEY not in st.session_state:
        st.session_state[_KEY] = User()
    user = st.session_state[_KEY]
    assert isinstance(user, User)
    return user
