"""A browser that is late to draw a page, on a slow line or a busy machine: it shows what the server meant."""

import re
from collections.abc import Callable

import pytest
from looked_at import LONGEST_MS, settle
from playwright.sync_api import Browser, Route, expect
from stores import make_store

from wearfit.demo.shipped import scenario_folder

pytestmark = pytest.mark.browser

FIELDS = re.compile(r"/static/js/(Selectbox|NumberInput)\.")  # what Streamlit draws fields with, fetched when the first one is drawn


def test_fields_that_come_after_the_answer_show_what_it_is_about(
    browser: Browser, served: Callable[[str], str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Its own store, so that the answer takes a while and the page comes back for it."""
    store = make_store(tmp_path_factory.mktemp("late") / "late.db", records=scenario_folder(), calibrations=(True,))
    with browser.new_context() as context:
        page = context.new_page()
        page.set_default_timeout(LONGEST_MS)
        late: list[Route] = []

        def hold(route: Route) -> None:
            late.append(route)

        page.route(FIELDS, hold)
        page.goto(f"{served(store)}/next-run?tool=T-104")
        expect(page.locator(".wf-answer")).to_be_visible()
        expect(page.get_by_label("Shots", exact=True)).to_have_count(0)
        assert late
        for route in late:
            route.continue_()
        page.unroute(FIELDS)
        settle(page)
        said = page.locator(".wf-answer").inner_text()
        plant, resin = (page.get_by_role("combobox", name=name).input_value() for name in ("Plant", "Resin"))
        assert plant and resin and f" at {plant} in {resin}" in said
        shots = page.get_by_label("Shots", exact=True)
        assert f"the run of {int(shots.input_value()):,} shots " in said
        shots.fill("41500")
        shots.press("Enter")
        expect(page.locator(".wf-answer")).to_contain_text(f"the run of 41,500 shots at {plant} in {resin}")
