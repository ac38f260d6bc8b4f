"""Mean, median and B10 of the life that is left at an age, from the law's survival and its inverse.

Expected values: closed form of the Weibull law, eta 1000, k 2.5, recomputed by quadrature.
"""

import numpy as np
import pytest
from scipy.integrate import quad

from wearfit import law

LOG_ETA, SHAPE = np.log(1000.0), 2.5


@pytest.mark.parametrize(
    ("age", "mean", "median", "b10"),
    [(0.0, 887.264, 863.635, 406.510), (500.0, 490.793, 445.785, 102.815), (1000.0, 288.151, 234.462, 40.882)],
)
def test_remaining_life(age: float, mean: float, median: float, b10: float) -> None:
    def survives(further: float) -> float:
        return float(law.survival(age + further, LOG_ETA, SHAPE) / law.survival(age, LOG_ETA, SHAPE))

    def quantile(probability: float) -> float:
        spent = law.cumulative_hazard(age, LOG_ETA, SHAPE)
        return float(law.wear_at(spent - np.log1p(-probability), LOG_ETA, SHAPE) - age)

    assert quad(survives, 0.0, np.inf)[0] == pytest.approx(mean, abs=1e-3)
    assert quantile(0.5) == pytest.approx(median, abs=1e-3)
    assert quantile(0.1) == pytest.approx(b10, abs=1e-3)
