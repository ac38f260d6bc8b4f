"""How long the script of each screen takes on a large fleet. Wants an idle machine."""

from collections.abc import Callable
from pathlib import Path
from typing import Final

import pytest
import streamlit as st
from large_fleet import make_large_store
from opened import Open, Page

from wearfit.screens.register import SCREENS

pytestmark = pytest.mark.slow

MOST_SECONDS: Final = 1.0
WHAT: Final[dict[str, tuple[str, dict[str, str], str]]] = {
    "Fleet": ("Fleet", {}, "Of 2,046 live tools"),
    "Tool": ("Tool", {"id": "T-049-3"}, "Runs, events and notes"),
    "Next run": ("Next run", {"tool": "T-049-3"}, "What the answer hangs on"),
    "A run in parts": ("Next run", {"tool": "T-049-3", "counted": "parts"}, "What the answer hangs on"),
    "Plants": ("Plants", {}, "What another air would give"),
    "A warmer coolant": ("Plants", {"if": "a warmer coolant"}, "The coolant is warmer"),
    "Choices": ("Choices", {"tool": "T-049-3"}, "costs least in"),
    "Plan": ("Plan", {}, "orders fall due in these 12 months"),
    "Evidence": ("Evidence", {}, "Is the calibration sound?"),
    "Records": ("Records", {}, "The store holds 1 upload of records."),
}
"""What is opened: the screen, what is asked of it, and what it says when its answer is there."""


@pytest.fixture(scope="module")
def large_store(tmp_path_factory: pytest.TempPathFactory) -> str:
    return make_large_store(tmp_path_factory.mktemp("large"))


@pytest.fixture
def just_opened(open_app: Open, large_store: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Page]:
    """Opens something of WHAT in a process that has loaded its libraries and holds no answer."""

    def opened(what: str) -> Page:
        screen, asked, says = WHAT[what]
        page = open_app(str(tmp_path / "none.db"), screen, **asked)
        st.cache_resource.clear()
        page.took.clear()
        page.waits = False
        monkeypatch.setenv("WEARFIT_STORE", large_store)
        page.run()
        assert says in page.words
        return page

    return opened


def test_every_screen_is_timed() -> None:
    assert {screen for screen, _, _ in WHAT.values()} == {screen.title for screen in SCREENS}


@pytest.mark.parametrize("what", WHAT)
def test_no_run_of_a_script_takes_a_second(what: str, just_opened: Callable[[str], Page]) -> None:
    """From the first one, while answers are under way, and once they are there."""
    page = just_opened(what)
    for _ in range(5):
        page.run_once()
    assert max(page.took) < MOST_SECONDS
