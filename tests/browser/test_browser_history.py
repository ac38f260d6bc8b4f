"""The history of the store in a browser: it fits, can be read by everybody, and names in it are text."""

from collections.abc import Callable
from pathlib import Path

import pytest
from looked_at import Look, choose, settle
from playwright.sync_api import expect

from wearfit.records.readers.read import read
from wearfit.store.actor import acting_as
from wearfit.store.store import Store

pytestmark = pytest.mark.browser

MALLORY = "Mallory <img class=hostile src=x onerror=alert(1)> **bold** [here](http://x.example) :smile: $x^2$"
TOOL = "<b class=hostile>T-900</b>"
TOOLS = f"tool_id,service_class,commissioned_on\n{TOOL},103,2020-01-01\n"


@pytest.mark.parametrize("width", [1280, 390])
def test_a_past_state_is_looked_at_and_brought_back(
    width: int, look: Callable[..., Look], served: Callable[[str], str], writable_demo_store: str, tmp_path: Path
) -> None:
    folder = tmp_path / "<i class=hostile>july **x**"
    folder.mkdir()
    (folder / "tools.csv").write_text(TOOLS, encoding="utf-8")
    with Store.open(writable_demo_store) as store, acting_as(MALLORY):
        store.add_upload(read(folder))
        last = store.history()[-1].line
    seen = look(f"{served(writable_demo_store)}/records", width)
    page = seen.page
    expect(page.get_by_text(MALLORY, exact=True).first).to_be_visible()
    page.get_by_label("Every version of a tool's rows").fill(TOOL)
    page.keyboard.press("Enter")
    expect(page.get_by_role("region", name="Every version of the tool's rows")).to_be_visible()  # a page under way closes the list below
    settle(page)
    choose(page, "Look at a past state", "After line 1,")
    expect(page.get_by_text("Rows then")).to_be_visible()
    page.get_by_text("The rows of then").click()
    page.get_by_role("button", name="Go back to this state …").click()
    expect(page.get_by_text("1 row that came later is taken out.")).to_be_visible()
    settle(page)
    seen.shoot(f"records-history-{width}")
    assert page.locator(".hostile, [data-testid=stMain] a[href*='x.example'], img[src=x]").count() == 0
    assert seen.overhang <= 0
    assert seen.violations() == []
    assert seen.outside == []
    page.get_by_role("button", name="Yes, go back").click()
    expect(page.get_by_text("That state is back")).to_be_visible()
    with Store.open(writable_demo_store) as store:
        assert store.history()[-1].back_to == 1
        assert TOOL not in {row.values["tool_id"] for row in store.rows({"tools"})}
        store.restore(last)
        assert TOOL in {row.values["tool_id"] for row in store.rows({"tools"})}
