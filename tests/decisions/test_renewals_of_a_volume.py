"""Renewals until a volume is made: against the renewal function and closed forms of discounting."""

import numpy as np
import pytest
from known_draws import known_new_tool

from wearfit.decisions.lives import cost_of_renewals, renewals

# Smith & Leadbetter 1963: M(t) of Weibull renewals, eta = 1, at t = .5, 1, 2, 3.
RENEWAL_FUNCTION = {
    1.5: (0.330270, 0.841578, 1.945501, 3.053714),
    2.0: (0.230794, 0.753691, 1.894039, 3.021745),
    3.0: (0.118263, 0.672329, 1.801075, 2.924775),
    4.0: (0.060642, 0.644599, 1.746606, 2.848977),
}


@pytest.mark.parametrize("shape", RENEWAL_FUNCTION)
def test_the_number_of_renewals_is_the_renewal_function(shape: float):
    tool = known_new_tool(1.0, shape, samples=3000)
    for volume, expected in zip((0.5, 1.0, 2.0, 3.0), RENEWAL_FUNCTION[shape], strict=True):
        count = sum(np.isfinite(due).astype(float) for due in renewals(tool.shots_to_end(0), tool.shots_to_end, volume))
        assert abs(count.mean() - expected) < 4.0 * count.std() / np.sqrt(count.size)


def test_discounted_renewals_of_lives_that_end_by_chance_alone():
    # Sudden stops alone: renewals are a Poisson process of rate r, worth r (1 - e^(-d T)) / d today.
    rate, volume, use, discount = 1e-3, 5000.0, 100.0, 0.2
    tool = known_new_tool(1e12, 2.0, sudden=rate, samples=3000)
    cost = cost_of_renewals(tool.shots_to_end(0), tool.shots_to_end, volume, 7.0, use, discount)
    d = np.log1p(discount) / (12.0 * use)  # a shot
    expected = 7.0 * rate * (1.0 - np.exp(-d * volume)) / d
    assert abs(cost.mean() - expected) < 4.0 * cost.std() / np.sqrt(cost.size)


def test_without_discount_a_renewal_costs_what_it_costs():
    tool = known_new_tool(10.0, 3.0, samples=50)
    cost = cost_of_renewals(tool.shots_to_end(0), tool.shots_to_end, 35.0, 7.0, 1.0, 0.0)
    count = sum(np.isfinite(due).astype(float) for due in renewals(tool.shots_to_end(0), tool.shots_to_end, 35.0))
    assert np.array_equal(cost, 7.0 * count)


def test_copies_share_all_but_their_own_and_lives_differ():
    tool = known_new_tool(1000.0, 2.5, tool_sd=0.3, samples=2000)
    assert tool.log_life_of_copy(0).std() == pytest.approx(0.3, rel=0.1)
    assert abs(np.corrcoef(tool.log_life_of_copy(0), tool.log_life_of_copy(1))[0, 1]) < 0.1
    assert abs(np.corrcoef(tool.shots_to_wear(0).ravel(), tool.shots_to_wear(1).ravel())[0, 1]) > 0.2  # the tool's own effect stays
    still = known_new_tool(1000.0, 2.5, samples=2000)
    assert abs(np.corrcoef(still.shots_to_wear(0).ravel(), still.shots_to_wear(1).ravel())[0, 1]) < 0.02
