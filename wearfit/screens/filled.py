"""Fields that the server fills in, told to the browser again while it may not have drawn them yet.

A value that is set for a field goes to the browser with that run of the script alone. A page that says that an answer is under way comes
back by itself, and a browser that has not drawn the first run by then, on a slow line or a busy machine, draws the second and never takes
the value: the field stays empty above an answer to what it should show, and the next thing that the user does sends it empty. So a run
that the page began by itself says again what was filled in since the user last did something.
"""

import streamlit as st

from wearfit.screens import session


def run_begins() -> None:
    """To be called where the script of a page begins: after the user did something, what was filled in before is theirs."""
    user = session.of_user()
    user.came_back, user.comes_back = user.comes_back, False
    if not user.came_back:
        user.filled.clear()


def come_back() -> None:
    """Run the page anew, without the user having done anything."""
    session.of_user().comes_back = True
    st.rerun()


def fill(key: str, value: str | int | bool | None) -> None:
    """Set a field, before it is drawn."""
    st.session_state[key] = value
    session.of_user().filled.add(key)


def begin_with(key: str, value: str | int | bool | None) -> None:
    """Begin a field with a value, unless the address or the user gives another one; before it is drawn."""
    if key not in st.session_state and key not in st.query_params:
        fill(key, value)
    else:
        fill_again(key)


def fill_again(key: str) -> None:
    """Say again what was filled in, where the browser may not know of it; before the field is drawn."""
    user = session.of_user()
    if user.came_back and key in user.filled and key in st.session_state:
        st.session_state[key] = st.session_state[key]
