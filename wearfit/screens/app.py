"""The app: lets in who may come, and registers the screens; nothing else."""

import streamlit as st

from wearfit.screens import look
from wearfit.screens.person import let_in
from wearfit.screens.register import SCREENS


def run() -> None:
    """Draw the menu and the screen that was chosen, for who may see them."""
    st.set_page_config(page_title="wearfit", page_icon=look.MARK, layout="wide", initial_sidebar_state="collapsed")
    look.dress()
    let_in(_draw)


def _draw() -> None:
    pages = [
        st.Page(
            screen.path,
            title=screen.title,
            url_path=screen.address,
            default=screen is SCREENS[0],
            visibility="visible" if screen.in_menu else "hidden",
        )
        for screen in SCREENS
    ]
    st.navigation(pages, position="top").run()


if __name__ == "__main__":
    run()
