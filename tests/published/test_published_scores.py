"""Scores of forecasts against published values. "seen" = the value was read in the text named."""

import numpy as np
import pytest
from scipy import stats
from sksurv.datasets import load_gbsg2
from sksurv.linear_model import CoxPHSurvivalAnalysis
from sksurv.preprocessing import OneHotEncoder

from wearfit.evidence.scores import brier_curve, restricted_crps


@pytest.mark.parametrize(
    ("law", "outcome", "expected"),
    [
        (stats.norm(20.0, 1.0), 20.0, 0.2336950),  # N(0, 1) at 0, and moved, for what is left is never below zero
        (stats.norm(20.0, 1.0), 21.0, 0.6024414),
        (stats.norm(22.0, 3.0), 19.0, 1.8073241),
        (stats.expon(), 0.5, 0.2130613),
        (stats.lognorm(0.5), 1.5, 0.2841185),
    ],
    ids=["standard normal in its middle", "standard normal", "normal", "exponential", "lognormal"],
)
def test_crps_of_a_life_seen_to_its_end(law: stats.rv_continuous, outcome: float, expected: float) -> None:
    """Closed forms of Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102; each recomputed by two routes."""
    points = np.linspace(0.0, 80.0, 800_001)
    found = restricted_crps(law.cdf(points)[:, None], points, np.array([outcome]), np.array([1.0]))
    assert found == pytest.approx(expected, abs=1e-4)  # the steps of the integral are 1e-4 wide


def test_brier_score_with_lives_lost_sight_of() -> None:
    """Cox model on 686 women of the German Breast Cancer Study Group 2 at 1825 days: scikit-survival's documentation, seen."""
    covariates, survival = load_gbsg2()
    covariates["tgrade"] = covariates["tgrade"].map(len).astype(int)
    coded = OneHotEncoder().fit_transform(covariates)
    cox = CoxPHSurvivalAnalysis(ties="efron").fit(coded, survival)
    good = np.array([curve(1825.0) for curve in cox.predict_survival_function(coded)])
    died = survival["cens"].astype(float)  # the package's name of the column: true where the end was seen
    (score,) = brier_curve(1.0 - good[None, :], np.array([1825.0]), survival["time"], died)
    assert score == pytest.approx(0.20881843, abs=5e-9)
