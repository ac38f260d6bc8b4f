"""Plan: what the page says is what the command answers, for the plan on record and for a file of the user's own."""

import datetime as dt
from typing import Any

import pytest
from opened import Open, Page

from wearfit.screens import cached, session
from wearfit.workflow.plan import plan
from wearfit.workflow.wording import HELD, day_in_words, frequency

FILE = "month,design_id,shots\n2026-07,soft-ball,900000\n2026-09,soft-ball,10\nsoon,soft-ball,5\n"


@pytest.fixture(scope="session")
def on_record(demo_records_store: str) -> dict[str, Any]:
    return plan(demo_records_store)[0]


def table(page: Page, name: str) -> Any:
    return page.widget("arrow_data_frame", f"{name}_table").value


def test_what_needs_doing_comes_first(open_app: Open, demo_records_store: str, on_record: dict[str, Any]) -> None:
    page = open_app(demo_records_store, "Plan")
    overdue = sum(order["overdue"] for order in on_record["orders"])
    assert f"{len(on_record['orders'])} orders fall due in these 12 months, {overdue} of them now" in page.words
    for order in on_record["orders"]:
        assert f"tool?id={order['tool_id']}" in page.html
        if not order["overdue"]:
            assert day_in_words(order["order_by"]) in page.words
    held = next(note for note in on_record["notes"] if note.startswith("Held"))
    assert f"STOP {held}" in page.words
    assert page.words.count(HELD) == 1


def test_the_tables_are_the_commands(open_app: Open, demo_records_store: str, on_record: dict[str, Any]) -> None:
    page = open_app(demo_records_store, "Plan")
    frames = [frame.value for frame in page.app.dataframe]
    orders, designs, spend, shortage, told = frames
    assert list(orders["Tool"]) == [order["tool_id"] for order in on_record["orders"]]
    by_name = {d["design_id"]: d for d in on_record["designs"]}
    assert list(designs["Renewals to expect"]) == pytest.approx([by_name[name]["expected_renewals"] for name in designs["Design"]])
    assert designs["Renewals to expect"].is_monotonic_decreasing
    assert list(spend["95 in 100 to"]) == [q["range_95"][1] for q in on_record["spend"]]
    assert list(spend["Tools behind it, the costliest first"]) == [", ".join(q["tools"]) for q in on_record["spend"]]
    assert list(shortage["Chance that some design is short"]) == [m["p"] for m in on_record["shortage"]]
    assert list(told["Comes from"]) == [item["mark"] for item in on_record["inputs"]]
    assert len(page.app.get("download_button")) == 9  # CSV of five tables, XLSX of four


def test_another_policy_price_and_number_of_months_is_the_commands(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Plan", months="6", refurbish="never", plan_retool_share="70")
    asked = plan(demo_records_store, months=6, refurbish="none", given={"retool_share": 0.7})[0]
    spend = page.app.dataframe[2].value
    assert list(spend["Spend to expect"]) == pytest.approx([q["expected"] for q in asked["spend"]])
    assert len(page.app.dataframe[3].value) == 6
    assert "yours; else 55, judgement" in page.words


def test_a_plan_in_a_file_answers_for_this_user_alone(
    open_app: Open, demo_records_store: str, on_record: dict[str, Any], tmp_path: Any
) -> None:
    page = open_app(demo_records_store, "Plan")
    page.app.file_uploader[0].set_value(("july <i>.csv", FILE.encode(), "text/csv"))
    page.run()
    (tmp_path / "plan.csv").write_text(FILE, encoding="utf-8")
    asked = plan(demo_records_store, tmp_path / "plan.csv")[0]
    assert asked["months"] == 3
    assert "1 row of the file could not be used Row 4: " in page.words
    assert f"{frequency(asked['shortage'][0]['p'])} that some design is short" in page.words
    assert "<i>" not in page.html
    other = open_app(demo_records_store, "Plan")
    assert "12 months" in other.words
    assert "could not be used" not in other.words


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"\xff\xfe\x00", "is not UTF-8 text"),
        (b"month,shots\n2026-07,5\n", "has no column tool_id or design_id or product_id"),
        (b"month,tool_id,shots\n", "has no row below its header"),
    ],
)
def test_a_file_that_is_no_plan_is_refused_in_a_sentence(content: bytes, says: str, open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Plan")
    page.app.file_uploader[0].set_value(("plan.csv", content, "text/csv"))
    page.run()
    assert says in page.words
    assert not page.rows
    assert page.widget("number_input", "months") is not None


def test_what_cannot_be_gets_a_sentence(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Plan", plan_uptime="650")
    assert "Uptime cannot be 650. Give a number between 1 and 100." in page.words
    assert not page.rows


def test_another_day_is_told_to_begin_with_the_calibrations(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Plan")
    page.widget("date_input", "as_of").set_value(dt.date(2026, 9, 30))
    page.run()
    assert "The plan begins with 30 Jun 2026" in page.words
    assert "Jul 2026 to Jun 2027" in page.words


def test_nothing_of_a_file_is_kept_where_others_read() -> None:
    assert not hasattr(cached.plan_of_file, "clear")  # what is cached can be cleared
    assert session.User().planning is None


def test_without_records_the_plan_is_the_calibrations(open_app: Open, own_demo_store: str) -> None:
    page = open_app(own_demo_store, "Plan")
    assert "Jul 2026 to Jun 2027" in page.words
    assert page.rows


def test_what_is_typed_here_does_not_stand_among_the_choices(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Plan", plan_replacement_cost="55555")
    page.app.switch_page("wearfit/screens/choices.py")
    page.app.query_params["tool"] = "T-049"
    page.run()
    assert page.widget("text_input", "replacement_cost").value == ""
    assert page.widget("text_input", "replacement_cost").placeholder == "35,400"
