"""A tool's own page, and the owner's judgement on it."""

import datetime as dt
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from opened import Open, Page
from stores import make_store

from wearfit.screens import owner
from wearfit.store.store import Store


def test_the_address_names_the_tool(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Tool", tool="T-049")
    assert not page.app.exception
    assert page.app.title[0].value.replace("\\", "") == "T-049"
    for head in ("What is left", "What moved the forecast", "Its lives", "Where its wear came from", "Readings", "Runs, events and notes"):
        assert head in page.words
    lives = [row for row in page.rows if row.startswith("Life ")]
    assert len(lives) == 5
    assert "worn out on 2024-12-04; refurbished" in lives[3]
    assert "under way" in lives[4]
    assert "sharp flash, parts quarantined" in page.app.dataframe[3].value["Note"].tolist()


def test_a_held_tool_says_stop(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Tool", tool="T-105")
    assert "STOP This tool is held and must not run until it is released." in page.words
    assert "16 CFR 1501" in page.words


@pytest.mark.parametrize("tool", ["T-900", "<b>T</b>"])
def test_a_tool_that_is_not_there_is_told_and_another_can_be_chosen(tool: str, open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Tool", tool=tool)
    assert "is not among the live tools" in page.words
    assert "<b>T</b>" not in page.html
    assert page.widget("selectbox", "tool_choose").options[0] == "T-001"


def test_where_the_records_changed_since_the_calibration_the_page_says_so(open_app: Open, tmp_path: Path) -> None:
    records = tmp_path / "history"
    records.mkdir()
    (records / "tools.csv").write_text("tool_id,commissioned_on,service_class\nT-001,2017-01-01,103\n", encoding="utf-8")
    run = "T-001,valley,pp-natural,2020-02-01,2020-02-20,900\n"
    (records / "runs.csv").write_text(f"tool_id,plant_id,resin_id,started_on,ended_on,shots\n{run}", encoding="utf-8")
    (records / "events.csv").write_text("tool_id,date,event\n", encoding="utf-8")
    page = open_app(make_store(tmp_path / "other.db", records=records, calibrations=(True,)), "Tool", tool="T-001")
    assert "Records came since" in page.words
    assert not page.app.exception


def test_a_judgement_is_kept_with_who_when_and_why_and_replaces_nothing(open_app: Open, demo_records_store: str, tmp_path: Path) -> None:
    store = _copy(demo_records_store, tmp_path)
    page = open_app(store, "Tool", tool="T-042")
    assert "The owner says" not in page.words
    _say(page, day=dt.date(2029, 1, 1), name="Ines", reason="Its shut-off was welded.")
    assert "The owner says wears out on 1 Jan 2029 Its shut-off was welded. Ines," in page.words
    assert "The model says likely Oct 2026" in page.words
    assert "order now" in page.words
    with Store.open(store) as opened:
        (kept,) = opened.overrides()
    assert (kept.tool_id, kept.by, kept.reason, kept.wear_out_on) == ("T-042", "Ines", "Its shut-off was welded.", dt.date(2029, 1, 1))
    assert kept.as_of == dt.date(2026, 6, 30)
    page.widget("radio", "owner_kind_T-042").set_value(owner.BACK)
    _say(page, name="Ines", reason="It was looked at again.")
    assert "The owner says" not in page.words
    assert "the judgement before is taken back" in page.words
    with Store.open(store) as opened:
        assert opened.overrides() == []
        assert len(opened.overrides_of("T-042")) == 2


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"day": dt.date(2029, 1, 1), "reason": "Seen."}, "It is not said who judges so."),
        ({"day": dt.date(2029, 1, 1), "name": "Ines"}, "The reason is blank."),
        ({"name": "Ines", "reason": "Seen."}, "No day is given."),
    ],
)
def test_half_a_judgement_is_refused_and_nothing_is_kept(
    given: dict[str, Any], says: str, open_app: Open, demo_records_store: str, tmp_path: Path
) -> None:
    store = _copy(demo_records_store, tmp_path)
    page = open_app(store, "Tool", tool="T-042")
    _say(page, **given)
    assert says in page.words
    with Store.open(store) as opened:
        assert opened.overrides_of("T-042") == []


def _copy(store: str, folder: Path) -> str:
    """A store of its own for a test that writes."""
    own = str(folder / "own.db")
    with sqlite3.connect(store) as source, sqlite3.connect(own) as target:
        source.backup(target)
    source.close()
    target.close()
    return own


def _say(page: Page, day: dt.date | None = None, name: str = "", reason: str = "") -> None:
    if day is not None:
        page.widget("date_input", "owner_day_T-042").set_value(day)
    page.widget("text_input", "owner_name_T-042").set_value(name)
    page.widget("text_area", "owner_reason_T-042").set_value(reason)
    next(button for button in page.app.button if button.label == "Keep it").click()
    page.run()
