"""The largest run at a risk, against closed forms and against looking at every number of shots."""

import numpy as np
import pytest

from wearfit.forecasts.largest_run import BEYOND, largest_within

RISK = 0.1


@pytest.mark.parametrize("begin", [1.0, 3e4, 1e9, np.nan, -5.0])
def test_it_is_where_the_chance_reaches_the_risk_wherever_the_search_begins(begin: float):
    rng = np.random.default_rng(2)
    scale, shape = rng.lognormal(11.0, 3.0, 300), rng.uniform(0.4, 6.0, 300)
    for smooth in (False, True):
        largest = largest_within(
            lambda runs, shots: -np.expm1(-((shots / scale[runs]) ** shape[runs])), np.full(300, RISK), np.full(300, begin), smooth=smooth
        )
        reached = scale * (-np.log1p(-RISK)) ** (1.0 / shape)
        np.testing.assert_array_equal(largest, np.minimum(np.floor(reached), BEYOND - 1))


def test_it_is_found_on_chances_of_any_form_as_by_looking_at_each():
    """Steps, flat stretches and kinks, where a line through two points leads astray."""
    rng = np.random.default_rng(3)
    most = 400
    rises = rng.exponential(1.0, (60, most)) * (rng.random((60, most)) < rng.uniform(0.01, 1.0, (60, 1)))
    chances = np.cumsum(rises, axis=1) * rng.uniform(1e-3, 0.2, (60, 1))

    def chance(runs: np.ndarray, shots: np.ndarray) -> np.ndarray:
        return np.where(shots > most, 1.0, chances[runs, np.minimum(shots, most) - 1])

    largest = largest_within(chance, np.full(60, RISK), np.full(60, 100.0))
    np.testing.assert_array_equal(largest, (chances <= RISK).sum(axis=1))


@pytest.mark.parametrize(("smooth", "most"), [(False, 5), (True, 3.2)])
def test_a_search_asks_little_where_it_begins_near(smooth: bool, most: float):
    asked = 0

    def chance(runs: np.ndarray, shots: np.ndarray) -> np.ndarray:
        nonlocal asked
        asked += len(runs)
        return -np.expm1(-((shots / 1e6) ** 2.5))

    largest = largest_within(chance, np.full(50, RISK), np.linspace(0.9, 1.1, 50) * 1e6 * (-np.log1p(-RISK)) ** 0.4, 2.4, smooth)
    assert (largest == int(1e6 * (-np.log1p(-RISK)) ** 0.4)).all()
    assert asked <= most * 50


def test_one_shot_may_be_too_much_and_no_number_too_many():
    largest = largest_within(lambda runs, shots: np.where(runs == 0, 0.5, 0.0), np.full(2, RISK), np.full(2, 10.0))
    assert largest.tolist() == [0, BEYOND - 1]
