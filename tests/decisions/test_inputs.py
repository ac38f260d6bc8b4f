"""Inputs: what stands where nobody gives a value, what is refused, and that a form can be built from each."""

import pytest

from wearfit.decisions.choices import DECISIONS
from wearfit.decisions.inputs import ON_RECORD, YOURS, Input, ShareOf, fill
from wearfit.errors import Refusal

PRICE = Input("price", None, "money", "Price", "What it costs.", low=1.0, doubt=2.0)
REPAIR = Input("repair", ShareOf("price", 0.1), "money", "Repair", "A repair.", doubt=1.5)
RUSH = Input("rush", ShareOf("repair", 2.0), "money", "Rush", "A repair at once.")
TIMES = Input("times", 1.0, "", "Times", "How often.", high=5.0, likely=(0.0, 2.0), whole=True)
INPUTS = (RUSH, REPAIR, PRICE, TIMES)


def test_a_default_follows_the_input_that_it_is_a_share_of_whatever_the_order():
    values = fill(INPUTS, {"price": 500.0}, {})
    assert (values["price"], values["repair"], values["rush"], values["times"]) == (500.0, 50.0, 100.0, 1.0)
    assert values.of("price").mark == ON_RECORD
    assert values.of("repair").mark == "judgement: 0.1 x price"


@pytest.mark.parametrize(
    ("share", "words"), [(0.1, "0.1 x"), (0.0005, "0.0005 x"), (3.0, "3 x"), (1.0, "as"), (1 / 24, "1/24 of"), (1 / 3, "1/3 of")]
)
def test_a_share_is_said_shortly(share: float, words: str):
    assert ShareOf("price", share).words == words


def test_the_user_comes_before_the_records_and_the_records_before_the_default():
    values = fill(INPUTS, {"price": 500.0, "repair": 60.0}, {"price": 800.0})
    assert (values["price"], values["repair"]) == (800.0, 60.0)
    assert (values.of("price").mark, values.of("repair").mark) == (YOURS, ON_RECORD)


def test_ends_are_what_is_likely_and_possible():
    values = fill(INPUTS, {}, {"price": 1.5})
    assert values.of("price").ends == (1.0, 3.0)
    assert values.of("times").ends == (0.0, 2.0)
    assert values.of("rush").ends == pytest.approx((0.3, 0.3))
    assert fill(INPUTS, {}, {"price": 1.0, "times": 4.0}).of("times").ends == (0.0, 4.0)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, "Price is not on record. Give it with --price."),
        ({"price": 0.0}, "Price (--price) cannot be 0. Give a number of 1 or more [money]."),
        ({"price": float("nan")}, "Price (--price) cannot be nan. Give a number of 1 or more [money]."),
        ({"price": 9.0, "times": 1.5}, "Times (--times) cannot be 1.5. Give a whole number between 0 and 5."),
        ({"price": 9.0, "prize": 1.0}, "There is no input 'prize'. The inputs are rush, repair, price, times."),
    ],
)
def test_what_cannot_be_is_refused_with_what_to_change(given: dict[str, float], words: str):
    with pytest.raises(Refusal) as refused:
        fill(INPUTS, {}, given)
    assert str(refused.value) == words
    assert refused.value.status == 2


@pytest.mark.parametrize("decision", DECISIONS, ids=lambda d: d.name)
def test_every_input_of_every_decision_says_what_a_form_needs(decision):
    names = [item.name for item in decision.inputs]
    assert len(set(names)) == len(names)
    assert len({item.label for item in decision.inputs}) == len(names)
    needed = {item.name: 100.0 for item in decision.inputs if item.default is None}
    for known in fill(decision.inputs, {}, needed).known:
        item = known.input
        assert item.name.isidentifier() and item.label and item.mark
        assert item.meaning.endswith(".")
        assert item.low <= known.ends[0] <= known.value <= known.ends[1] <= item.high
        assert known.as_json()["unit"] == item.unit
