"""Records that came since the calibration, in a browser: their preview, and the recalibration that begins where it cannot tell."""

from collections.abc import Callable
from pathlib import Path

import pytest
from looked_at import Look, settle
from playwright.sync_api import expect
from recalibration import NEW_RECORDS, store_records
from surprising import store_surprise

pytestmark = pytest.mark.browser


def test_new_records_are_previewed(
    look: Callable[..., Look], served: Callable[[str], str], writable_demo_store: str, tmp_path: Path
) -> None:
    for table, text in NEW_RECORDS.items():
        (tmp_path / f"{table}.csv").write_text(text, encoding="utf-8")
    store_records(writable_demo_store, tmp_path)
    seen = look(f"{served(writable_demo_store)}/records")
    page = seen.page
    row = page.locator(".wf-moved tr", has_text="T-003")
    expect(row).to_contain_text("Now worn out. New of it: worn on 6 Jul 2026", timeout=300_000)
    expect(page.get_by_text("PREVIEW: calibration 1 with the new records weighed in")).to_be_visible()
    settle(page)
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 900})
        seen.shoot(f"records-preview-{width}")
        assert seen.overhang <= 0
    assert seen.violations() == []
    assert seen.outside == []


def test_records_that_say_too_much_begin_a_recalibration(
    look: Callable[..., Look], served: Callable[[str], str], writable_demo_store: str, tmp_path: Path
) -> None:
    store_surprise(writable_demo_store, tmp_path / "july")
    seen = look(f"{served(writable_demo_store)}/records")
    page = seen.page
    expect(page.get_by_text("A full recalibration is needed. It was begun by itself.")).to_be_visible(timeout=300_000)
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 900})
        seen.shoot(f"records-too-much-{width}")
        assert seen.overhang <= 0
    page.get_by_role("button", name="Cancel").click()
    expect(page.get_by_text("The new records say too much for a preview", exact=True)).to_be_visible(timeout=300_000)
    assert seen.violations() == []
