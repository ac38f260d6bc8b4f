"""Weighted quantiles against NumPy's and against their definition, and the days that answers name."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from random_examples import examples

from wearfit.forecasts.quantiles import (
    NAMES,
    PROBABILITIES,
    as_dates,
    as_numbers,
    date_ahead,
    dates_of_each,
    finite,
    last_within,
    numbers_of_each,
    weighted_mean,
    weighted_quantiles,
)

MONDAY = dt.date(2026, 6, 1)


@pytest.mark.parametrize("equal", [True, False])
def test_quantiles_are_those_of_numpy_by_the_inverted_distribution_function(equal: bool):
    rng = np.random.default_rng(1)
    values = rng.standard_normal((997, 3))
    weights = np.ones_like(values) if equal else rng.standard_exponential(values.shape)
    ours = weighted_quantiles(values, weights)
    for column in range(3):
        theirs = np.quantile(values[:, column], PROBABILITIES, method="inverted_cdf", weights=weights[:, column])
        np.testing.assert_array_equal(ours[:, column], theirs)


def test_equal_weights_of_any_size_are_no_weights():
    values = np.random.default_rng(2).standard_normal((200, 2))
    uneven = np.full_like(values, 3.0)
    uneven[:, 1] = 0.2
    np.testing.assert_array_equal(weighted_quantiles(values, uneven), weighted_quantiles(values, np.ones_like(values)))


def test_a_draw_without_weight_is_not_there():
    values = np.array([[1.0], [2.0], [3.0], [1e9]])
    weights = np.array([[1.0], [1.0], [1.0], [0.0]])
    assert weighted_quantiles(values, weights, (0.5, 1.0)).ravel().tolist() == [2.0, 3.0]


def test_draws_that_never_get_there_leave_the_early_quantiles_finite():
    values = np.array([[np.inf], [4.0], [np.inf], [np.inf]])
    early, late = weighted_quantiles(values, np.ones_like(values), (0.25, 0.5)).ravel()
    assert (early, late) == (4.0, np.inf)


@examples(200)
@given(
    values=arrays(float, st.integers(1, 30), elements=st.integers(-5, 5).map(float)),
    share=st.sampled_from([0.05, 0.1, 0.2, 0.25, 0.5, 0.9]),
    seed=st.none() | st.integers(0, 10**6),
)
def test_last_within_is_the_last_moment_at_which_the_share_below_is_accepted(values: np.ndarray, share: float, seed: int | None):
    weights = np.ones_like(values) if seed is None else np.random.default_rng(seed).uniform(0.1, 1.0, len(values))

    def below(t: float) -> float:
        return float(weights[values < t].sum() / weights.sum())

    last = float(last_within(values[:, None], weights[:, None], share)[0])
    assert below(last) <= share + 1e-9
    # Values are whole numbers: half a unit later another value lies below, or all do already.
    assert below(last + 0.5) > share - 1e-9 or last == values.max()
    if seed is None:
        assert below(last + 0.5) > share + 1e-9


def test_a_share_that_is_reached_exactly_is_accepted():
    margin = np.array([[-1.0], *[[float(i)] for i in range(1, 10)]])
    assert last_within(margin, np.ones_like(margin), 0.1)[0] == 1.0
    assert last_within(margin, np.ones_like(margin), 0.0999)[0] == -1.0


def test_mean_does_not_depend_on_the_columns_beside_it():
    rng = np.random.default_rng(3)
    values, weights = rng.standard_normal((1999, 5)), rng.standard_exponential((1999, 5))
    together = weighted_mean(values, weights)
    alone = [weighted_mean(values[:, [i]], weights[:, [i]])[0] for i in range(5)]
    assert together.tolist() == alone
    np.testing.assert_allclose(together, np.average(values, axis=0, weights=weights), rtol=1e-12)


@pytest.mark.parametrize(
    ("days", "day"),
    [
        (0.0, "2026-06-01"),  # worn already
        (0.2, "2026-06-02"),
        (1.0, "2026-06-02"),
        (1.0 + 1e-9, "2026-06-02"),  # rounding, not a day
        (1.01, "2026-06-03"),
        (30.0, "2026-07-01"),
        (30.5, None),
        (np.inf, None),
        (np.nan, None),
    ],
)
def test_a_moment_is_named_by_the_day_in_which_it_falls(days: float, day: str | None):
    assert date_ahead(days, MONDAY, 30.0) == day


def test_names_go_with_their_probabilities():
    assert [float(f"0.{name[1:]}") for name in NAMES] == list(PROBABILITIES)
    assert as_numbers(np.arange(7.0)) == dict(zip(NAMES, range(7), strict=True))
    assert as_dates(np.array([0, 1, 2, 3, 4, 99, np.inf]), MONDAY, 5.0) == dict(
        zip(NAMES, ["2026-06-01", "2026-06-02", "2026-06-03", "2026-06-04", "2026-06-05", None, None], strict=True)
    )


@pytest.mark.parametrize("value", [np.inf, -np.inf, np.nan])
def test_what_json_cannot_hold_is_null(value: float):
    assert finite(value) is None
    assert finite(np.float64(2.5)) == 2.5


def test_each_column_is_written_as_it_is_alone():
    columns = np.array([np.arange(7.0), [-0.2, 0.0, 1e-9, 3.7, 5.0, 5.1, np.inf], np.full(7, np.nan), [np.nan, *range(6)]]).T
    assert numbers_of_each(columns) == [as_numbers(column) for column in columns.T]
    assert dates_of_each(columns, MONDAY, 5.0) == [as_dates(column, MONDAY, 5.0) for column in columns.T]
