"""Break-evens: found where they are known."""

import numpy as np
import pytest

from wearfit.decisions.costs import Costs
from wearfit.decisions.hangs_on import HangsOn, Lever, what_it_hangs_on
from wearfit.decisions.inputs import YES_NO, Input, Values, fill

RENT = Input("rent", 6.0, "money", "Rent", "Of a year.", doubt=3.0)
PRICE = Input("price", 40.0, "money", "Price", "Of buying.", doubt=2.0)
SHADE = Input("shade", 0.0, YES_NO, "Shade", "Whether it stands in the shade.", high=1.0, whole=True, likely=(0.0, 1.0))
YEARS = 5.0
DRAWS = 400


def rent_or_buy(values: Values, years: np.ndarray | None = None) -> Costs:
    """Rent for some years, or buy: the break-even of the rent is price / years."""
    lasts = np.full(DRAWS, YEARS) if years is None else years
    rent = lasts * values["rent"]
    buy = np.full(DRAWS, values["price"] - 30.0 * values["shade"])
    return Costs(("rent", "buy"), np.stack([rent, buy])[:, :, None], np.ones(DRAWS), "")


def asked(
    given: dict[str, float] | None = None, inputs: tuple[Input, ...] = (RENT, PRICE), years: np.ndarray | None = None
) -> tuple[HangsOn, ...]:
    values = fill((*inputs, *(i for i in (RENT, PRICE, SHADE) if i not in inputs)), {}, given or {})
    untried = Values(
        tuple(k if k.input in inputs else type(k)(Input(k.input.name, k.value, "", "x", "x."), k.value, "") for k in values.known)
    )
    levers = () if years is None else (Lever("How many years", years, lambda v: f"{v:.1f} years"),)
    return what_it_hangs_on(rent_or_buy(untried, years), levers, untried, lambda tried: rent_or_buy(tried, years))


def test_the_nearest_break_even_is_named_with_its_value():
    # Rent turns at 8, two twelfths of the way from 6 to 18; the price at 30, half of the way from 40 to 20.
    nearest, other = asked()
    assert nearest.name == "Rent"
    assert nearest.break_even == pytest.approx(8.0, abs=12.0 / 2**7)
    assert nearest.instead == "buy"
    assert nearest.sentence.startswith("Rent, now 6. Above about ")
    assert nearest.sentence.endswith("it is cheaper to buy.")
    assert other.name == "Price"
    assert other.break_even == pytest.approx(30.0, abs=20.0 / 2**7)


def test_where_nothing_turns_it_the_worst_end_is_named():
    found = asked({"rent": 1.0}, (RENT, PRICE))
    assert [f.break_even for f in found] == [None, None]
    assert found[0].name == "Price"  # 40 -> 20 takes 20 of 35; rent 1 -> 3 takes 10
    assert found[0].lost == pytest.approx(20.0 / 35.0)
    assert "nothing that was tried turns the choice" in found[0].sentence


def test_yes_or_no_has_no_value_between():
    found = asked({}, (SHADE,))
    assert found[0].break_even == 1.0
    assert found[0].sentence == "Shade, now no. If yes, it is cheaper to buy."


def test_a_belief_turns_the_choice_where_its_draws_do():
    # Years even between 2 and 10: rent 6 against 40 turns at 6.67 years, the median is 6.
    years = np.random.default_rng(1).permutation(np.linspace(2.0, 10.0, DRAWS))
    found = asked({}, (), years)
    assert found[0].name == "How many years"
    assert found[0].break_even == pytest.approx(40.0 / 6.0, abs=0.02)
    assert found[0].nearness == pytest.approx((40.0 / 6.0 - 6.0) / 4.0, abs=0.02)
    assert "above about 6.7 years it is cheaper to buy" in found[0].sentence


def test_one_action_leaves_nothing_to_hang_on():
    costs = Costs(("wait",), np.ones((1, DRAWS, 1)), np.ones(DRAWS), "")
    assert what_it_hangs_on(costs, (), Values(()), lambda tried: costs)[0].break_even is None
