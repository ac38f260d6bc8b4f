"""Rows held column by column are the rows that they were made of."""

from dataclasses import replace

import pytest
from fleets import checked, fleets, read_of, region_of, rows_of, run, tool
from hypothesis import given
from hypothesis import strategies as st

from wearfit.records.identity import Row, key_of
from wearfit.records.rows import Rows, joined, rows_in_force, text_column
from wearfit.records.tables import TABLES


@checked
@given(fleets())
def test_rows_come_back_as_they_were(sheets: dict):
    rows = [replace(row, occurrence=place % 3) for place, row in enumerate(rows_of(sheets))]
    held = Rows.of(rows)
    by_table = [row for name in dict.fromkeys(row.table for row in rows) for row in rows if row.table == name]
    assert list(held) == by_table and held == by_table and held != by_table[1:]
    assert [held[place] for place in range(-len(rows), len(rows))] == by_table * 2
    assert held[1:] == by_table[1:]
    assert all(row.key == key_of(TABLES[row.table], row.values) for row in held)
    assert set(held.sources()) == {(row.table, row.source) for row in rows}


def test_a_place_past_the_end_is_an_error():
    with pytest.raises(IndexError):
        Rows.of(rows_of({"tools": [tool()]}))[1]


@checked
@given(fleets(), st.randoms(use_true_random=False))
def test_some_of_the_rows_in_another_order(sheets: dict, random):
    for table in Rows.of(rows_of(sheets)).tables:
        places = random.sample(range(len(table)), len(table) // 2)
        assert list(table.take(places)) == [list(table)[place] for place in places]


@checked
@given(fleets())
def test_codes_of_keys_are_equal_where_the_keys_are(sheets: dict):
    for table in Rows.of(rows_of(sheets)).tables:
        keys, codes = [row.key for row in table], table.key_codes()
        assert len(set(zip(keys, codes, strict=True))) == len(set(keys)) == len(set(codes))
        assert table.shared_keys() == [place for place, key in enumerate(keys) if keys.count(key) > 1]


def test_blank_places_and_outdoor_ones_have_one_key():
    air = {"plant_id": "Heath", "month": "2020-02", "temp_c": "5", "rh_pct": "80"}
    (table,) = Rows.of(read_of(region_of("climate", [air, {**air, "place": "outdoor"}, {**air, "place": "hall"}])).rows).tables
    first, second, hall = table.key_codes()
    assert first == second != hall


def test_sheets_of_one_table_are_joined_one_after_the_other():
    north = [run("2024-01-01", "2024-01-02", Rack="7")]
    south = [run("2024-01-01", "2024-01-02", tool_id="T2"), run("2024-02-01", "2024-02-02")]
    parts = [read_of(region_of("runs", rows, source)).rows for rows, source in ((north, "north.csv"), (south, "south.csv"))]
    both = joined([table for part in parts for table in part.tables])
    assert list(both) == [*parts[0], *parts[1]]
    assert [row.values.get("Rack") for row in both] == ["7", None, None]


def test_texts_that_come_twice_are_held_once():
    column = text_column(["a", "b", "a"], [2, 1, 0, 2])
    assert list(column.distinct) == ["a", "b"] and list(column.by_row()) == ["a", "b", "a", "a"]
    assert column.counts() == {"a": 3, "b": 1} and column.take([0, 2]).counts() == {"a": 2}


@pytest.mark.parametrize("count", [256, 257, 65_536, 65_537])
def test_many_texts_have_codes_wide_enough_and_no_wider(count: int):
    texts = [f"T{number}" for number in range(count)]
    column = text_column(texts, range(count))
    assert list(column.by_row()) == texts
    widths = {width: 2 ** (8 * width) for width in (1, 2, 4)}
    assert column.codes.itemsize == min(width for width, most in widths.items() if count <= most)


def test_rows_in_force_are_numbered_where_a_key_comes_again():
    runs = [run("2024-01-01", "2024-01-02", shots) for shots in ("10", "20", "10")]
    stored = [replace(row, occurrence=place) for place, row in enumerate(rows_of({"runs": runs}))]
    kept = rows_in_force(stored)
    assert [(row.occurrence, row.values["shots"], row.row) for row in kept] == [(0, "10", 2), (1, "20", 3)]


def test_rows_of_a_table_unlike_others_in_their_columns():
    rows = [Row("tools", '["A"]', 0, {"tool_id": "A", "Rack": "1"}, 2, "a"), Row("tools", '["B"]', 0, {"tool_id": "B"}, 3, "b")]
    assert list(Rows.of(rows)) == rows
