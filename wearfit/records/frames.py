"""Record tables as typed frames, and back to canonical text."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final, Literal

import numpy as np
import pandas as pd

from wearfit.records.cells import number_text
from wearfit.records.identity import Row
from wearfit.records.tables import TABLES, Column, Table

Frames = Mapping[str, pd.DataFrame]

ROW: Final = "row"  # row of the file, beside the columns of the table
BELOW: Final = "value_below"  # whether a reading was only found to lie below its value

_DATED: Final[dict[str, Literal["D", "M", "s"]]] = {"date": "D", "month": "M", "timestamp": "s"}


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
        a blank. Besides, `row`, and in readings `value_below`.
    """
    of_table: dict[str, list[Row]] = {name: [] for name in TABLES}
    for row in rows:
        of_table[row.table].append(row)
    return {name: canonical_order(TABLES[name], _typed(TABLES[name], some)) for name, some in of_table.items()}


def _typed(table: Table, rows: Sequence[Row]) -> pd.DataFrame:
    columns: dict[str, Any] = {}
    for column in table.columns:
        texts = [row.values.get(column.name, "") for row in rows]
        if column.kind == "value":
            columns[BELOW] = np.array([text.startswith("<") for text in texts], dtype=bool)
            texts = [text.removeprefix("<") for text in texts]
        columns[column.name] = _array(column, texts)
    columns[ROW] = np.array([row.row for row in rows], dtype=np.int64)
    return pd.DataFrame(columns)


def _array(column: Column, texts: list[str]) -> "np.ndarray | pd.Series":
    if column.kind in _DATED:
        return np.array([text or "NaT" for text in texts], dtype="datetime64[s]")
    if column.kind in ("text", "choice"):
        return pd.Series(texts, dtype=object)  # an array of objects would become pandas' own text, with NaN for blank
    return np.array([float(text) if text else np.nan for text in texts], dtype=np.float64)


def canonical_order(table: Table, frame: pd.DataFrame) -> pd.DataFrame:
    """Rows sorted by the key, then by the other columns, so that the order of the file plays no part."""
    if len(frame) < 2:
        return frame.reset_index(drop=True)
    by = [*table.key, *(name for name in table.names if name not in table.key), ROW]
    return frame.sort_values(by, ignore_index=True)


def cell_texts(column: Column, frame: pd.DataFrame) -> list[str]:
    """Canonical text of each cell of a column, "" for a blank one; the inverse of `to_frames`."""
    cells = frame[column.name].to_numpy()
    if column.kind in _DATED:
        days = np.datetime_as_string(cells.astype("datetime64[s]"), unit=_DATED[column.kind])
        return ["" if day == "NaT" else str(day) for day in days]
    if column.kind in ("text", "choice"):
        return [str(cell) for cell in cells]
    texts = ["" if np.isnan(cell) else number_text(cell) for cell in cells.tolist()]
    if column.kind == "value":
        return ["<" + text if below else text for text, below in zip(texts, frame[BELOW], strict=True)]
    return texts


def row_texts(table: Table, frame: pd.DataFrame) -> list[tuple[str, ...]]:
    """Canonical text of each row, cells in the order of the table's columns."""
    return list(zip(*(cell_texts(column, frame) for column in table.columns), strict=True))
