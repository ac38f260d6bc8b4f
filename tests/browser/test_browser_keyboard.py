"""Every screen by keyboard alone: all that can be used is reached in the order in which it stands, is seen in focus, and lets go again."""

from collections.abc import Callable
from itertools import groupby
from typing import Any, Final

import pytest
from looked_at import Look, settle
from playwright.sync_api import Page, expect

from wearfit.forecasts.run_question import RunQuestion
from wearfit.screens.register import SCREENS
from wearfit.workflow.answers import next_run
from wearfit.workflow.questions import Question
from wearfit.workflow.wording import frequency

pytestmark = pytest.mark.browser

MOST_TABS: Final = 260
ADDRESSES: Final = {screen.title: "" if screen is SCREENS[0] else screen.address for screen in SCREENS} | {
    "A tool": "tool?id=T-020",
    "A next run": "next-run?tool=T-020&counted=parts",
    "A warmer coolant": "plants?if=a+warmer+coolant",
    "A choice": "choices?tool=T-049&stop_cost=9000",
}
# Elements are numbered in the order of the document, so that the way of the focus can be told from it. One of several choices stands
# for all of them, which arrow keys go through, and a table for its cells.
STANDS_FOR: Final = """(e) => e.closest('[role=radiogroup]')
  ?? e.closest('[data-testid=stDataFrameResizable]')?.querySelector('canvas') ?? e"""
USABLE: Final = f"""() => {{
  const standsFor = {STANDS_FOR};
  [...document.querySelectorAll('body *')].forEach((e, n) => {{ e.__place = n; }});
  const usable = 'a[href], button, input, select, textarea, summary, [tabindex="0"], [contenteditable=true]';
  const seen = (e) => e.checkVisibility({{ opacityProperty: true, visibilityProperty: true }}) && !e.closest('[inert], [aria-hidden=true]');
  const others = 'input[type=file], [tabindex="-1"]';
  const found = [...document.querySelectorAll(usable)].filter((e) => !e.matches(others) && !e.disabled && seen(e));
  return Object.fromEntries(found.map(standsFor).map((e) => [e.__place, e.outerHTML.slice(0, 200)]));
}}"""
# The ring stands around the element, or around the frame that it is drawn in.
FOCUS: Final = f"""() => {{
  const standsFor = {STANDS_FOR};
  const e = document.activeElement;
  if (e === null || e === document.body) return null;
  let ringed = false;
  for (let n = e, up = 0; n !== null && up < 6; n = n.parentElement, up += 1) {{
    const style = getComputedStyle(n);
    const box = n.getBoundingClientRect();
    const wide = box.width > 4 && box.height > 4 && box.right > 0;
    ringed ||= style.outlineStyle === 'solid' && parseFloat(style.outlineWidth) >= 2 && wide;
  }}
  const words = (e.getAttribute('aria-label') || e.innerText || e.tagName).slice(0, 60);
  return {{ place: standsFor(e).__place ?? null, words, ringed }};
}}"""


def walk(page: Page) -> list[dict[str, Any]]:
    """What is in focus after each Tab, until the focus leaves the page."""
    found: list[dict[str, Any]] = []
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        focus = page.evaluate(FOCUS)
        if focus is None:
            return found
        found.append(focus)
    raise AssertionError(f"The focus does not leave the page; last it was on {[each['words'] for each in found[-5:]]}")


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("title", ADDRESSES)
def test_a_screen_is_walked_by_keyboard(
    title: str, width: int, look: Callable[..., Look], served: Callable[[str], str], demo_store: str
) -> None:
    page = look(f"{served(demo_store)}/{ADDRESSES[title]}", width).page
    usable = {int(place): written for place, written in page.evaluate(USABLE).items()}
    found = walk(page)
    assert [each["words"] for each in found if not each["ringed"]] == []
    places = [place for place, _ in groupby(each["place"] for each in found) if place is not None]
    assert places == sorted(set(places))
    assert [written for place, written in usable.items() if place not in places] == []


def test_unfolded_numbers_let_the_focus_go(look: Callable[..., Look], served: Callable[[str], str], demo_store: str) -> None:
    page = look(f"{served(demo_store)}/next-run?tool=T-020").page
    page.get_by_text("The same in numbers").first.focus()
    page.locator("summary").first.press("Enter")
    expect(page.get_by_role("button", name="Download as CSV", exact=True).first).to_be_visible()
    page.evaluate("document.activeElement.blur()")
    assert any(each["words"] == "Download as CSV" for each in walk(page))


def test_a_next_run_is_asked_by_keyboard_alone(look: Callable[..., Look], served: Callable[[str], str], demo_store: str) -> None:
    page = look(served(demo_store)).page
    reach(page, "Next run")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Next run")
    settle(page)
    for field, typed in (("Tool", "T-020"), ("Plant", "steppe"), ("Resin", "pp-talc"), ("Month", "Sep 2026")):
        reach(page, field)
        page.keyboard.press("ControlOrMeta+a")
        page.keyboard.type(typed)
        expect(page.get_by_role("option", name=typed, exact=True).first).to_be_visible()
        page.keyboard.press("Enter")
        settle(page)
    reach(page, "shots")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Space")
    expect(page.get_by_label("Parts", exact=True)).to_be_visible()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Space")
    settle(page)
    reach(page, "Shots")
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type("70000")
    page.keyboard.press("Enter")
    expect(page.get_by_text("the run of 70,000 shots at steppe in pp-talc")).to_be_visible()
    settle(page)
    asked = Question({}, RunQuestion("T-020", "steppe", "pp-talc", "2026-09", 70_000.0))
    (answer,) = next_run(demo_store, [asked])[0]["runs"]
    chance = frequency(answer["p_wear_out"])
    expect(page.locator(".wf-answer strong")).to_have_text(chance[0].upper() + chance[1:])
    reach(page, "Count its planned and expected use until that month first")
    page.keyboard.press("Space")
    settle(page)
    (later,) = next_run(demo_store, [asked], after_plan=True)[0]["runs"]
    chance = frequency(later["p_wear_out"])
    expect(page.locator(".wf-answer strong")).to_have_text(chance[0].upper() + chance[1:])


def reach(page: Page, words: str) -> None:
    """Tab until what has these words is in focus."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        focus = page.evaluate(FOCUS)
        if focus is not None and focus["words"].strip() == words:
            return
    raise AssertionError(f"{words} is not reached")
