"""Choices: every question is asked and answered as the command answers it, and what cannot be gets its sentence."""

import csv
from typing import Any, Final

import pytest
from opened import Open, Page

from wearfit.decisions.choices import DECISIONS, decision_named
from wearfit.decisions.decision import WEAR_LIFE
from wearfit.decisions.money import amount
from wearfit.demo.shipped import scenario_folder
from wearfit.workflow.answers import forecast
from wearfit.workflow.choose import choose
from wearfit.workflow.subjects import Asked
from wearfit.workflow.typed_inputs import label_of
from wearfit.workflow.wording import HELD, MOVING

TOOL: Final = {"tool": "T-049"}
KIND: Final = {"new_at": "salt-quay", "new_in": "pp-natural", "new_class": "103"}
WORDS: Final = {"tool": "tool", "new_at": "plant", "new_in": "resin", "new_class": "service_class"}
# What each question is about, and the inputs that neither the records nor a default give.
QUESTIONS: Final[dict[str, tuple[dict[str, str], dict[str, float]]]] = {
    "replace": (TOOL, {}),
    "replacement-age": (KIND | {"about_replacement-age": "a new tool"}, {}),
    "refurbish": (TOOL, {"planned_shots": 300_000}),
    "copies": (TOOL, {"units_wanted": 1_000_000, "days_to_launch": 90, "unit_value": 0.4}),
    "class": ({"new_at": "salt-quay", "new_in": "pa66-glass"}, {"planned_shots": 300_000}),
    "modify": (TOOL, {"planned_shots": 100_000}),
    "keep": ({"tool": "T-094"}, {"planned_shots": 100_000}),
    "plant": (TOOL, {"planned_shots": 300_000}),
    "guarantee": (TOOL, {"guaranteed_shots": 400_000}),
}


def opened(open_app: Open, store: str, what: str, **more: str) -> Page:
    subject, given = QUESTIONS[what]
    typed = {name: f"{value:g}" if value < 1000 else f"{value:,}" for name, value in given.items()}
    return open_app(store, "Choices", decide=decision_named(what).question, **subject, **typed, **more)


def answered(store: str, what: str, **more: float) -> dict[str, Any]:
    subject, given = QUESTIONS[what]
    asked = Asked(**{WORDS[name]: value for name, value in subject.items() if name in WORDS})
    return choose(store, what, asked, given | more)


def plain(text: str) -> str:
    return text.replace("\\", "")


def test_every_decision_is_asked_here() -> None:
    assert tuple(QUESTIONS) == tuple(decision.name for decision in DECISIONS)


@pytest.mark.parametrize("what", QUESTIONS)
def test_each_question_is_answered_as_the_command_answers_it(what: str, open_app: Open, demo_records_store: str) -> None:
    page, document = opened(open_app, demo_records_store, what), answered(demo_records_store, what)
    assert not page.app.exception
    assert "fault of the program" not in page.words
    actions = page.app.dataframe[0].value
    ranked = sorted(document["actions"], key=lambda a: a["expected_cost"])
    assert list(actions["Action"]) == [a["action"] for a in ranked]
    assert list(actions["Cost to expect"]) == pytest.approx([a["expected_cost"] for a in ranked])
    assert list(actions["Share of draws in which it costs least"]) == pytest.approx([a["p_best"] for a in ranked])
    assert list(actions["Best"]) == ["yes", *["no"] * (len(ranked) - 1)]
    first = page.rows[0]
    assert f"{amount(ranked[0]['expected_cost'])} to expect" in first
    assert f"best; costs least in {100 * ranked[0]['p_best']:.0f} of 100 draws" in first
    assert WEAR_LIFE in page.words
    assert plain(page.words).count("This is a planning aid.") == 1


@pytest.mark.parametrize("what", QUESTIONS)
def test_every_input_has_its_field_and_says_where_its_value_comes_from(what: str, open_app: Open, demo_records_store: str) -> None:
    page, document = opened(open_app, demo_records_store, what), answered(demo_records_store, what)
    decision = decision_named(what)
    fields = {widget.key: widget.label for kind in ("text_input", "button_group") for widget in page.app.get(kind)}
    assert {item.name: label_of(item) for item in decision.inputs}.items() <= fields.items()
    told = page.app.dataframe[-1].value
    assert list(told["Comes from"]) == [item["mark"] for item in document["inputs"]]
    for item in document["inputs"]:
        assert item["mark"] in page.words
    assert "published" not in page.words or "source not at hand" in page.words


def test_a_changed_input_is_yours_and_the_answer_is_the_commands(open_app: Open, demo_records_store: str) -> None:
    page = opened(open_app, demo_records_store, "replace")
    assert answered(demo_records_store, "replace")["best"] == "order now"
    page.widget("text_input", "stop_cost").set_value("20,000")
    page.run()
    document = answered(demo_records_store, "replace", stop_cost=20_000.0)
    assert list(page.app.dataframe[0].value["Cost to expect"]) == pytest.approx(
        sorted(a["expected_cost"] for a in document["actions"]), rel=1e-9
    )
    assert document["best"] != "order now"
    assert document["best"][1:] in page.words
    assert "yours; else 7,080, judgement: 0.2 x price of a new tool" in page.words
    assert "Yours among them: cost of an unplanned stop." in plain(page.words)


def test_a_default_follows_the_price_that_is_typed(open_app: Open, demo_records_store: str) -> None:
    page = opened(open_app, demo_records_store, "replace", replacement_cost="50000")
    assert page.widget("text_input", "stop_cost").placeholder == "10,000"


def test_shares_are_typed_in_per_cent(open_app: Open, demo_records_store: str) -> None:
    page = opened(open_app, demo_records_store, "keep", return_chance="60 %")
    document = answered(demo_records_store, "keep", return_chance=0.6)
    assert list(page.app.dataframe[0].value["Cost to expect"]) == pytest.approx(sorted(a["expected_cost"] for a in document["actions"]))


def test_yes_and_no_are_chosen(open_app: Open, demo_records_store: str) -> None:
    page = opened(open_app, demo_records_store, "keep", retention_duty="yes")
    assert "it cannot be scrapped, whatever that costs" in page.words
    assert "Scrap it" not in page.words


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("gap_cost_per_week", "-5", "Cost of a week without a tool cannot be -5. Give a number of 0 or more."),
        ("lead_time_weeks", "1,5", "Write thousands as 12,000 or 12000 and parts of one as 0.5."),
        ("lead_time_weeks", "<b>soon</b>", "that is no number"),
        ("discount_rate", "800", "Discount rate cannot be 800. Give a number between 0 and 100."),
    ],
)
def test_what_cannot_be_gets_a_sentence_and_no_answer(name: str, text: str, says: str, open_app: Open, demo_records_store: str) -> None:
    page = opened(open_app, demo_records_store, "replace", **{name: text})
    assert says in page.words
    assert not page.rows
    assert "<b>" not in page.html
    page.widget("text_input", name).set_value("")
    page.run()
    assert page.rows


def test_inputs_that_cannot_be_together_are_refused_in_the_words_of_the_page(open_app: Open, demo_records_store: str) -> None:
    page = opened(open_app, demo_records_store, "copies", closed_days="95")
    assert "95 closed days leave none of 90 to the launch." in page.words
    assert "Give fewer with 'Days closed', or more with 'Days of production'." in page.words
    assert "--" not in page.words


def test_what_is_missing_is_asked_for(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Choices")
    assert "Choose the tool that it is about." in page.words
    page = open_app(demo_records_store, "Choices", decide="Refurbish, retool or run on?", tool="T-049")
    assert "Fill in planned volume (shots)." in plain(page.words)
    assert not page.rows
    page = open_app(demo_records_store, "Choices", decide="Which service class?", new_in="pp-natural")
    assert "Choose the plant." in page.words


def test_another_tool_or_question_begins_anew(open_app: Open, demo_records_store: str) -> None:
    page = opened(open_app, demo_records_store, "refurbish", replacement_cost="50000")
    page.widget("selectbox", "tool").select("T-050")
    page.run()
    assert [page.widget("text_input", name).value for name in ("planned_shots", "replacement_cost")] == ["", ""]
    page.widget("text_input", "planned_shots").set_value("90000")
    page.run()
    page.widget("button_group", "decide").set_value("Keep or scrap?")
    page.run()
    assert page.widget("text_input", "planned_shots").value == ""
    assert page.widget("selectbox", "tool").value == "T-050"


def test_a_held_tool_says_stop(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Choices", tool="T-105")
    assert "STOP This tool is held and must not run until it is released." in page.words
    assert page.words.count(HELD) == 1


def test_cautions_stand_where_they_apply(open_app: Open, demo_records_store: str) -> None:
    keep, plant, age = (opened(open_app, demo_records_store, what).words for what in ("keep", "plant", "replacement-age"))
    assert "whose tool it is, whether a plant may hold it for unpaid bills (a lien)" in keep
    assert plant.count(MOVING) == 1
    assert "Settle it before a move." in plant
    assert MOVING not in age
    assert "lien" not in age


def test_a_tool_that_is_not_there_is_told(open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Choices", tool="T-900")
    assert "T-900 is not in the records." in page.words
    assert not page.rows


def test_a_plant_where_it_is_already_is_refused_in_the_words_of_the_page(open_app: Open, demo_records_store: str) -> None:
    page = opened(open_app, demo_records_store, "plant", move_to="Valley")
    assert "Tool T-049 is at valley already." in page.words
    assert "Name another plant with 'plant', or none to compare all." in page.words


def test_a_plant_never_seen_is_marked(open_app: Open, demo_records_store: str) -> None:
    page = open_app(
        demo_records_store, "Choices", decide="Which service class?", new_at="<b>attic</b>", new_in="pp-natural", planned_shots="300000"
    )
    assert "Never seen before, so taken as one of its kind: <b>attic</b>." in page.words
    assert "<b>attic" not in page.html


def test_the_chart_of_the_replacement_age_is_the_calculators_curve(open_app: Open, demo_records_store: str) -> None:
    page, document = opened(open_app, demo_records_store, "replacement-age"), answered(demo_records_store, "replacement-age")
    assert f"Replace at about {amount(document['best_age_shots'])} shots" in page.words
    curve = page.app.dataframe[1].value
    assert list(curve["Replaced after (shots)"]) == pytest.approx([p["age_shots"] for p in document["curve"]], abs=0.06)


def test_cavities_and_cycle_time_are_those_on_the_list_of_tools(open_app: Open, demo_records_store: str) -> None:
    with (scenario_folder() / "tools.csv").open(encoding="utf-8", newline="") as file:
        row = next(row for row in csv.DictReader(file) if row["tool_id"] == "T-049")
    page = opened(open_app, demo_records_store, "copies")
    told = page.app.dataframe[-1].value.set_index("Assumption")
    assert told.loc["Cycle time"].tolist()[:2] == [f"{row['cycle_time_s']} seconds", "on record"]
    assert told.loc["Cavities"].tolist()[:2] == [f"{row['cavities']} units a shot", "on record"]
    assert page.widget("text_input", "cycle_seconds").placeholder == row["cycle_time_s"]


def test_where_nothing_is_to_be_chosen_no_chance_is_told(open_app: Open, demo_records_store: str) -> None:
    worn = next(t["tool_id"] for t in forecast(demo_records_store)["tools"] if t["status"] == "worn" and not t["replacement_due_on"])
    page = open_app(demo_records_store, "Choices", tool=worn)
    assert "There is nothing to do but order now" in page.words
    assert len(page.rows) == 1
    assert "of 100 draws" not in page.words


def test_without_records_the_defaults_stand(open_app: Open, own_demo_store: str) -> None:
    page = opened(open_app, own_demo_store, "copies")
    assert page.widget("text_input", "cavities").placeholder == "4"
    assert page.rows
