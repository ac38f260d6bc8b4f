"""The day that is asked about: it stands in the address, and stays from page to page."""

import datetime as dt
from typing import Final

import streamlit as st

from wearfit.screens import session

KEY: Final = "as_of"
FURTHEST_DAYS: Final = 3653  # that clocks may be rolled forward from the calibration's day


def ask_day(own_day: dt.date) -> dt.date:
    """Draw the field, and keep what is chosen.

    Parameters
    ----------
    own_day : date
        The calibration's; earlier ones are not asked about, and the address does not name it.

    Notes
    -----
    An address that names a day goes before what the user chose; one that names none, such as the menu's, leaves that as it was. The
    field is not bound to the address by Streamlit, which takes what is bound out of it when the page changes.
    """
    user, last = session.of_user(), own_day + dt.timedelta(days=FURTHEST_DAYS)
    said = st.query_params.get(KEY)
    if said is not None and said != user.day_said:
        st.session_state[KEY] = _day(said) or own_day
    elif KEY not in st.session_state:
        st.session_state[KEY] = user.as_of or own_day
    if st.session_state[KEY] is not None:
        st.session_state[KEY] = min(max(st.session_state[KEY], own_day), last)
    chosen = st.date_input(
        "Answer as of",
        min_value=own_day,
        max_value=last,
        key=KEY,
        help="Later than the records, each clock is moved on by expected use; nothing is known of what happened since.",
    )
    day = chosen or own_day
    user.as_of = None if day == own_day else day
    user.day_said = None if day == own_day else day.isoformat()
    if user.day_said is None:
        st.query_params.pop(KEY, None)
    elif said != user.day_said:
        st.query_params[KEY] = user.day_said
    return day


def _day(said: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(said)
    except ValueError:
        return None
