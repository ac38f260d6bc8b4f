"""The guarantee: closed forms of the chance and of what the promise pays."""

import numpy as np
import pytest
from known_draws import known_new_tool, known_tool

from wearfit.decisions.decision import decide
from wearfit.decisions.guarantee import GUARANTEE
from wearfit.errors import Refusal
from wearfit.forecasts.life_ahead import LifeAhead, life_of_new, life_of_tool

ASKED = {
    "guaranteed_shots": 800.0, "guaranteed_years": 50.0, "shots_per_month": 100.0, "retool_cost": 600.0, "stop_cost": 0.0,
    "discount_rate": 0.0, "honoured": 0.5, "premium": 10.0,
}  # fmt: skip


def found(life: LifeAhead, **given: float):
    return decide(GUARANTEE, life, {**ASKED, **given})


def test_the_chance_and_the_worth_of_a_new_tool():
    outcome = found(life_of_new(known_new_tool(1000.0, 2.5, samples=4000)))
    survives = np.exp(-(0.8**2.5))
    error = np.sqrt(survives * (1.0 - survives) / 160_000)
    assert abs(outcome.details["p_meets_guarantee"] - survives) < 4.0 * error
    assert abs(outcome.details["worth"] - 600.0 * 0.5 * (1.0 - survives)) < 4.0 * 300.0 * error


def test_what_is_made_already_is_said_so():
    life = life_of_new(known_new_tool(1000.0, 2.5, samples=400))
    assert found(life, shots_made=800.0).advice.startswith("It has made the 800 shots that are guaranteed. The guarantee is worth 0")
    assert found(life, shots_made=799.0).advice.startswith("It makes 800 shots before it wears out in 100 of 100 futures. The")
    assert ", by what the draws believe)" in found(life).advice


def test_a_live_tool_is_judged_on_what_it_has_come_through():
    # It stands at 500 of 1000 and must make 300 more: P = exp(H(500) - H(800)).
    outcome = found(life_of_tool(known_tool(age=500.0, samples=4000)))
    survives = np.exp(0.5**2.5 - 0.8**2.5)
    assert abs(outcome.details["p_meets_guarantee"] - survives) < 4.0 * np.sqrt(survives * (1.0 - survives) / 160_000)


def test_sudden_damage_is_paid_only_where_covered():
    life = life_of_new(known_new_tool(1e9, 2.5, sudden=1e-3, samples=4000))
    assert found(life).details["worth"] == 0.0
    assert found(life).details["p_meets_guarantee"] == 1.0
    covered = found(life, covers_sudden=1.0)
    stops = 1.0 - np.exp(-0.8)
    assert abs(covered.details["worth"] - 300.0 * stops) < 4.0 * 300.0 * np.sqrt(stops * (1.0 - stops) / 160_000)
    assert abs(covered.details["p_meets_guarantee_no_stop"] - (1.0 - stops)) < 4.0 * np.sqrt(stops * (1.0 - stops) / 160_000)


def test_in_proportion_it_pays_the_share_that_is_missing():
    # Sudden stops alone: E[(G - T)+] / G = 1 - (1 - e^(-r G)) / (r G).
    life = life_of_new(known_new_tool(1e9, 2.5, sudden=1e-3, samples=4000))
    worth = found(life, covers_sudden=1.0, pro_rata=1.0).details["worth"]
    assert worth == pytest.approx(300.0 * (1.0 - (1.0 - np.exp(-0.8)) / 0.8), rel=0.01)


def test_it_runs_out_by_its_years():
    # Two years at 100 a month are 2,400 shots; half a year 600: claims after that are not paid.
    life = life_of_new(known_new_tool(1000.0, 2.5, samples=4000))
    fails = 1.0 - np.exp(-(0.6**2.5))
    worth = found(life, guaranteed_years=0.5).details["worth"]
    assert abs(worth - 300.0 * fails) < 4.0 * 300.0 * np.sqrt(fails * (1.0 - fails) / 160_000)


def test_its_worth_is_the_break_even_of_its_price():
    life = life_of_new(known_new_tool(1000.0, 2.5, samples=300))
    worth = found(life).details["worth"]
    assert found(life, premium=0.99 * worth).best == "take the guarantee at its price"
    assert found(life, premium=1.01 * worth).best == "do without the guarantee"


def test_what_is_made_already_is_asked_for_where_it_is_not_known():
    tool = known_tool()
    unknown = life_of_tool(type(tool)(**{**vars(tool), "shots_this_life": np.full(500, np.nan)}))
    with pytest.raises(Refusal, match=r"Shots made so far is not on record\. Give it with --shots-made"):
        found(unknown)
    assert found(unknown, shots_made=900.0).details["p_meets_guarantee"] == 1.0
