"""Frames: typed, in an order that does not hang on the file's, and back to the same text."""

import numpy as np
import pandas as pd
import pytest
from fleets import checked, fleets, read_of, region_of, rows_of, run
from hypothesis import given
from hypothesis import strategies as st

from wearfit.records.frames import BELOW, ROW, SOURCE, canonical_order, row_texts, to_frames
from wearfit.records.tables import TABLES


def _sorted(name: str, frame: pd.DataFrame) -> pd.DataFrame:
    """The order as its definition says it, by the library's own sort."""
    table = TABLES[name]
    by = [*table.key, *(column for column in table.names if column not in table.key), ROW, SOURCE]
    return frame.sort_values(by, ignore_index=True)


@checked
@given(fleets(), st.integers(0, 9))
def test_order_is_that_of_the_key_then_of_the_other_columns(sheets: dict, seed: int):
    for name, frame in to_frames(rows_of(sheets)).items():
        shuffled = frame.sample(frac=1, random_state=seed)
        pd.testing.assert_frame_equal(canonical_order(TABLES[name], shuffled), frame)
        if len(frame):
            pd.testing.assert_frame_equal(_sorted(name, shuffled), frame)


@checked
@given(fleets())
def test_text_of_frames_is_that_of_the_rows(sheets: dict):
    rows = rows_of(sheets)
    for name, frame in to_frames(rows).items():
        names = TABLES[name].names
        told = sorted(tuple(row.values.get(column, "") for column in names) for row in rows if row.table == name)
        assert sorted(row_texts(TABLES[name], frame)) == told


def test_columns_have_their_kinds_and_rows_their_places():
    frames = to_frames(
        read_of(
            region_of("runs", [run("2024-01-01", "2024-01-02")], "a.csv"), region_of("runs", [run("2023-01-01", "2023-01-02", "")], "b.csv")
        ).rows
    )
    runs = frames["runs"]
    assert runs[[SOURCE, ROW]].to_numpy().tolist() == [["a.csv", 2]]
    assert runs["started_on"].dtype == "datetime64[s]" and runs["shots"].dtype == np.float64 and runs["tool_id"].dtype == object
    assert np.isnan(runs.loc[0, "parts"]) and pd.isna(frames["tools"]["commissioned_on"]).all()
    assert set(frames) == set(TABLES)
    for name, frame in frames.items():
        assert list(frame.columns) == [
            *(c for column in TABLES[name].names for c in ((BELOW, column) if column == "value" else (column,))),
            ROW,
            SOURCE,
        ]


@pytest.mark.parametrize("values", [("<0.02", "0.02", "0.1")])
def test_readings_below_the_gauge(values: tuple[str, ...]):
    rows = [{"tool_id": "T", "date": "2024-01-01", "feature": f"f{i}", "value": value, "limit": "1"} for i, value in enumerate(values)]
    frame = to_frames(read_of(region_of("readings", rows)).rows)["readings"]
    assert frame["value"].tolist() == [0.02, 0.02, 0.1] and frame[BELOW].tolist() == [True, False, False]
