"""Numbers as people type them into fields, and as fields write them."""

import pytest

from wearfit.decisions.choices import DECISIONS
from wearfit.decisions.inputs import Input, ShareOf, unless_given
from wearfit.errors import Refusal
from wearfit.workflow.typed_inputs import GROUPS, comes_from, group_of, in_field, label_of, typed

PRICE = Input("price", None, "money", "Price", "What it costs.", low=1.0)
SHARE = Input("share", 0.65, "share", "Uptime", "Of the hours.", low=0.01, high=1.0)
RATE = Input("rate", 0.08, "a year", "Discount rate", "Interest.", high=1.0)
TIMES = Input("times", 1.0, "", "Times", "How often.", high=5.0, whole=True)
USE = Input("use", 5.0, "shots a month", "Use", "Shots a month.", low=1e-6)
REPAIR = Input("repair", ShareOf("price", 1.0 / 36.0), "money", "Repair", "A repair.")
ALL = (PRICE, SHARE, RATE, TIMES, REPAIR)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12000", 12000.0),
        ("12,000", 12000.0),
        ("1,234,567.5", 1234567.5),
        (" 12 000 ", 12000.0),
        ("12\N{NO-BREAK SPACE}000", 12000.0),
        ("12_000", 12000.0),
        ("1e6", 1000000.0),
        ("35400.", 35400.0),
    ],
)
def test_an_amount_is_read_however_its_thousands_are_set_apart(text: str, value: float):
    assert typed(PRICE, text) == value


@pytest.mark.parametrize("text", ["much", "12,5", "1,50", "0,500", "12.000,50", "1.2.3", "-", ".", ",", "50 %", "nan", "inf", "1e"])
def test_what_may_mean_two_things_or_nothing_is_asked_about(text: str):
    with pytest.raises(Refusal) as refused:
        typed(PRICE, text)
    assert refused.value.problem.startswith(f"Price cannot be '{text}'")
    assert "12,000" in refused.value.repair


@pytest.mark.parametrize(("text", "value"), [("70", 0.7), ("70 %", 0.7), ("0.5%", 0.005), ("100", 1.0)])
def test_shares_are_in_per_cent(text: str, value: float):
    if value < SHARE.low:
        with pytest.raises(Refusal, match="Uptime cannot be"):
            typed(SHARE, text)
    else:
        assert typed(SHARE, text) == pytest.approx(value)


def test_limits_are_told_as_the_field_writes_them():
    for item, text, limits in (
        (SHARE, "0.7", "Give a number between 1 and 100."),
        (PRICE, "0", "Give a number of 1 or more."),
        (TIMES, "2.5", "Give a whole number between 0 and 5."),
        (RATE, "-1", "Give a number between 0 and 100."),
        (USE, "0", "Give a number above 0."),
    ):
        with pytest.raises(Refusal) as refused:
            typed(item, text)
        assert refused.value.repair == limits


@pytest.mark.parametrize("decision", DECISIONS, ids=lambda decision: decision.name)
def test_what_a_field_writes_it_reads_again(decision):
    for item in decision.inputs:
        assert group_of(item) in GROUPS
        if item.unit != "yes or no":
            for value in (item.low, 0.5 * (item.low + item.high) if item.high < 1e6 else 54321.0):
                whole = float(round(value)) if item.whole else value
                assert typed(item, in_field(item, whole)) == pytest.approx(whole, rel=1e-3)


def test_a_label_tells_the_unit_once():
    assert [label_of(item) for item in ALL] == ["Price (money)", "Uptime (%)", "Discount rate (% a year)", "Times", "Repair (money)"]
    assert label_of(Input("weeks", 8.0, "weeks", "Weeks of a retool", "Without the tool.")) == "Weeks of a retool"


def test_where_a_value_comes_from():
    known = unless_given(REPAIR, ALL, {"price": 3600.0}, {"repair": 7.0})
    assert known.value == pytest.approx(100.0)
    assert comes_from(REPAIR, known, given=False) == "judgement: 1/36 of price"
    assert comes_from(REPAIR, known, given=True) == "yours; else 100, judgement: 1/36 of price"
    assert comes_from(PRICE, None, given=False) == "to be filled in"
    assert comes_from(REPAIR, None, given=False) == "follows what is to be filled in"
    assert comes_from(PRICE, None, given=True) == "yours"
