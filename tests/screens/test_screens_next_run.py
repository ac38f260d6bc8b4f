"""Next run: what is asked, what is answered, and what is not."""

import json
import re

import altair as alt
import pytest
from opened import Open, Page

from wearfit.workflow.answers import forecast, next_run
from wearfit.workflow.questions import question_of
from wearfit.workflow.wording import FLASH, MOVING, frequency, shots

RUN = {"tool": "T-104", "at_plant": "steppe", "in_resin": "hdpe-blue", "month": "Aug 2026", "shots": "51000"}


def answered(store: str, **cells: str) -> dict[str, object]:
    asked = {"tool_id": "T-104", "plant_id": "steppe", "resin_id": "hdpe-blue", "month": "2026-08", "shots": "51000"} | cells
    return next_run(store, [question_of(asked)])[0]["runs"][0]


def plain(page: Page) -> str:
    return page.words.replace("\\", "")


def test_before_a_tool_is_chosen_the_page_asks_for_one(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run")
    assert "Choose the tool that is to run." in page.words
    assert not page.rows
    page.widget("selectbox", "tool").select("T-104")
    page.run()
    assert "that T-104 wears out before the run of" in page.words


def test_the_address_asks_the_whole_question(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", **RUN)
    run = answered(demo_records_store)
    assert f"{frequency(run['p_wear_out']).capitalize()} that T-104 wears out before the run of 51,000 shots at steppe in" in plain(page)
    low, high = (frequency(p).removeprefix("about ") for p in run["p_wear_out_interval"])
    assert f"with 9 in 10 certainty it lies between {low} and {high}" in page.words
    assert f"{frequency(run['p_any_stop'])} ({100 * run['p_any_stop']:.2g} %)" in page.words
    assert page.words.count(FLASH) == 1


def test_the_questions_of_the_command_have_the_same_answer(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", **RUN)
    curve, plants, causes = (frame.value for frame in page.app.dataframe)
    run = answered(demo_records_store)
    at_run = curve.iloc[(curve["Shots made"] - 51000).abs().argmin()]
    assert at_run["Shots made"] == 51000
    assert at_run["Chance that it is worn out by then"] == pytest.approx(run["p_wear_out"], abs=1e-5)
    assert [at_run["Low (5 %)"], at_run["High (95 %)"]] == pytest.approx(run["p_wear_out_interval"], abs=1e-5)
    for row in plants.to_dict("records"):
        there = answered(demo_records_store, plant_id=row["Plant"])
        assert row["Chance of wear-out"] == pytest.approx(there["p_wear_out"])
        assert row["Largest run at 10 % (shots)"] == there["largest_run_at_risk"]["0.10"]
    assert len(plants) == 7
    assert causes["Share of the variance"].is_monotonic_decreasing


def test_a_risk_of_the_users_own_gives_its_largest_run(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", **RUN | {"shots": "40000"})
    largest = answered(demo_records_store, shots="40000")["largest_run_at_risk"]
    page.widget("number_input", "accept").set_value(20.0)
    page.run()
    assert largest["0.20"] > 40000 > largest["0.05"]
    assert f"stays within 20 %, and so would one of {shots(largest['0.20'])} shots" in page.words
    page.widget("number_input", "accept").set_value(5.0)
    page.run()
    assert f"goes beyond 5 %: the largest run within it is {shots(largest['0.05'])} shots" in page.words


def test_parts_are_turned_into_shots_by_the_cavities_and_it_is_said(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", tool="T-020", counted="parts", parts="160001")
    assert "160,001 parts out of 16 open cavities are 10,001 shots." in page.words
    assert "wears out before the run of 10,001 shots" in page.words
    page.widget("number_input", "cavities_T-020").set_value(8)
    page.run()
    assert "160,001 parts out of 8 open cavities are 20,001 shots." in page.words


def test_without_records_the_cavities_are_asked_for(open_app: Open, own_demo_store: str) -> None:
    page = open_app(own_demo_store, "Next run", tool="T-020", counted="parts", parts="500")
    assert "states no cavities, so one is taken" in page.words
    assert "wears out before the run of 500 shots" in page.words


def test_a_held_tool_says_stop_and_nothing_else(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", tool="T-105")
    assert "STOP This tool is held and must not run until it is released." in page.words
    assert "16 CFR 1501" in page.words
    assert not page.rows
    assert not page.app.get("number_input")
    assert not re.search(r"1 in|%", page.words)


def test_a_tool_that_cannot_be_answered_says_why(open_app: Open, demo_records_store: str) -> None:
    worn = next(tool["tool_id"] for tool in forecast(demo_records_store)["tools"] if tool["status"] == "worn")
    for tool, says in ((worn, f"Tool {worn} is worn by the records and waits for its renewal."), ("T-900", "is not in the records.")):
        page = open_app(demo_records_store, "Next run", tool=tool)
        assert says in page.words
        assert not page.rows


@pytest.mark.parametrize("plant", ["north-annex", "<b>attic</b>"])
def test_a_plant_never_seen_is_marked(plant: str, open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", **RUN | {"at_plant": plant})
    assert f"{plant}, never seen here: drawn from its population" in page.words
    (row,) = [row for row in page.rows if row.startswith(plant)]
    assert "asked about, never seen here: drawn from its population" in row
    assert "<b>" not in page.html


def test_a_name_in_other_letters_is_the_one_that_is_known(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", **RUN | {"at_plant": "Clean Hall"})
    assert "shots at clean-hall in hdpe-blue" in plain(page)
    assert "never seen" not in page.words


def test_lifting_is_cautioned_where_the_tool_moves_alone(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", tool="T-104")
    assert MOVING not in page.words
    home = page.widget("selectbox", "at_plant").value
    other = next(plant for plant in page.widget("selectbox", "at_plant").options if plant != home)
    page.widget("selectbox", "at_plant").select(other)
    page.run()
    assert page.words.count(MOVING) == 1


def test_another_tool_begins_with_its_own_usual_run(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", **RUN)
    page.widget("selectbox", "tool").select("T-020")
    page.run()
    assert (page.widget("selectbox", "at_plant").value, page.widget("selectbox", "in_resin").value) != ("steppe", "hdpe-blue")
    assert page.widget("number_input", "shots").value == 33000


def test_every_chart_has_its_words_and_its_numbers(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", **RUN)
    assert len(page.app.dataframe) == 3
    assert len(page.app.get("download_button")) == 3


@pytest.mark.parametrize(("accept", "layers"), [("10", 6), ("99", 4)])
def test_the_chart_along_the_run_is_one_that_vega_lite_knows(accept: str, layers: int, open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", **RUN | {"shots": "2000", "tool": "T-086"}, accept=accept)
    drawn = json.loads(page.app.get("vega_lite_chart")[0].proto.spec)
    alt.LayerChart.from_dict(drawn)  # checks all of it against the schema
    run = drawn["layer"][2]["data"]["values"]
    assert len(drawn["layer"]) == layers, drawn
    assert run == [{"shots": 2000.0, "text": "this run"}]


def test_a_chance_of_nothing_is_drawn_too(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Next run", **RUN | {"tool": "T-086", "at_plant": "upland", "in_resin": "pp-talc", "shots": "1"})
    assert not page.app.exception
    assert "fault of the program" not in page.words
    assert "wears out before the run of 1 shot at" in page.words


def test_a_note_of_sharp_flash_without_a_hold_is_told_before_the_chance(open_app: Open, demo_records_store: str) -> None:
    asked = {"at_plant": "steppe", "resin": "pp-natural", "shots": "20"}
    words = open_app(demo_records_store, "Next run", tool="T-036", **asked).words
    assert "Have it looked at before it runs A note of 20 Apr 2026 says \u2018sharp flash growing at cavity 2\u2019" in words
    assert "Have it looked at" not in open_app(demo_records_store, "Next run", tool="T-049", **asked).words
