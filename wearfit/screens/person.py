"""Who uses the app, and what they may do: decided anew at every run of a page, from what the server is bound to and who is signed in."""

import logging
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import streamlit as st
from streamlit.errors import StreamlitSecretNotFoundError

from wearfit.errors import Refusal
from wearfit.screens import states
from wearfit.screens.unbroken import escape
from wearfit.store.actor import acting_as, actor
from wearfit.workflow.team import OPEN, OPEN_WORDS, TEAM, TEAM_FILE, Role, read_team

_log: Final = logging.getLogger(__name__)
LOOPBACK: Final = ("127.0.0.1", "localhost", "::1")
NOBODY: Final = "somebody who did not sign in"


@dataclass(frozen=True)
class Person:
    """Somebody who may use the app; `name` is kept with what they do."""

    name: str
    role: Role
    signed_in: bool

    @property
    def keeps(self) -> bool:
        """Whether they may change what the store holds."""
        return self.role == "keeper"


def person() -> Person:
    """Who uses the page.

    Raises
    ------
    Refusal
        Where nobody is signed in who may, and somebody must be.

    Notes
    -----
    Where a provider is named in the secrets, everybody signs in, whatever the address: a proxy may stand before it. Without one, only
    this machine is served, unless the owner has said otherwise, which is logged, and kept with what they do. A provider that does not
    say whether it has verified an address is taken at its word.
    """
    if not _asks_for_sign_in():
        if st.get_option("server.address") in LOOPBACK:
            return Person(actor(), "keeper", False)
        if os.environ.get(OPEN) == OPEN_WORDS:
            _log_open()
            return Person(NOBODY, "keeper", False)
        raise Refusal(
            "This app can be reached from other machines and knows no sign-in, so that it shows nothing.",
            "Start it with `wearfit serve --address ADDRESS --sign-in secrets.toml`, or on this machine alone with `wearfit serve`.",
        )
    if not st.user.is_logged_in:
        raise Refusal("Nobody is signed in.", "Sign in.")
    email = str(st.user.get("email") or "")
    if not email or st.user.get("email_verified", True) not in (True, "true"):
        raise Refusal("Your provider does not vouch for an e-mail address of yours.", "Sign in with an account that has a verified one.")
    role = read_team(Path(os.environ.get(TEAM) or TEAM_FILE)).role_of(email)
    if role is None:
        raise Refusal(f"{email} is not on the list of this team.", "Ask the owner of the app to add your address.")
    named = str(st.user.get("name") or "")
    return Person(f"{named} <{email}>" if named else email, role, True)


def let_in(draw: Callable[[], None]) -> None:
    """Draw the page for who may see it, what is done on it being done in their name; for others, why not is all that it shows."""
    try:
        here = person()
    except Refusal as refusal:
        st.title("wearfit", anchor=False)
        asks = _asks_for_sign_in()
        if asks and not st.user.is_logged_in:
            st.write("Sign in to see when each mould wears out.")
            st.button("Sign in", type="primary", on_click=st.login, key="sign_in")
        else:
            states.note("You cannot be let in", refusal.problem, refusal.repair)
            if asks:
                st.button("Sign out", on_click=st.logout, key="sign_out")
        return
    if here.signed_in:
        _say(here)
    elif here.name == NOBODY:
        st.caption("Everybody who reaches this address can read and change all of it: the app was opened without sign-in.")
    with acting_as(here.name):
        draw()


def readers_note(what: str) -> None:
    """Says to a reader that somebody else does this."""
    st.caption(f"You may read everything here. {what} is for the keepers of this team.")


def _say(here: Person) -> None:
    with st.container(horizontal=True, horizontal_alignment="right", vertical_alignment="center", gap="small"):
        may = "you may change records" if here.keeps else "you may read"
        st.html(f'<p class="wf-standing">{escape(f"Signed in as {here.name}; {may}.")}</p>', width="content")
        st.button("Sign out", on_click=st.logout, key="sign_out", type="tertiary")


def _asks_for_sign_in() -> bool:
    try:
        return "auth" in st.secrets
    except StreamlitSecretNotFoundError:
        return False


@st.cache_resource(show_spinner=False)
def _log_open() -> None:
    """On the terminal, once a process."""
    where = st.get_option("server.address") or "every address of this machine"
    _log.warning("wearfit is open without sign-in at %s: everybody who reaches it can read and change all of it.", where)
