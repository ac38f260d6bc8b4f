"""A tool's own page, and the owner's judgement on it."""

import csv
import datetime as dt
import re
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from opened import Open, Page
from stores import make_store

from wearfit.demo.shipped import scenario_folder
from wearfit.screens import owner
from wearfit.store.store import Store
from wearfit.workflow.wording import day_in_words, frequency, month_in_words

Tools = list[dict[str, Any]]


@pytest.fixture(scope="session")
def events() -> list[dict[str, str]]:
    """The scenario's events, as they stand in its file."""
    with (scenario_folder() / "events.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="session")
def due(tools: Tools) -> dict[str, Any]:
    """A tool that is to be ordered now, as likely as any to be done before its replacement arrives."""
    return max((t for t in tools if t["status"] == "running" and t["overdue"]), key=lambda t: t["gap_risk_if_ordered_today"])


def test_the_address_names_the_tool(open_app: Open, demo_records_store: str, tools: Tools, events: list[dict[str, str]]) -> None:
    live = {t["tool_id"] for t in tools}
    tool = next(e["tool_id"] for e in events if e["tool_id"] in live and e["note"].strip())
    page = open_app(demo_records_store, "Tool", id=tool)
    assert not page.app.exception
    assert page.app.title[0].value.replace("\\", "") == tool
    for head in ("What is left", "What moved the forecast", "Its lives", "Where its wear came from", "Readings", "Runs, events and notes"):
        assert head in page.words
    own = [e for e in events if e["tool_id"] == tool]
    lives = [row for row in page.rows if row.startswith("Life ")]
    assert len(lives) == 1 + sum(e["event"] in ("retool", "refurbish") for e in own)
    notes = [note for frame in page.app.dataframe if "Note" in frame.value for note in frame.value["Note"] if note]
    assert sorted(notes) == sorted(e["note"] for e in own if e["note"])


def test_a_held_tool_says_stop(open_app: Open, demo_records_store: str, tools: Tools) -> None:
    held = next(t["tool_id"] for t in tools if t["status"] == "held")
    page = open_app(demo_records_store, "Tool", id=held)
    assert "STOP This tool is held and must not run until it is released." in page.words
    assert "16 CFR 1501" in page.words


def test_noted_defects_are_told_with_the_question_that_settles_them(open_app: Open, demo_records_store: str, tools: Tools) -> None:
    noted = next(t for t in tools if t["status"] == "running" and any(d["p_wear"] is not None for d in t["noted"]))
    page = open_app(demo_records_store, "Tool", id=noted["tool_id"])
    assert "Wear or settings?" in page.words
    for defect in noted["noted"]:
        assert f"noted on {day_in_words(defect['date'])}" in page.words
        if defect["p_wear"] is not None:
            assert f"{frequency(defect['p_wear'])} that it is wear" in page.words
            assert defect["question"] in page.words
    assert f"next-run?tool={noted['tool_id']}" in page.html
    assert f"choices?tool={noted['tool_id']}" in page.html


def test_a_note_of_sharp_flash_without_a_hold_comes_first(open_app: Open, demo_records_store: str) -> None:
    words = open_app(demo_records_store, "Tool", id="T-036").words
    told = (
        "Have it looked at before it runs A note of 20 Apr 2026 says \u2018sharp flash growing at cavity 2\u2019, and no hold came with it."
    )
    assert words.index(told) < words.index("16 CFR 1501") < words.index("To do")
    assert re.search(r"9 in 10 such tools [A-Z][a-z]{2} 20\d\d or later", words)
    assert "Have it looked at" not in open_app(demo_records_store, "Tool", id="T-105").words  # held


def test_a_worn_tool_is_told_of_its_replacement_and_not_of_what_is_left(open_app: Open, demo_records_store: str) -> None:
    ordered, not_ordered = (open_app(demo_records_store, "Tool", id=tool).words for tool in ("T-041", "T-042"))
    assert "Its replacement due 8 Jul 2026" in ordered
    assert "To do order its replacement now" in not_ordered
    for words in (ordered, not_ordered):
        assert "It is worn out by the records, and makes nothing until it is renewed." in words
        for beside_the_point in ("Shots left", "Worn out within 12 months", "Gap if ordered today", "Taken to go on"):
            assert beside_the_point not in words


def test_a_tool_without_noted_defects_has_no_such_part(open_app: Open, demo_records_store: str, tools: Tools) -> None:
    plain = next(t["tool_id"] for t in tools if not t["noted"])
    assert "Wear or settings?" not in open_app(demo_records_store, "Tool", id=plain).words


@pytest.mark.parametrize("tool", ["T-900", "<b>T</b>"])
def test_a_tool_that_is_not_there_is_told_and_another_can_be_chosen(
    tool: str, open_app: Open, demo_records_store: str, tools: Tools
) -> None:
    page = open_app(demo_records_store, "Tool", id=tool)
    assert "is not among the live tools" in page.words
    assert "<b>T</b>" not in page.html
    assert page.widget("selectbox", "tool_choose").options == sorted(t["tool_id"] for t in tools)


def test_where_the_records_changed_since_the_calibration_the_page_says_so(open_app: Open, tools: Tools, tmp_path: Path) -> None:
    """A store whose calibration rests on the scenario, and whose records are others by now."""
    tool = next(t for t in tools if t["status"] == "running")
    tool_id, plant, resin = tool["tool_id"], tool["plant_id"], tool["conditions"]["resins"][0]
    records = tmp_path / "history"
    records.mkdir()
    (records / "tools.csv").write_text(f"tool_id,commissioned_on,service_class\n{tool_id},2017-01-01,103\n", encoding="utf-8")
    run = f"{tool_id},{plant},{resin},2020-02-01,2020-02-20,900\n"
    (records / "runs.csv").write_text(f"tool_id,plant_id,resin_id,started_on,ended_on,shots\n{run}", encoding="utf-8")
    (records / "events.csv").write_text("tool_id,date,event\n", encoding="utf-8")
    page = open_app(make_store(tmp_path / "other.db", records=records, calibrations=(True,)), "Tool", id=tool_id)
    assert "Records came since" in page.words
    assert not page.app.exception
    assert "fault of the program" not in page.words


def test_a_judgement_is_kept_with_who_when_and_why_and_replaces_nothing(
    open_app: Open, demo_records_store: str, due: dict[str, Any], own_day: dt.date, tmp_path: Path
) -> None:
    store, tool, day = _copy(demo_records_store, tmp_path), due["tool_id"], own_day + dt.timedelta(days=900)
    page = open_app(store, "Tool", id=tool)
    assert "The owner says" not in page.words
    _say(page, tool, day=day, name="Ines", reason="Its shut-off was welded.")
    assert f"The owner says wears out on {day_in_words(day)} Its shut-off was welded. Ines," in page.words
    assert f"The model says likely {month_in_words(due['wear_out_on']['p50'])}" in page.words
    assert "order now" in page.words
    with Store.open(store) as opened:
        (kept,) = opened.overrides()
    assert (kept.tool_id, kept.by, kept.reason, kept.wear_out_on) == (tool, "Ines", "Its shut-off was welded.", day)
    assert kept.as_of == own_day
    page.widget("radio", f"owner_kind_{tool}").set_value(owner.BACK)
    _say(page, tool, name="Ines", reason="It was looked at again.")
    assert "The owner says" not in page.words
    assert "the judgement before is taken back" in page.words
    with Store.open(store) as opened:
        assert opened.overrides() == []
        assert len(opened.overrides_of(tool)) == 2


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"day": dt.date(2035, 1, 1), "reason": "Seen."}, "It is not said who judges so."),
        ({"day": dt.date(2035, 1, 1), "name": "Ines"}, "The reason is blank."),
        ({"name": "Ines", "reason": "Seen."}, "No day is given."),
    ],
)
def test_half_a_judgement_is_refused_and_nothing_is_kept(
    given: dict[str, Any], says: str, open_app: Open, demo_records_store: str, due: dict[str, Any], tmp_path: Path
) -> None:
    store, tool = _copy(demo_records_store, tmp_path), due["tool_id"]
    page = open_app(store, "Tool", id=tool)
    _say(page, tool, **given)
    assert says in page.words
    with Store.open(store) as opened:
        assert opened.overrides_of(tool) == []


def _copy(store: str, folder: Path) -> str:
    """A store of its own for a test that writes."""
    own = str(folder / "own.db")
    with sqlite3.connect(store) as source, sqlite3.connect(own) as target:
        source.backup(target)
    source.close()
    target.close()
    return own


def _say(page: Page, tool: str, day: dt.date | None = None, name: str = "", reason: str = "") -> None:
    if day is not None:
        page.widget("date_input", f"owner_day_{tool}").set_value(day)
    page.widget("text_input", f"owner_name_{tool}").set_value(name)
    page.widget("text_area", f"owner_reason_{tool}").set_value(reason)
    next(button for button in page.app.button if button.label == "Keep it").click()
    page.run()
