"""Answers of the calculators in the words of the page."""

import re

import pytest

from wearfit.decisions.choices import DECISIONS, decision_named
from wearfit.workflow.choice_in_words import headline, lines_sentence, on_page, turns

COPIES = decision_named("copies")


def test_options_of_the_command_become_fields_and_commands_questions():
    assert on_page("Give fewer with --closed-days, or more with --days-to-launch.", COPIES) == (
        "Give fewer with 'Days closed', or more with 'Days of production'."
    )
    assert on_page("Lead time (--lead-time-weeks) cannot be -5.", COPIES) == "Lead time cannot be -5."
    assert on_page("for a tool in use ask `wearfit choose replace`.") == "for a tool in use ask 'Replace when?'."
    assert on_page("Give it with --service-class.") == "Give it with 'service class'."
    assert on_page("move it to north--annex") == "move it to north--annex"
    assert on_page("order in 4 weeks, on 2026-07-28") == "order in 4 weeks, on 28 Jul 2026"


@pytest.mark.parametrize("decision", DECISIONS, ids=lambda decision: decision.name)
def test_every_option_has_its_field(decision):
    for item in decision.inputs:
        said = on_page(f"Give it with {item.option}.", decision)
        assert item.label in said
        assert not re.search("--", said)


def test_the_headline_is_the_best_action_or_the_best_age():
    assert headline({"best": "order in 4 weeks, on 2026-07-28"}) == "Order in 4 weeks, on 28 Jul 2026"
    assert headline({"best": "replace at 224,000 shots", "best_age_shots": 202_345.0}) == "Replace at about 202,000 shots"
    assert headline({"best": "run it until it stops", "best_age_shots": None}) == "Run it until it stops"


def test_what_turns_the_choice_beside_what_it_hangs_on_most():
    tried = [{"sentence": name, "nearness": near} for name, near in (("a", 0.1), ("b", 0.2), ("c", 0.9), ("d", None))]
    assert turns({"tried": tried}) == ["b", "c"]


def test_a_notch_beyond_its_line_is_explained():
    within = {"cost": {"p10": 1.0, "p90": 3.0}, "expected_cost": 2.0}
    assert "dear futures" not in lines_sentence([within])
    assert "dear futures" in lines_sentence([within, within | {"expected_cost": 4.0}])
