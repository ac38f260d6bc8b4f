"""`wearfit choose`: JSON as the interface has it, tables that fit the screen, and what is refused."""

import pytest
from run_command import Run

from wearfit.decisions.choices import DECISIONS
from wearfit.workflow.wording import CAUTION, HELD

ASKED = {
    "replace": ("--tool", "T-049"),
    "replacement-age": ("--service-class", "103", "--plant", "salt-quay", "--resin", "pp-natural"),
    "refurbish": ("--tool", "T-049", "--planned-shots", "300,000"),
    "copies": ("--tool", "T-049", "--units-wanted", "1,000,000", "--days-to-launch", "90", "--unit-value", "0.4"),
    "class": ("--plant", "salt-quay", "--resin", "pa66-glass", "--planned-shots", "300000"),
    "modify": ("--tool", "T-049", "--planned-shots", "100000"),
    "keep": ("--tool", "T-094", "--planned-shots", "100000"),
    "plant": ("--tool", "T-049", "--planned-shots", "300000"),
    "guarantee": ("--tool", "T-049", "--guaranteed-shots", "400000"),
}


@pytest.mark.parametrize("name", ASKED)
def test_the_document_is_as_the_interface_has_it_and_the_tables_fit_the_screen(
    wearfit: Run, demo_store: str, monkeypatch: pytest.MonkeyPatch, name: str
):
    asked = ("choose", name, *ASKED[name], "--store", demo_store)
    said = wearfit(*asked, "--json")
    assert said.status == 0
    document = said.document
    assert {"as_of", "calibration", "fingerprint", "what", "inputs", "actions", "advice", "hangs_on"} <= set(document)
    assert document["what"] == name
    assert document["hold"] is False
    assert all({"action", "cost", "p_best"} <= set(action) for action in document["actions"])
    assert all({"name", "value", "unit", "meaning", "mark"} <= set(item) for item in document["inputs"])
    for width in (80, 120):
        monkeypatch.setenv("COLUMNS", str(width))
        said = wearfit(*asked)
        assert said.status == 0
        assert all(len(line) <= width for line in said.out.splitlines())
        text = " ".join(said.out.split())
        assert document["advice"] in text
        assert text[len(document["question"]) + 1].isupper()  # what it is about begins as a sentence does
        assert document["hangs_on"] in text
        assert CAUTION in text
        assert all(item["label"].split()[0] in text for item in document["inputs"])


def test_an_input_given_is_marked_as_yours_and_changes_the_answer(wearfit: Run, demo_store: str):
    asked = ("choose", *("refurbish", *ASKED["refurbish"]), "--store", demo_store, "--json")
    before, after = wearfit(*asked).document, wearfit(*asked, "--retool-cost", "1000").document
    item = next(i for i in after["inputs"] if i["name"] == "retool_cost")
    assert (item["value"], item["mark"]) == (1000.0, "yours")
    assert next(i for i in before["inputs"] if i["name"] == "retool_cost")["mark"].startswith("judgement")
    assert after["actions"] != before["actions"]


def test_a_held_tool_says_stop(wearfit: Run, demo_store: str, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("COLUMNS", "80")
    said = wearfit("choose", "replace", "--tool", "T-105", "--store", demo_store)
    text = " ".join(said.out.split())
    assert "STOP: the tool is held." in text
    assert HELD in text
    assert wearfit("choose", "replace", "--tool", "T-105", "--store", demo_store, "--json").document["hold"] is True


def test_a_plant_in_other_letters_is_not_a_new_one(wearfit: Run, demo_store: str):
    asked = ("--resin", "PP-natural", "--planned-shots", "300000", "--store", demo_store, "--json")
    spelled = wearfit("choose", "class", "--plant", "Salt Quay", *asked).document
    assert spelled["about"] == {"plant": "salt-quay", "resin": "pp-natural"}
    assert not any("Never seen" in note for note in spelled["notes"])
    new = wearfit("choose", "class", "--plant", "Nowhere", *asked).document
    assert any("Never seen before, so taken as one of its kind: Nowhere." in note for note in new["notes"])


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (("refurbish",), 2, "It is not said which tool is meant. Give it with --tool."),
        (("refurbish", "--tool", "T-049"), 2, "Planned volume is not on record. Give it with --planned-shots."),
        (("replace", "--tool", "T-999"), 1, "Tool T-999 is not in the records."),
        (
            ("replace", "--tool", "T-049", "--gap-cost-per-week", "-5"),
            2,
            "Cost of a week without a tool (--gap-cost-per-week) cannot be -5.",
        ),
        (("replace", "--tool", "T-049", "--stop-cost", "much"), 2, "'much' is not a number."),
        (("class", "--plant", "delta", "--planned-shots", "9000"), 2, "It is not said which resin is meant. Give it with --resin."),
        (("replacement-age", "--tool", "T-049", "--plant", "delta"), 2, "A tool and plant were both given."),
        (("guarantee", "--service-class", "110", "--plant", "delta", "--resin", "x"), 2, "'110' is no service class."),
    ],
)
def test_what_cannot_be_answered_gets_a_sentence(wearfit: Run, demo_store: str, arguments: tuple[str, ...], status: int, words: str):
    said = wearfit("choose", *arguments, "--store", demo_store)
    assert said.status == status
    assert said.err.startswith(words)
    assert said.out == ""


def test_every_decision_is_asked_here():
    assert tuple(ASKED) == tuple(decision.name for decision in DECISIONS)
