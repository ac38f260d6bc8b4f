"""When an amount is used up in years that are all alike, against taking off month after month."""

import numpy as np
import pytest

from wearfit.forecasts.year_round import YearRound

SAMPLES = 5


def month_by_month(used: np.ndarray, amount: float) -> float:
    """Months that pass before an amount is used up."""
    months = 0
    while True:
        now = float(used[months % 12])
        if amount <= now:
            return months + (amount / now if now > 0 else 0.0)
        amount -= now
        months += 1


@pytest.mark.parametrize("one_plant", [True, False])
def test_months_are_those_of_taking_off_one_after_another(one_plant: bool):
    rng = np.random.default_rng(4)
    used = rng.gamma(1.0, 1.0, (12, 3, SAMPLES)) * (rng.random((12, 3, SAMPLES)) < 0.7)
    plant = np.full(8, 1) if one_plant else np.array([0, 1, 2, -1, 0, 2, 1, 0])
    amount = np.asfortranarray(rng.gamma(1.0, 30.0, (SAMPLES, 8)))
    amount[0] = 0.0
    reached = YearRound.of(used).reach(amount, plant)
    slow = [[month_by_month(used[:, plant[t], s], amount[s, t]) for t in range(8)] for s in range(SAMPLES)]
    np.testing.assert_allclose(reached.months, slow, atol=1e-9)
    assert ((reached.part >= 0.0) & (reached.part <= 1.0)).all()


def test_an_amount_that_is_not_known_is_used_up_nobody_knows_when():
    reached = YearRound.of(np.ones((12, 1, 2))).reach(np.array([[np.nan], [3.5]]), np.zeros(1, dtype=np.int64))
    assert np.isnan(reached.months[0, 0])
    assert reached.months[1, 0] == pytest.approx(3.5)
