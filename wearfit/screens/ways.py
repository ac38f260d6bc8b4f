"""Ways from one screen to another that stand within text, and are followed without leaving the session.

Each is a plain link with a true address, so that it is read, reached by keyboard, opened beside and sent on as any other. Where it is
followed in place, a component without a look hands its address to the script, which changes the screen; a browser in which that does
not work follows the link by itself.
"""

from html import escape
from typing import Any, Final
from urllib.parse import parse_qsl, quote, urlencode

import streamlit as st

from wearfit.screens.register import SCREENS, screen_of

KIND: Final = "wf-way"
_FOLLOWED: Final = """
export default function ({ setTriggerValue }) {
  const follow = (event) => {
    const way = event.target.closest("a.wf-way");
    const elsewhere = event.button !== 0 || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey;
    if (way === null || elsewhere || event.defaultPrevented) return;
    event.preventDefault();
    setTriggerValue("address", way.getAttribute("href"));
  };
  document.addEventListener("click", follow);
  return () => document.removeEventListener("click", follow);
}
"""
_component: Final[Any] = st.components.v2.component("wearfit_ways", js=_FOLLOWED, isolate_styles=False)


def address(title: str, **query: str) -> str:
    """The address of a screen with what is asked of it; relative, so that it holds wherever the app is."""
    return f"{quote(screen_of(title).address)}?{urlencode(query)}"


def way(to: str, words: str, kind: str = "") -> str:
    """A link in HTML.

    Parameters
    ----------
    to : str
        As `address` gives it.
    kind : str
        Further classes.
    """
    return f'<a class="{escape(f"{KIND} {kind}".strip())}" href="{escape(to)}" target="_self">{escape(words)}</a>'


def follow() -> None:
    """Change the screen where the user followed a way; to be called before a page draws anything."""
    followed = _component(key="ways", on_address_change=lambda: None).address
    if followed:
        go(str(followed))


def go(to: str) -> None:
    """Change the screen, as `address` names it; an address that is none of ours changes nothing, for a browser may say anything."""
    page, _, query = to.partition("?")
    screen = next((screen for screen in SCREENS if screen.address == page), None)
    if screen is not None:
        st.switch_page(screen.path, query_params=dict(parse_qsl(query)))
