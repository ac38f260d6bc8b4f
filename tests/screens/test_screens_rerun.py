"""A rerun looks up and draws: no calculator runs again, on any screen."""

from typing import Final

import pytest
import streamlit as st
from opened import Open
from ran import functions_run

from wearfit.screens.cached.keys import calculators, fleet_calculators
from wearfit.screens.register import SCREENS

ROOMS: Final = ("law", "growth", "remaining", "records", "exposures", "calibration", "model", "forecasts", "decisions", "evidence")
WORDS: Final = (
    "decisions/choices.py",
    "decisions/inputs.py",
    "decisions/money.py",
    "forecasts/believed.py:Belief.narrowed",
    "records/readers/limits.py:size_text",
)
"""What says which questions there are, what was typed and how an amount or a size is written, and compares two ranges."""
WHAT: Final[dict[str, tuple[str, dict[str, str]]]] = {screen.title: (screen.title, {}) for screen in SCREENS} | {
    "Tool": ("Tool", {"id": "T-020"}),
    "A next run": ("Next run", {"tool": "T-020", "counted": "parts"}),
    "A warmer coolant": ("Plants", {"if": "a warmer coolant"}),
    "Replace when": ("Choices", {"tool": "T-049"}),
    "Which class": ("Choices", {"decide": "Which service class?", "new_at": "valley", "new_in": "pp-natural", "planned_shots": "500000"}),
}


@pytest.mark.parametrize("what", WHAT)
def test_a_rerun_computes_nothing(what: str, open_app: Open, demo_records_store: str) -> None:
    screen, asked = WHAT[what]
    page = open_app(demo_records_store, screen, **asked)
    # What pages of earlier tests have left under way is over first: the watch sees every thread. Each of these does its jobs in order.
    for thread in (calculators(), fleet_calculators()):
        thread.submit(int).result()
    with functions_run(ROOMS) as ran:
        page.run_once()
    assert not page.app.exception
    assert {name for name in ran if not name.startswith(WORDS)} == set()


def test_the_watch_sees_calculators(open_app: Open, demo_records_store: str) -> None:
    st.cache_resource.clear()
    with functions_run(ROOMS) as ran:
        open_app(demo_records_store)
    assert {"calibration/saved.py:from_bytes", "forecasts/fleet.py:forecast_fleet"} <= ran
