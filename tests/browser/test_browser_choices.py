"""What an owner does with choices and the plan: assumptions typed one after the other, and a plan of one's own."""

from collections.abc import Callable
from pathlib import Path

import pytest
from looked_at import Look, settle
from playwright.sync_api import expect

from wearfit.workflow.choose import choose
from wearfit.workflow.plan import plan
from wearfit.workflow.subjects import Asked

pytestmark = pytest.mark.browser


def test_assumptions_are_typed_one_after_the_other(look: Callable[..., Look], served: Callable[[str], str], demo_store: str) -> None:
    page = look(f"{served(demo_store)}/choices?tool=T-049").page
    page.get_by_text("more assumptions").click()
    stop, week = (page.get_by_role("textbox", name=name) for name in ("Cost of an unplanned stop", "Cost of a week without a tool"))
    expect(stop).to_be_visible()
    stop.fill("20,000")
    stop.press("Tab")
    page.keyboard.press("Tab")
    expect(week).to_be_focused()
    expect(page.get_by_text("yours; else 7,080")).to_be_visible()
    settle(page)
    expect(stop).to_be_visible()
    best = choose(demo_store, "replace", Asked(tool="T-049"), {"stop_cost": 20_000.0})["best"]
    expect(page.locator(".wf-answer strong")).to_have_text(best[0].upper() + best[1:])
    assert "stop_cost=20%2C000" in page.url
    stop.fill("")
    stop.press("Tab")
    expect(page.get_by_text("yours; else 7,080")).to_have_count(0)
    settle(page)
    expect(stop).to_be_visible()
    expect(page.locator(".wf-answer strong")).to_have_text("Order now")


def test_a_link_asks_the_same_question_of_somebody_else(look: Callable[..., Look], served: Callable[[str], str], demo_store: str) -> None:
    page = look(f"{served(demo_store)}/tool?id=T-094").page
    page.get_by_role("link", name="Decide about it").click()
    page.wait_for_url("**/choices?tool=T-094")
    settle(page)
    page.get_by_role("button", name="Keep or scrap?").or_(page.get_by_role("radio", name="Keep or scrap?")).click()
    page.get_by_role("textbox", name="Volume that may come back").fill("100000")
    page.keyboard.press("Tab")
    expect(page.locator(".wf-answer strong")).to_be_visible()
    settle(page)
    said = page.locator(".wf-answer").inner_text()
    other = look(page.url).page
    assert other.locator(".wf-answer").inner_text() == said


def test_a_plan_of_ones_own_is_dropped_and_taken_away_again(
    look: Callable[..., Look], served: Callable[[str], str], demo_store: str, tmp_path: Path
) -> None:
    (tmp_path / "autumn.csv").write_text("month,design_id,shots\n2026-09,soft-ball,900000\n", encoding="utf-8")
    seen = look(f"{served(demo_store)}/plan")
    page = seen.page
    expect(page.get_by_text("Jul 2026 to Jun 2027")).to_be_visible()
    page.get_by_text("Ask about another plan").click()
    page.locator("input[type=file]").set_input_files(tmp_path / "autumn.csv")
    expect(page.get_by_text("Jul 2026 to Sep 2026, on the plan of your file")).to_be_visible()
    settle(page)
    (advised,) = plan(demo_store, tmp_path / "autumn.csv")[0]["copies_advised"]
    expect(page.locator(".wf-due li", has_text=f"{advised['copies']} copies")).to_contain_text(advised["design_id"])
    seen.shoot("plan-of-a-file-1280")
    assert seen.overhang <= 0
    assert seen.violations() == []
    page.get_by_role("button", name="Remove autumn.csv").or_(
        page.get_by_test_id("stFileUploaderDeleteBtn").get_by_role("button")
    ).first.click()
    expect(page.get_by_text("Jul 2026 to Jun 2027, on the plan on record")).to_be_visible()


def test_the_plan_is_taken_away_as_a_workbook(look: Callable[..., Look], served: Callable[[str], str], demo_store: str) -> None:
    page = look(f"{served(demo_store)}/plan").page
    page.get_by_text("The same in numbers").first.click()
    with page.expect_download() as taken:
        page.get_by_role("button", name="Download as XLSX").first.press("Enter")  # while it slides in, a pointer misses it
    assert taken.value.suggested_filename == "plan-orders.xlsx"
