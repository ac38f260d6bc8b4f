"""The whole way in a browser: a workbook with two bad rows, its findings, a true recalibration, and the fleet that it changed."""

import io
import re
from collections.abc import Callable
from pathlib import Path

import pytest
import xlsxwriter
from looked_at import Look, settle
from playwright.sync_api import expect

from wearfit.workflow.answers import forecast

pytestmark = pytest.mark.browser

LONGEST_MS = 1_800_000  # of a recalibration on a busy machine, compiling included
RUNS = (
    ("tool_id", "plant_id", "resin_id", "started_on", "ended_on", "shots"),
    ("T-003", "valley", "pp-natural", "2026-07-06", "2026-07-14", 20000),
    ("T-001", "valley", "pp-natural", "soon", "2026-07-20", 18000),
    ("T-002", "valley", "pp-natural", "2026-07-05", "2026-07-12", "many"),
)
EVENTS = (("tool_id", "date", "event", "note"), ("T-020", "2026-07-10", "worn", "<b>flash</b> all *round*"))


def workbook(path: Path) -> Path:
    content = io.BytesIO()
    with xlsxwriter.Workbook(content, {"in_memory": True}) as book:
        for name, rows in (("runs", RUNS), ("events", EVENTS)):
            sheet = book.add_worksheet(name)
            for at, row in enumerate(rows):
                sheet.write_row(at, 0, row)
    path.write_bytes(content.getvalue())
    return path


def test_from_a_workbook_with_two_bad_rows_to_a_fleet_that_changed(
    look: Callable[..., Look], served: Callable[[str], str], writable_demo_store: str, tmp_path: Path
) -> None:
    address = served(writable_demo_store)
    before = {tool["tool_id"]: tool for tool in forecast(writable_demo_store)["tools"]}
    assert before["T-020"]["status"] != "worn"
    seen = look(f"{address}/records")
    page = seen.page
    page.locator("input[type=file]").set_input_files(workbook(tmp_path / "july <i>.xlsx"))
    expect(page.get_by_text("2 rows were set aside")).to_be_visible(timeout=300_000)
    settle(page)
    for said in ("started_on 'soon' is not a date", "shots 'many' is not a plain number", "2 rows are new"):
        expect(page.get_by_text(said)).to_be_visible()
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 900})
        seen.shoot(f"records-read-{width}")
        assert seen.overhang <= 0
    page.set_viewport_size({"width": 1280, "height": 900})
    assert seen.violations() == []

    page.get_by_role("button", name="Keep these records and recalibrate").click()
    expect(page.get_by_role("heading", name="Recalibrating")).to_be_visible(timeout=120_000)
    expect(page.get_by_text(re.compile(r"Step \d of 8"))).to_be_visible()
    other = look(f"{address}/records").page
    expect(other.get_by_text(re.compile(r"Step \d of 8"))).to_be_visible()
    expect(other.get_by_role("button", name="Recalibrate on the stored records")).to_be_disabled()
    expect(page.get_by_text("Calibration 2 is made and answers now")).to_be_visible(timeout=LONGEST_MS)
    row = page.locator(".wf-moved tr", has_text="T-020")
    expect(row).to_contain_text("Now worn out. New of it: worn on 10 Jul 2026", timeout=120_000)
    settle(page)
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 900})
        seen.shoot(f"records-changed-{width}")
        assert seen.overhang <= 0
    assert seen.violations() == []
    assert seen.outside == []

    fleet = look(address).page
    expect(fleet.get_by_text("As of 14 Jul 2026, calibration 2.")).to_be_visible()
    after = {tool["tool_id"]: tool for tool in forecast(writable_demo_store)["tools"]}
    assert after["T-020"]["status"] == "worn"
    assert after["T-003"]["wear_out_on"] != before["T-003"]["wear_out_on"]


def test_a_recalibration_is_cancelled_and_all_is_as_it_was(
    look: Callable[..., Look], served: Callable[[str], str], writable_demo_store: str
) -> None:
    seen = look(f"{served(writable_demo_store)}/records")
    page = seen.page
    page.get_by_role("button", name="Recalibrate on the stored records").click()
    page.get_by_role("button", name="Cancel").click(timeout=120_000)
    expect(page.get_by_text("Records and calibrations are as they were")).to_be_visible(timeout=120_000)
    expect(page.get_by_text("Calibration 1 still answers")).to_be_visible()
    seen.shoot("records-cancelled-1280")
    assert seen.violations() == []


def test_a_file_that_is_too_large_is_told_and_the_next_one_is_read(
    look: Callable[..., Look],
    served: Callable[[str], str],
    writable_demo_store: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("STREAMLIT_SERVER_MAX_UPLOAD_SIZE", "1")  # [MB]
    seen = look(f"{served(writable_demo_store)}/records")
    page = seen.page
    large = tmp_path / "large.csv"
    large.write_bytes(b"tool_id,date,event\n" + b"T-001,2026-07-01,service\n" * 50_000)
    page.locator("input[type=file]").set_input_files(large)
    told = page.get_by_text("File must be 1.0MB or smaller")
    expect(told).to_be_visible()
    box = told.bounding_box()
    assert box is not None
    assert box["width"] > 100  # for everybody, not for a reader of the screen alone
    expect(page.get_by_text("The store holds 1 upload of records.")).to_be_visible()
    seen.shoot("records-too-large-1280")
    assert seen.violations() == []
    page.get_by_role("button", name="Remove large.csv").click()
    page.locator("input[type=file]").set_input_files(workbook(tmp_path / "july.xlsx"))
    expect(page.get_by_text("2 rows were set aside")).to_be_visible(timeout=300_000)
