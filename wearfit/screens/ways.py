"""Ways from one screen to another that stand within text, and are followed without leaving the session.

Each is a plain link with a true address, so that it is read, reached by keyboard, opened beside and sent on as any other. A component
without a look takes a plain click, writes the address into the browser's history and tells the page so, as if the user had come back
to it: the screen changes, and the session goes on. Where that component does not work, the browser follows the link by itself.
"""

from typing import Any, Final
from urllib.parse import parse_qsl, quote, urlencode

import streamlit as st

from wearfit.screens.register import SCREENS, screen_of
from wearfit.screens.unbroken import escape

KIND: Final = "wf-way"
_FOLLOWED: Final = """
export default function () {
  const follow = (event) => {
    const way = event.target.closest("a.wf-way");
    const elsewhere = event.button !== 0 || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey;
    if (way === null || elsewhere || event.defaultPrevented) return;
    event.preventDefault();
    window.history.pushState({}, "", way.href);
    window.dispatchEvent(new PopStateEvent("popstate", { state: {} }));
    document.querySelector("[data-testid=stMain]")?.scrollTo(0, 0);
  };
  document.addEventListener("click", follow);
  return () => document.removeEventListener("click", follow);
}
"""
_component: Final[Any] = st.components.v2.component("wearfit_ways", js=_FOLLOWED, isolate_styles=False)


def address(title: str, **query: str) -> str:
    """The address of a screen with what is asked of it; relative, so that it holds wherever the app is."""
    return quote(screen_of(title).address) + (f"?{urlencode(query)}" if query else "")


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


def followed() -> None:
    """Let the ways of a page be followed; once on each."""
    _component(key="ways")


def go(to: str) -> None:
    """Change the screen to that of an address."""
    page, _, query = to.partition("?")
    screen = next(screen for screen in SCREENS if screen.address == page)
    st.switch_page(screen.path, query_params=dict(parse_qsl(query)))
