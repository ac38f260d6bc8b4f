"""Names that try to be markup, links and programs are text on every page, in every table and under the pointer."""

from collections.abc import Callable
from pathlib import Path
from typing import Final
from urllib.parse import urlencode

import pytest
from hostile import NAMES, NOTE, TOOL, make_hostile_store
from looked_at import Look, settle
from playwright.sync_api import Page, expect

from wearfit.screens.register import SCREENS

pytestmark = pytest.mark.browser

PLANT, RESIN = NAMES["plant_id"]["valley"], NAMES["resin_id"]["pp-natural"]
RUN: Final = {"tool": TOOL, "at_plant": PLANT, "in_resin": RESIN, "month": "Aug 2026", "shots": "9000"}
ASKED: Final[dict[str, dict[str, str]]] = {"Tool": {"id": TOOL}, "Next run": RUN, "Choices": {"tool": TOOL}}
# None of these may have come to be from a name.
MADE: Final = 'img[src="x"], svg[onload], [onerror], .hostile, a[href*="x.example"]'


@pytest.fixture(scope="module")
def hostile_store(tmp_path_factory: pytest.TempPathFactory) -> str:
    return make_hostile_store(tmp_path_factory.mktemp("hostile"))


def touch(page: Page) -> None:
    """Move the pointer over every chart, so that its tooltips come."""
    for drawing in page.locator("canvas.marks, .vega-embed svg").all():
        box = drawing.bounding_box()
        if box is not None:
            drawing.scroll_into_view_if_needed()
            for part in range(1, 12):
                page.mouse.move(box["x"] + part * box["width"] / 12, box["y"] + box["height"] * (0.2 + 0.6 * (part % 3) / 2))


@pytest.mark.parametrize("screen", [screen.title for screen in SCREENS])
def test_a_name_is_text_on_every_page(look: Callable[..., Look], served: Callable[[str], str], hostile_store: str, screen: str) -> None:
    address = next(s.address for s in SCREENS if s.title == screen)
    place = f"{served(hostile_store)}/{'' if screen == 'Fleet' else address}"
    seen = look(place)  # a first page, so that what asks for attention is caught from the next one on
    alerts: list[str] = []
    seen.page.on("dialog", lambda dialog: (alerts.append(dialog.message), dialog.dismiss()))
    seen.page.goto(f"{place}?{urlencode(ASKED.get(screen, {}))}")
    settle(seen.page)
    for fold in seen.page.locator("details summary, [data-testid=stExpander] summary").all():
        fold.click()
    settle(seen.page)
    touch(seen.page)
    assert seen.page.locator(MADE).count() == 0
    assert alerts == []
    assert seen.outside == []
    if screen in ("Tool", "Next run"):
        expect(seen.page.get_by_text(TOOL).first).to_be_visible()
        assert PLANT in seen.page.inner_text("body")
    if screen == "Tool":
        assert NOTE in seen.page.inner_text("body")
        with seen.page.expect_download() as taken:
            seen.page.get_by_role("button", name="Download the one-page brief (PDF)").click()
        assert Path(taken.value.path()).read_bytes().startswith(b"%PDF-")
