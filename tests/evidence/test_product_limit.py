"""The product-limit curve against scikit-survival's, with late entry."""

import numpy as np
import pytest
from sksurv.nonparametric import kaplan_meier_estimator

from wearfit.evidence.product_limit import product_limit


@pytest.mark.parametrize("late", [False, True])
def test_as_scikit_survival_has_it(late: bool) -> None:
    rng = np.random.default_rng(7)
    life = np.round(rng.weibull(2.0, 400) * 100.0 + 1.0)
    entry = np.round(rng.uniform(0.0, 60.0, 400)) * late
    stop = np.round(rng.uniform(1.0, 160.0, 400))
    seen = np.minimum(life, stop) > entry
    entry, leave, worn = entry[seen], np.minimum(life, stop)[seen], (life <= stop)[seen]
    times, survival = product_limit(entry, leave, np.ones(len(leave)), leave[worn], np.ones(int(worn.sum())))
    theirs_at, theirs = kaplan_meier_estimator(worn, leave, time_enter=entry if late else None)
    there = np.searchsorted(theirs_at, times)
    np.testing.assert_allclose(survival, theirs[there], rtol=1e-12)


def test_a_life_watched_in_two_stretches_is_one() -> None:
    entry, leave = np.array([0.0, 0.0, 30.0]), np.array([50.0, 30.0, 80.0])
    times, survival = product_limit(entry, leave, np.ones(3), np.array([50.0, 80.0]), np.ones(2))
    np.testing.assert_allclose(times, [50.0, 80.0])
    np.testing.assert_allclose(survival, [0.5, 0.0])


def test_half_a_wear_out_counts_half() -> None:
    times, survival = product_limit(np.zeros(2), np.array([50.0, 80.0]), np.ones(2), np.array([50.0]), np.array([0.5]))
    np.testing.assert_allclose((times[0], survival[0]), (50.0, 0.75))
