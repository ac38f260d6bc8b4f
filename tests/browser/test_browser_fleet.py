"""What an owner does with the fleet: by keyboard, by address, and with a judgement of one's own."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest
from looked_at import Look, settle
from playwright.sync_api import Page, expect

from wearfit.workflow.answers import forecast
from wearfit.workflow.brief import write_brief
from wearfit.workflow.wording import day_in_words

pytestmark = pytest.mark.browser

MOST_TABS = 40


def test_a_tools_page_is_reached_by_keyboard_alone(
    look: Callable[..., Look], served: Callable[[str], str], demo_store: str, held_tool: str
) -> None:
    page = look(served(demo_store)).page
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText") == held_tool:
            break
    shown = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert shown == "solid"
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/tool?id={held_tool}")
    settle(page)
    expect(page.get_by_role("heading", level=1)).to_have_text(held_tool)
    expect(page.get_by_text("must not run until it is released").first).to_be_visible()


def test_ways_are_followed_within_the_session(
    look: Callable[..., Look], served: Callable[[str], str], demo_store: str, own_day: dt.date
) -> None:
    day = own_day + dt.timedelta(days=90)
    seen = look(f"{served(demo_store)}/?sort=Tool&as_of={day}")
    page = seen.page
    page.evaluate("window.sameDocument = true")
    tool = page.locator(".wf-row th a").nth(1)
    name = tool.inner_text()
    tool.click()
    at(page, name, f"**/tool?id={name}&as_of={day}")
    page.get_by_role("link", name="Decide about it").click()
    at(page, "Choices", f"**/choices?tool={name}&as_of={day}")
    page.get_by_role("link", name=f"What {name} has been through").click()
    at(page, name, f"**/tool?id={name}&as_of={day}")
    page.go_back()
    at(page, "Choices", f"**/choices?tool={name}&as_of={day}")
    page.get_by_role("link", name="Plants", exact=True).click()
    at(page, "Plants", f"**/plants?as_of={day}")
    expect(page.get_by_text(f"As of {day_in_words(day)}")).to_be_visible()
    assert page.evaluate("window.sameDocument")
    assert page.title() == "Plants · wearfit"


def at(page: Page, title: str, address: str) -> None:
    expect(page.get_by_role("heading", level=1)).to_have_text(title)
    page.wait_for_url(address)
    settle(page)


def test_a_way_is_opened_beside(look: Callable[..., Look], served: Callable[[str], str], demo_store: str, held_tool: str) -> None:
    page = look(served(demo_store)).page
    with page.context.expect_page() as opened:
        page.get_by_role("link", name=held_tool).first.click(modifiers=["ControlOrMeta"])
    settle(opened.value)
    expect(opened.value.get_by_role("heading", level=1)).to_have_text(held_tool)
    expect(page.get_by_role("heading", level=1)).to_have_text("Fleet")


def test_a_folded_menu_unfolds_on_a_narrow_page(look: Callable[..., Look], served: Callable[[str], str], demo_store: str) -> None:
    page = look(served(demo_store), 390).page
    page.get_by_role("button", name="Expand sidebar").press("Enter")
    page.get_by_role("link", name="Plants", exact=True).press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Plants")


def test_a_filter_is_part_of_the_address(look: Callable[..., Look], served: Callable[[str], str], demo_store: str) -> None:
    plant = next(tool["plant_id"] for tool in forecast(demo_store)["tools"] if tool["plant_id"])
    seen = look(f"{served(demo_store)}/?plant={plant}&sort=Tool")
    names = seen.page.locator(".wf-row .wf-under").all_inner_texts()
    assert names
    assert all(name.endswith(plant) for name in names)


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
    document = forecast(writable_demo_store)
    tool = next(t for t in document["tools"] if t["status"] == "running" and t["conditions"]["shots_per_month"] > 10_000)
    address = served(writable_demo_store)
    page = look(f"{address}/tool?id={tool['tool_id']}").page
    page.get_by_text("You know better?").click()
    page.get_by_text("It has so many shots left").click()
    page.get_by_label("The shots, if shots").fill("150000")
    page.get_by_label("Your name").fill("Ines")
    page.get_by_label("What do you know that the records do not?").fill("Its shut-off was welded.")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("The owner says")).to_be_visible()
    seen = look(f"{address}/?design={tool['design_id']}")
    row = seen.page.locator(".wf-row", has_text=tool["tool_id"])
    expect(row).to_contain_text(f"Owner: 150,000 shots left on {day_in_words(document['as_of'])}")
    expect(row.locator(".wf-own")).to_have_count(1)


def test_the_fleet_is_taken_away_as_a_workbook(look: Callable[..., Look], served: Callable[[str], str], demo_store: str) -> None:
    page = look(served(demo_store)).page
    page.get_by_text("The same in numbers").last.click()
    expect(page.get_by_test_id("stDataFrame").locator("canvas").first).to_be_visible()  # the table moves the button while it is drawn
    settle(page)
    with page.expect_download() as taken:
        page.get_by_role("button", name="Download as XLSX").click()
    assert taken.value.suggested_filename == "fleet.xlsx"


def test_the_brief_of_a_tool_is_handed_over_as_the_command_writes_it(
    look: Callable[..., Look], served: Callable[[str], str], demo_store: str, held_tool: str, tmp_path: Path
) -> None:
    page = look(f"{served(demo_store)}/tool?id={held_tool}").page
    with page.expect_download() as taken:
        page.get_by_role("button", name="Download the one-page brief (PDF)").click()
    assert taken.value.suggested_filename == f"brief-{held_tool}.pdf"
    write_brief(demo_store, held_tool, tmp_path / "brief.pdf")
    assert Path(taken.value.path()).read_bytes() == (tmp_path / "brief.pdf").read_bytes()
