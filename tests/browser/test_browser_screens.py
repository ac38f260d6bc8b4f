"""Every screen in a browser: it fits, it can be read by everybody, and it asks nobody outside for anything."""

from collections.abc import Callable

import pytest
from looked_at import Look
from stores import make_store

from wearfit.screens.register import SCREENS

pytestmark = pytest.mark.browser

WIDTHS = {"1280": (1280, 1.0), "390": (390, 1.0), "200 %": (640, 2.0)}  # a window of 1280 pixels at 200 % has 640 to draw on
ADDRESSES = {screen.title: screen.address for screen in SCREENS[1:]} | {SCREENS[0].title: ""}
ADDRESSES |= {"A next run": "next-run?tool=T-020&at_plant=north-annex&counted=parts", "A warmer coolant": "plants?if=a+warmer+coolant"}
CHOICES = {
    "Replace when": "tool=T-049",
    "Replacement age": "decide=Replace+a+new+tool+at+what+age%3F&tool=T-049",
    "One tool or two": "decide=One+tool+or+two%3F&tool=T-049&units_wanted=1000000&days_to_launch=90&unit_value=0.4&yield_share=95",
    "Keep or scrap": "decide=Keep+or+scrap%3F&tool=T-094&planned_shots=100000&retention_duty=yes",
    "A choice that cannot be": "decide=Which+plant%3F&tool=T-049&planned_shots=none&move_cost=-5",
    "A held tool's choice": "tool=T-105",
}
ADDRESSES |= {title: f"choices?{asked}" for title, asked in CHOICES.items()}


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("title", [*ADDRESSES, "A tool", "A held tool"])
def test_a_page_fits_and_can_be_read(
    title: str, width: str, look: Callable[..., Look], served: Callable[[str], str], demo_store: str, read_tool: str, held_tool: str
) -> None:
    pixels, scale = WIDTHS[width]
    address = {**ADDRESSES, "A tool": f"tool?id={read_tool}", "A held tool": f"tool?id={held_tool}"}[title]
    seen = look(f"{served(demo_store)}/{address}", pixels, scale)
    seen.shoot(f"{title.lower().replace(' ', '-')}-{width.removesuffix(' %')}")
    assert seen.outside == []
    assert seen.overhang <= 0
    assert seen.violations() == []


@pytest.mark.parametrize("state", ["none", "failed"])
def test_a_state_without_an_answer_fits_and_can_be_read(
    state: str, look: Callable[..., Look], served: Callable[[str], str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp(state)
    store = make_store(folder / "failed.db", calibrations=(False,)) if state == "failed" else str(folder / "none.db")
    seen = look(served(store), 390)
    seen.shoot(f"fleet-{state}-390")
    assert seen.overhang <= 0
    assert seen.violations() == []
