"""What an owner does with the fleet: by keyboard, by address, and with a judgement of one's own."""

from collections.abc import Callable

import pytest
from looked_at import Look, settle
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

MOST_TABS = 40


def test_a_tools_page_is_reached_by_keyboard_alone(look: Callable[..., Look], served: Callable[[str], str], demo_store: str) -> None:
    page = look(served(demo_store)).page
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText") == "T-105":
            break
    shown = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert shown == "solid"
    page.keyboard.press("Enter")
    page.wait_for_url("**/tool?tool=T-105")
    settle(page)
    expect(page.get_by_role("heading", level=1)).to_have_text("T-105")
    expect(page.get_by_text("must not run until it is released").first).to_be_visible()


def test_a_filter_is_part_of_the_address(look: Callable[..., Look], served: Callable[[str], str], demo_store: str) -> None:
    seen = look(f"{served(demo_store)}/?plant=delta&sort=Tool")
    names = seen.page.locator(".wf-row .wf-under").all_inner_texts()
    assert names
    assert all(name.endswith("delta") for name in names)


def test_a_page_of_the_chart_follows_the_other(look: Callable[..., Look], served: Callable[[str], str], demo_store: str) -> None:
    page = look(f"{served(demo_store)}/?sort=Tool").page
    first = page.locator(".wf-row th a").all_inner_texts()
    page.get_by_role("button", name="Page 2").click()
    expect(page.get_by_text("Tools 26 to 50 of")).to_be_visible()
    second = page.locator(".wf-row th a").all_inner_texts()
    assert len(first) == len(second) == 25
    assert first[-1] < second[0]


def test_a_judgement_is_typed_in_and_stands_in_the_fleet(
    look: Callable[..., Look], served: Callable[[str], str], writable_demo_store: str
) -> None:
    address = served(writable_demo_store)
    page = look(f"{address}/tool?tool=T-042").page
    page.get_by_text("You know better?").click()
    page.get_by_text("It has so many shots left").click()
    page.get_by_label("The shots, if shots").fill("150000")
    page.get_by_label("Your name").fill("Ines")
    page.get_by_label("What do you know that the records do not?").fill("Its shut-off was welded.")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("The owner says")).to_be_visible()
    seen = look(f"{address}/?design=soft-ball")
    row = seen.page.locator(".wf-row", has_text="T-042")
    expect(row).to_contain_text("Owner: 150,000 shots left on 30 Jun 2026")
    expect(row.locator(".wf-own")).to_have_count(1)


def test_the_fleet_is_taken_away_as_a_workbook(look: Callable[..., Look], served: Callable[[str], str], demo_store: str) -> None:
    page = look(served(demo_store)).page
    page.get_by_text("The same in numbers").last.click()
    with page.expect_download() as taken:
        page.get_by_role("button", name="Download as XLSX").click()
    assert taken.value.suggested_filename == "fleet.xlsx"
