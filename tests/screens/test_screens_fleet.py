"""Fleet: what needs a decision, the chart, its filters, and what is taken away."""

import datetime as dt
import re
from typing import Any

import pandas as pd
import pytest
from opened import Open

from wearfit.screens.fleet import PAGE_ROWS
from wearfit.workflow.answers import forecast
from wearfit.workflow.overrides import keep_override
from wearfit.workflow.wording import count, day_in_words, month_in_words

Tools = list[dict[str, Any]]


def test_the_page_opens_on_what_needs_a_decision(open_app: Open, demo_records_store: str, tools: Tools, own_day: dt.date) -> None:
    page = open_app(demo_records_store)
    held = [t["tool_id"] for t in tools if t["status"] == "held"]
    worn = [t["tool_id"] for t in tools if t["status"] == "worn"]
    late = [t for t in tools if t["status"] not in ("held", "worn") and t["overdue"] and not t["replacement_due_on"]]
    near = [
        t for t in tools
        if t["status"] not in ("held", "worn") and not t["overdue"] and not t["replacement_due_on"] and t["order_by"]
        and dt.date.fromisoformat(t["order_by"]) <= own_day + dt.timedelta(days=60)
    ]  # fmt: skip
    look = [t["tool_id"] for t in tools if t["status"] not in ("held", "worn") and any(d["look_before_running"] for d in t["noted"])]
    said = f"{count(len(held), 'is', 'are')} held, {count(len(look), 'is', 'are')} to be looked at before the next run"
    assert f"Of {len(tools)} live tools, {said}, {count(len(worn), 'is', 'are')} worn out" in page.words
    assert f"{count(len(late), 'has', 'have')} an order day that is past" in page.words
    assert f"{count(len(near), 'has', 'have')} one within 60 days" in page.words
    assert page.words.index("What needs a decision now") < page.words.index("Every live tool")
    named = re.findall(r'class="[^"]*wf-tool"[^>]*>([^<]+)<', page.html)
    assert sorted(named) == sorted([*held, *look, *worn, *(t["tool_id"] for t in late), *(t["tool_id"] for t in near)])
    worst = max(late, key=lambda t: t["gap_risk_if_ordered_today"])
    assert named[len(held) + len(look) + len(worn)] == worst["tool_id"]


def test_no_tool_is_told_by_colour_or_a_share_used(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store)
    assert "%" not in page.words
    for row in page.rows:
        assert re.search(r"STOP|worn out|order|replacement due|not known", row)


def test_the_chart_shows_a_page_of_the_tools_and_says_which(open_app: Open, demo_records_store: str, tools: Tools) -> None:
    page = open_app(demo_records_store)
    assert len(page.rows) == PAGE_ROWS
    assert f"Tools 1 to {PAGE_ROWS} of {len(tools)}." in page.words


@pytest.mark.parametrize(("key", "field"), [("plant", "plant_id"), ("class", "service_class"), ("design", "design_id")])
def test_a_filter_leaves_the_tools_that_fit(key: str, field: str, open_app: Open, demo_records_store: str, tools: Tools) -> None:
    wanted = next(t[field] for t in tools if sum(u[field] == t[field] for u in tools) <= PAGE_ROWS)
    page = open_app(demo_records_store)
    page.widget("multiselect", key).select(wanted)
    page.run()
    fits = {t["tool_id"] for t in tools if t[field] == wanted}
    assert {row.split()[0] for row in page.rows} == fits
    assert f"of {len(fits)} that fit the filter, of {len(tools)} live ones" in page.words


def test_a_filter_by_resin_leaves_every_tool_that_runs_it(open_app: Open, demo_records_store: str, tools: Tools) -> None:
    wanted = min({resin for t in tools for resin in t["conditions"]["resins"]})
    page = open_app(demo_records_store)
    page.widget("multiselect", "resin").select(wanted)
    page.run()
    fits = {t["tool_id"] for t in tools if wanted in t["conditions"]["resins"]}
    assert {row.split()[0] for row in page.rows} <= fits
    assert f"of {len(fits)} that fit the filter" in page.words


def test_two_filters_that_no_tool_fits_are_told(open_app: Open, demo_records_store: str, tools: Tools) -> None:
    pairs = {(t["plant_id"], t["design_id"]) for t in tools}
    plant, design = next((p, d) for p, _ in sorted(pairs) for _, d in sorted(pairs) if (p, d) not in pairs)
    page = open_app(demo_records_store)
    page.widget("multiselect", "plant").select(plant)
    page.widget("multiselect", "design").select(design)
    page.run()
    assert "No live tool fits the filter" in page.words
    assert not page.rows


def test_the_chart_is_sorted_as_asked(open_app: Open, demo_records_store: str, tools: Tools) -> None:
    page = open_app(demo_records_store)
    page.widget("selectbox", "sort").select("Likely wear-out")
    page.run()
    likely = {t["tool_id"]: t["wear_out_on"]["p50"] or "9999" for t in tools}
    shown = [likely[row.split()[0]] for row in page.rows]
    assert shown == sorted(likely.values())[:PAGE_ROWS]


def test_marks_lie_where_their_days_lie(open_app: Open, demo_records_store: str, tools: Tools, own_day: dt.date) -> None:
    page = open_app(demo_records_store)
    last = (own_day + dt.timedelta(days=4 * 365)).isoformat()
    tool = next(t for t in tools if t["overdue"] and t["status"] == "running" and (t["wear_out_on"]["p90"] or "9999") < last)
    row = next(row for row in re.findall(r'<tr role="row" class="wf-row.*?</tr>', page.html, flags=re.S) if f">{tool['tool_id']}<" in row)
    notch = float(re.search(r'wf-notch" style="left:([\d.]+)%', row)[1])
    days = (dt.date.fromisoformat(tool["wear_out_on"]["p50"]) - own_day).days
    assert notch == pytest.approx(100 * days / (5 * 365.25), abs=0.01)


def test_another_day_moves_every_answer_on(open_app: Open, demo_records_store: str, own_day: dt.date) -> None:
    day = own_day + dt.timedelta(days=184)
    later = forecast(demo_records_store, day)["tools"]
    page = open_app(demo_records_store)
    page.widget("date_input", "as_of").set_value(day)
    page.run()
    rests = f"on the records up to {day_in_words(own_day)}, clocks moved on by expected use."
    assert f"As of {day_in_words(day)}, calibration 1 {rests}" in page.words
    late = sum(t["status"] not in ("held", "worn") and t["overdue"] and not t["replacement_due_on"] for t in later)
    assert f"{late} have an order day that is past" in page.words


def test_the_table_below_has_every_tool_that_fits(open_app: Open, demo_records_store: str, tools: Tools) -> None:
    frame = open_app(demo_records_store).app.dataframe[0].value
    assert len(frame) == len(tools)
    by_tool = {t["tool_id"]: t for t in tools}
    for row in frame.to_dict("records"):
        tool = by_tool[row["Tool"]]
        assert (None if pd.isna(row["Order by"]) else row["Order by"]) == tool["order_by"]
        assert row["Chance within 12 months"] == pytest.approx(tool["p_within_12_months"])


def test_an_owners_judgement_stands_beside_the_models(open_app: Open, own_demo_store: str, tools: Tools, own_day: dt.date) -> None:
    tool = max((t for t in tools if t["status"] == "running" and t["overdue"]), key=lambda t: t["gap_risk_if_ordered_today"])
    day = own_day + dt.timedelta(days=900)
    keep_override(own_demo_store, tool["tool_id"], "Ines", "Its shut-off was welded.", own_day, day)
    page = open_app(own_demo_store)
    row = next(row for row in page.rows if row.startswith(tool["tool_id"]))
    assert "order now" in row
    assert f"likely {month_in_words(tool['wear_out_on']['p50'])}" in row
    assert f"Owner: wears out on {day_in_words(day)}" in row
    assert "what the owner says" in page.words
    frame = page.app.dataframe[0].value
    assert frame[frame["Tool"] == tool["tool_id"]]["Owner's reason"].item() == "Its shut-off was welded."
