"""The trade's words: each stands for one column of its table, and none is both taken and only offered."""

import pytest

from wearfit.records.names import bare_name, plain_name
from wearfit.records.sheets.headers import Fit, read_heading
from wearfit.records.sheets.synonyms import COLUMN_WORDS, OFFERED, TABLE_WORDS, exact_names, trade_words
from wearfit.records.tables import TABLES


@pytest.mark.parametrize("table", TABLES)
def test_a_word_stands_for_one_column(table: str):
    meant: dict[str, set[str]] = {}
    for column, words in COLUMN_WORDS[table].items():
        for word in words:
            meant.setdefault(bare_name(word), set()).add(column)
    for name in TABLES[table].names:
        meant.setdefault(bare_name(name), set()).add(name)
    assert {word: columns for word, columns in meant.items() if len(columns) > 1} == {}


@pytest.mark.parametrize("table", TABLES)
def test_words_are_of_columns_that_are_there_and_offers_are_never_taken(table: str):
    names = set(TABLES[table].names)
    assert set(COLUMN_WORDS[table]) <= names
    assert set(OFFERED.get(table, {})) <= names
    offered = {bare_name(word) for words in OFFERED.get(table, {}).values() for word in words}
    assert offered.isdisjoint(trade_words(table))
    assert offered.isdisjoint(exact_names(table))


def test_every_table_has_words_and_none_is_the_name_of_another():
    assert set(TABLE_WORDS) == set(COLUMN_WORDS) == set(TABLES)
    assert {plain_name(word) for words in TABLE_WORDS.values() for word in words}.isdisjoint(TABLES)


@pytest.mark.parametrize(
    ("table", "header", "column"),
    [
        ("tools", "Tool No.", "tool_id"), ("tools", "Mold #", "tool_id"), ("runs", "mould id", "tool_id"),
        ("events", "TOOL NUMBER", "tool_id"),
        ("runs", "Factory", "plant_id"), ("runs", "Moulder", "plant_id"), ("runs", "Resin grade", "resin_id"),
        ("runs", "Material", "resin_id"),
        ("runs", "Start", "started_on"), ("runs", "From", "started_on"), ("runs", "till", "ended_on"), ("runs", "Strokes", "shots"),
        ("runs", "Cycles", "shots"), ("runs", "Good parts", "parts"), ("runs", "Qty.", "parts"), ("tools", "Cav.", "cavities"),
        ("counter", "Counter reading", "counter_shots"), ("climate", "Rel. humidity", "rh_pct"), ("resins", "Polymer", "family"),
        ("runs", "Polymer", "resin_id"), ("aliases", "Old no.", "old_tool_id"), ("aliases", "From", "since"), ("plan", "Cycles", "shots"),
    ],
)  # fmt: skip
def test_words_of_the_trade_are_read(table: str, header: str, column: str):
    reading = read_heading(table, header)
    assert (reading.fit, reading.column) == (Fit.WORD, column)


@pytest.mark.parametrize(
    ("table", "header"),
    [
        ("counter", "Shots"), ("events", "Shots"), ("tools", "Build date"), ("runs", "Cavities"), ("runs", "Date"), ("readings", "Nominal"),
        ("tools", "Lead time"), ("tools", "Hardness"), ("plants", "SO2"), ("plan", "Quantity"), ("events", "Type"), ("runs", "Shift"),
        ("tools", "Weight"), ("runs", "Werkzeug"), ("runs", "Cycle (s)"), ("runs", "Cycle [s]"), ("plan", "Cycle (s)"),
    ],
)  # fmt: skip
def test_words_that_may_mean_something_else_are_not_taken(table: str, header: str):
    assert read_heading(table, header).column == ""
