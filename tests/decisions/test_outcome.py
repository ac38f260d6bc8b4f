"""How actions are compared: shares of draws in which each is the best, and what the answer says."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from wearfit.decisions.costs import Costs, present_value
from wearfit.decisions.hangs_on import HangsOn
from wearfit.decisions.inputs import Values
from wearfit.decisions.outcome import outcome_of, p_best

COSTS = arrays(float, (3, 12), elements=st.floats(0.0, 1e4))
WEIGHTS = arrays(float, 12, elements=st.floats(0.01, 10.0))


@given(COSTS, WEIGHTS)
def test_shares_sum_to_one(expected: np.ndarray, weights: np.ndarray):
    assert p_best(expected, weights).sum() == pytest.approx(1.0, abs=1e-12)


@given(COSTS, WEIGHTS, st.floats(0.0, 1e3))
def test_an_action_that_costs_more_never_gains(expected: np.ndarray, weights: np.ndarray, more: float):
    dearer = expected.copy()
    dearer[1] += more
    assert p_best(dearer, weights)[1] <= p_best(expected, weights)[1] + 1e-12


@given(arrays(float, (3, 12), elements=st.integers(0, 10_000).map(float)), WEIGHTS, st.integers(-8, 20))
def test_the_unit_of_money_does_not_matter(expected: np.ndarray, weights: np.ndarray, power: int):
    assert p_best(expected * 2.0**power, weights) == pytest.approx(p_best(expected, weights))


def test_ties_share_a_draw_and_weights_count():
    expected = np.array([[1.0, 2.0, 5.0], [1.0, 3.0, 4.0], [2.0, 2.5, 4.0]])
    assert p_best(expected, np.array([2.0, 1.0, 1.0])) == pytest.approx([0.5, 0.375, 0.125])


def test_the_best_action_is_the_cheapest_on_average_not_the_likeliest():
    cost = np.array([[[10.0], [10.0], [10.0], [90.0]], [[20.0], [20.0], [20.0], [20.0]]])
    costs = Costs(("gamble", "insure"), cost, np.ones(4), "in all")
    outcome = outcome_of("test", "Which?", Values(()), costs, (HangsOn("", "Nothing."),), ())
    assert outcome.best == "insure"
    assert [a.p_best for a in outcome.actions] == [0.75, 0.25]
    assert [a.expected_cost for a in outcome.actions] == [30.0, 20.0]
    assert "gamble is so in 75" in outcome.advice


def test_cost_quantiles_run_over_draws_and_futures_by_weight():
    cost = np.array([[[1.0, 2.0], [3.0, 4.0]]])
    outcome = outcome_of("test", "Which?", Values(()), Costs(("one",), cost, np.array([3.0, 1.0]), ""), (HangsOn("", ""),), ())
    assert outcome.actions[0].cost["p50"] == 2.0
    assert outcome.actions[0].cost["p90"] == 4.0
    assert outcome.actions[0].expected_cost == pytest.approx(0.75 * 1.5 + 0.25 * 3.5)


def test_present_value():
    assert present_value(np.array([0.0, 12.0, 24.0, np.inf]), 0.25) == pytest.approx([1.0, 0.8, 0.64, 0.0])
    assert present_value(np.array([0.0, 12.0, np.inf]), 0.0) == pytest.approx([1.0, 1.0, 0.0])
