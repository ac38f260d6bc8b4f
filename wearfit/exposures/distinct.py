"""Distinct rows of whole numbers side by side."""

import numpy as np

Array = np.ndarray

_ROOM = 2**62  # of one number that stands for a row
_WIDE = 2**31  # a column that spans more, as where one number stands for none, is counted through


def distinct_rows(*columns: Array) -> tuple[Array, Array]:
    """Distinct rows in order, and which of them each row is, as `np.unique` along an axis gives them.

    Parameters
    ----------
    columns : int arrays, shape (row,)

    Returns
    -------
    int array, shape (distinct, column)
    int array, shape (row,)

    Notes
    -----
    Each row is put into one number, which is sorted ten times as fast as the row.
    """
    joint, size = np.zeros(len(columns[0]), dtype=np.int64), 1
    for column in columns:
        place, span = _places(column)
        if size * span > _ROOM:
            distinct, joint = np.unique(joint, return_inverse=True)
            size = len(distinct)
        joint, size = joint * span + place, size * span
    _, first, which = np.unique(joint, return_index=True, return_inverse=True)
    return np.stack([column[first] for column in columns], axis=1), which


def _places(column: Array) -> tuple[Array, int]:
    """Numbers from 0 in the order of a column's, shape (row,), and how many there may be."""
    low, high = (int(column.min()), int(column.max())) if len(column) else (0, 0)
    if high - low < _WIDE:
        return column - low, high - low + 1
    distinct, place = np.unique(column, return_inverse=True)
    return place, len(distinct)
