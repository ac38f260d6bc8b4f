"""Distinct rows by one number a row, against NumPy's own along an axis."""

import numpy as np
import pytest

from wearfit.exposures.distinct import distinct_rows


@pytest.mark.parametrize(
    ("lows", "spans", "rows"),
    [
        ((0, 0), (3, 4), 200),
        ((-7, -1, 5), (3, 2, 40), 500),
        ((0, -(2**40), 7, -3), (2**30, 2**41, 2**20, 5), 300),  # more than one number holds
        ((5,), (1,), 1),
        ((0, 0), (3, 4), 0),
    ],
)
def test_distinct_rows_are_those_of_numpy(lows: tuple[int, ...], spans: tuple[int, ...], rows: int) -> None:
    random = np.random.default_rng(5)
    columns = [low + random.integers(0, span, rows) for low, span in zip(lows, spans, strict=True)]
    columns = [np.concatenate([column, column[::3], [np.iinfo(np.int64).min] * (rows // 50)]) for column in columns]
    distinct, which = distinct_rows(*columns)
    expected, places = np.unique(np.stack(columns, axis=1), axis=0, return_inverse=True)
    np.testing.assert_array_equal(distinct, expected)
    np.testing.assert_array_equal(which, places.ravel())
    assert distinct.dtype == expected.dtype
