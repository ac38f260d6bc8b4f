"""Record tables as typed frames, and back to canonical text."""

from collections.abc import Callable, Container, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, Literal

import numpy as np
import pandas as pd

from wearfit.records.cells import number_text
from wearfit.records.columns import Column, Table
from wearfit.records.identity import Row
from wearfit.records.rows import Rows, TableRows, no_rows
from wearfit.records.same_again import same_again
from wearfit.records.tables import TABLES

Frames = Mapping[str, pd.DataFrame]

ROW: Final = "row"  # row of the file, beside the columns of the table
SOURCE: Final = "source"  # the file or sheet that the row stands in, "" where there is none to name
BELOW: Final = "value_below"  # whether a reading was only found to lie below its value

_DATED: Final[dict[str, Literal["D", "M", "s"]]] = {"date": "D", "month": "M", "timestamp": "s"}
_WORDED: Final = ("text", "choice")


def to_frames(rows: Iterable[Row]) -> dict[str, pd.DataFrame]:
    """Type the rows, table by table.

    Parameters
    ----------
    rows : iterable of Row

    Returns
    -------
    dict of str to DataFrame
        Every table of TABLES with every one of its columns, in canonical order: text and words as str, "" for a blank
        cell; dates, months and timestamps as datetime64[s], NaT for a blank; numbers, counts and flags as float64, NaN for
        a blank. Besides, `row` and `source`, and in readings `value_below`.
    """
    of_table = {some.table: some for some in Rows.of(rows).tables}
    return {name: _typed(name, of_table[name]) if of_table.get(name) else _empty(name) for name in TABLES}


def _empty(name: str) -> pd.DataFrame:
    """A table without rows, the caller's own."""
    return _typed_empty(name).copy(deep=False)


@cache
def _typed_empty(name: str) -> pd.DataFrame:
    return _typed(name, no_rows(name))


@dataclass(frozen=True)
class _Coded:
    """A column as its distinct cells, typed, and which of them stands in each row: a history says the same over and over."""

    distinct: np.ndarray
    codes: np.ndarray

    def in_order(self, order: np.ndarray) -> "np.ndarray | pd.Series":
        cells = self.distinct[self.codes[order]]
        # An array of objects would become pandas' own text, with NaN for blank.
        return pd.Series(cells, dtype=object) if cells.dtype == object else cells


@same_again
def _typed(name: str, rows: TableRows) -> pd.DataFrame:
    table = TABLES[name]
    columns: dict[str, _Coded] = {}
    for column in table.columns:
        cells = rows.column(column.name)
        codes, texts = np.asarray(cells.codes), cells.distinct
        if column.kind == "value":
            columns[BELOW] = _Coded(np.array([text.startswith("<") for text in texts], dtype=bool), codes)
            texts = [text.removeprefix("<") for text in texts]
        columns[column.name] = _Coded(_array(column, texts), codes)
    columns[ROW] = _Coded(np.array(rows.numbers, dtype=np.int64), np.arange(len(rows), dtype=np.int32))
    columns[SOURCE] = _Coded(_objects(rows.sources.distinct), np.asarray(rows.sources.codes))
    # Put in order before the frame is made, which spares a copy of a large one.
    order = _order(table, len(rows), lambda key: _ranks(columns[key].distinct)[columns[key].codes], columns)
    frame = pd.DataFrame({header: column.in_order(order) for header, column in columns.items()}, copy=False)
    # Names as plain objects: pandas' own text takes a sixth of the time of all rules, which look columns up thousands of times.
    frame.columns = pd.Index(list(columns), dtype=object)
    return frame


def _array(column: Column, texts: Sequence[str]) -> np.ndarray:
    if column.kind in _DATED:
        return np.array([text or "NaT" for text in texts], dtype="datetime64[s]")
    if column.kind in _WORDED:
        return _objects(texts)
    return np.array([float(text) if text else np.nan for text in texts], dtype=np.float64)


def _objects(texts: Sequence[str]) -> np.ndarray:
    words = np.empty(len(texts), dtype=object)
    words[:] = texts
    return words


def canonical_order(table: Table, frame: pd.DataFrame) -> pd.DataFrame:
    """Rows sorted by the key, then by the other columns, so that the order of the file plays no part."""
    order = _order(table, len(frame), lambda name: _ranks_of_cells(frame[name]), frame)
    in_order = np.array_equal(order, np.arange(len(frame)))  # often, and a large table need not be copied
    return numbered(frame if in_order else frame.take(order))


def numbered(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame with its rows counted from 0; itself where they are."""
    index = frame.index
    counted = isinstance(index, pd.RangeIndex) and index.start == 0 and index.step == 1 and index.name is None
    return frame if counted else frame.reset_index(drop=True)


def _order(table: Table, count: int, ranks_of: Callable[[str], np.ndarray], names: Container[str]) -> np.ndarray:
    """Places of the rows in canonical order, from the ranks of the cells of each column."""
    if count < 2:
        return np.arange(count)
    ranks = [ranks_of(name) for name in table.key]
    order = np.lexsort(ranks[::-1])
    tied = np.ones(count - 1, dtype=bool)
    for rank in ranks:
        tied &= rank[order][1:] == rank[order][:-1]
    if not tied.any():  # nearly always, and the other columns need not be ranked
        return order
    others = [*(name for name in table.names if name not in table.key), ROW, SOURCE]
    ranks += [ranks_of(name) for name in others if name in names]
    return np.lexsort(ranks[::-1])


def _ranks(cells: np.ndarray) -> np.ndarray:
    """Numbers in the order of the cells, equal where the cells are; blank days and numbers last."""
    if cells.dtype != object:
        return np.where(np.isnat(cells), np.iinfo(np.int64).max, cells.astype(np.int64)) if cells.dtype.kind == "M" else cells
    place = np.empty(len(cells), dtype=np.intp)
    place[sorted(range(len(cells)), key=cells.__getitem__)] = np.arange(len(cells))
    return place


def _ranks_of_cells(cells: pd.Series) -> np.ndarray:
    if cells.dtype.kind in "biufM":
        return _ranks(cells.to_numpy())
    codes, distinct = pd.factorize(cells.to_numpy(dtype=object))
    return _ranks(distinct)[codes]


def cells_by_row(frame: pd.DataFrame) -> Iterator[dict[Hashable, Any]]:
    """The rows one by one, each column with its cell; as `DataFrame.to_dict` gives them, in a tenth of its time for a few rows."""
    names = list(frame)
    return (dict(zip(names, cells, strict=True)) for cells in zip(*(frame[name].tolist() for name in names), strict=True))


def cell_texts(column: Column, frame: pd.DataFrame) -> list[str]:
    """Canonical text of each cell of a column, "" for a blank one; the inverse of `to_frames`."""
    cells = frame[column.name].to_numpy()
    if column.kind in _WORDED:
        return list(map(str, cells.tolist()))
    places, distinct = pd.factorize(cells, use_na_sentinel=False)
    if column.kind in _DATED:
        days = np.datetime_as_string(distinct.astype("datetime64[s]"), unit=_DATED[column.kind])
        words = ["" if day == "NaT" else str(day) for day in days]
    else:
        words = ["" if np.isnan(cell) else number_text(cell) for cell in distinct.tolist()]
    texts = [words[place] for place in places.tolist()]
    if column.kind == "value":
        return ["<" + text if below else text for text, below in zip(texts, frame[BELOW], strict=True)]
    return texts


def row_texts(table: Table, frame: pd.DataFrame) -> list[tuple[str, ...]]:
    """Canonical text of each row, cells in the order of the table's columns."""
    return list(zip(*(cell_texts(column, frame) for column in table.columns), strict=True))
