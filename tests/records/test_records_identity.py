"""Identity: the same grown file can come again and again."""

import json
import re
from collections.abc import Mapping, Sequence

import pytest
from fleets import checked, event, fleets, rows_of, run, sheet_of, tool
from hypothesis import assume, given
from hypothesis import strategies as st

from wearfit.records.identity import Change, Row, key_of, plan_changes
from wearfit.records.rows import rows_in_force
from wearfit.records.tables import TABLES

TWO_WAYS = re.compile(r"\d{1,3}\.\d{3}")

Stored = dict[tuple[str, str], list[Mapping[str, str]]]


def _applied(stored: Stored, changes: Sequence[Change]) -> Stored:
    """What a store holds after the changes: the version in force of each row."""
    after = {place: list(values) for place, values in stored.items()}
    for change in changes:
        held = after.setdefault((change.row.table, change.row.key), [])
        if change.kind == "new":
            assert change.row.occurrence == len(held)
            held.append(change.row.values)
        elif change.kind == "changed":
            assert held[change.row.occurrence] != change.row.values
            held[change.row.occurrence] = change.row.values
        else:
            assert change.kind == "repeated" or held[change.row.occurrence] == change.row.values
    return after


def _kinds(changes: Sequence[Change]) -> list[str]:
    return [change.kind for change in changes]


@pytest.mark.parametrize(
    ("name", "cells", "key"),
    [
        ("runs", run("2020-01-10", "2020-01-19"), ["T1", "Heath", "R1", "2020-01-10"]),
        ("events", event("2020-02-01", "Take out"), ["T1", "2020-02-01", "take_out"]),
        (
            "readings",
            {"tool_id": "T1", "date": "2020-02-01", "feature": "gate", "value": "<0.1", "limit": "1"},
            ["T1", "2020-02-01", "gate"],
        ),
        ("counter", {"tool_id": "T1", "date": "2020-02-01", "counter_shots": "7"}, ["T1", "2020-02-01"]),
        ("tools", tool(), ["T1"]),
        ("climate", {"plant_id": "Heath", "month": "2020-02", "temp_c": "5", "rh_pct": "80"}, ["Heath", "2020-02", "", "outdoor"]),
        ("plan", {"month": "2020-02", "design_id": "D", "shots": "9"}, ["2020-02", "", "D", ""]),
        ("bill", {"product_id": "P", "design_id": "D", "parts_per_unit": "2"}, ["P", "D"]),
        ("aliases", {"old_tool_id": "A", "tool_id": "B"}, ["A"]),
    ],
)
def test_keys_are_the_promised_columns(name: str, cells: Mapping[str, str], key: list[str]):
    (row,) = sheet_of(name, [cells]).rows
    assert json.loads(row.key) == key
    assert row.key == key_of(TABLES[name], row.values)


def test_a_blank_place_and_outdoor_are_the_same_row():
    month = {"plant_id": "Heath", "month": "2020-02", "temp_c": "5", "rh_pct": "80"}
    one, other, hall = (sheet_of("climate", [{**month, "place": place}]).rows[0].key for place in ("", "Outdoor", "hall"))
    assert one == other != hall


@checked
@given(fleets())
def test_the_same_file_twice_changes_nothing(sheets: dict):
    rows = rows_of(sheets)
    stored = _applied({}, plan_changes({}, rows))
    again = plan_changes(stored, rows)
    assert set(_kinds(again)) <= {"unchanged", "repeated"}
    assert _applied(stored, again) == stored


@checked
@given(fleets(), fleets())
def test_a_grown_file_adds_only_what_grew(sheets: dict, more: dict):
    # Whether 1.125 is one thing or a thousand hangs on the other numbers of its column, so a grown column may say what it is.
    assume(not any(TWO_WAYS.fullmatch(cell) for each in (sheets, more) for run in each["runs"] for cell in run.values()))
    grown = {name: [*rows, *(more[name] if name in ("runs", "events") else [])] for name, rows in sheets.items()}
    stored = _applied({}, plan_changes({}, rows_of(sheets)))
    changes = plan_changes(stored, rows_of(grown))
    after = _applied(stored, changes)
    assert after.keys() >= stored.keys()
    for place, values in stored.items():
        if place not in {(row.table, row.key) for row in rows_of(more)}:
            assert after[place] == values
    assert set(_kinds(plan_changes(after, rows_of(grown)))) <= {"unchanged", "repeated"}


@checked
@given(fleets(), st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(sheets: dict, shuffle):
    rows = rows_of(sheets)
    shuffled = list(rows)
    shuffle.shuffle(shuffled)

    def as_sets(rows: Sequence[Row]) -> set:
        return {(row.table, row.key, json.dumps(row.values, sort_keys=True)) for row in rows}

    assert as_sets(rows_in_force(rows)) == as_sets(rows_in_force(shuffled))


def test_a_repeated_run_with_other_values_counts_beside_the_first():
    rows = rows_of({"runs": [run("2020-01-10", "2020-01-19", shots) for shots in ("1000", "2000", "1000.0")]})
    changes = plan_changes({}, rows)
    assert _kinds(changes) == ["new", "new", "repeated"]
    assert [change.row.occurrence for change in changes] == [0, 1, 0]
    assert len(rows_in_force(rows)) == 2


def test_a_corrected_repeat_takes_the_place_of_the_one_it_is_closest_to():
    first = [run("2020-01-10", "2020-01-19", "1000", setups="1"), run("2020-01-10", "2020-01-25", "5000", setups="2")]
    stored = _applied({}, plan_changes({}, rows_of({"runs": first})))
    corrected = rows_of({"runs": [run("2020-01-10", "2020-01-25", "5100", setups="2")]})
    (change,) = plan_changes(stored, corrected)
    assert (change.kind, change.row.occurrence) == ("changed", 1)


def test_a_tool_given_twice_takes_the_later_row_and_keeps_the_earlier_as_a_version():
    rows = rows_of({"tools": [tool(cavities="2"), tool(cavities="4")]})
    changes = plan_changes({}, rows)
    assert _kinds(changes) == ["new", "changed"]
    assert [row.values["cavities"] for row in rows_in_force(rows)] == ["4"]
    stored = _applied({}, changes)
    assert _kinds(plan_changes(stored, rows)) == ["repeated", "unchanged"]


def test_new_values_are_a_new_version():
    stored = _applied({}, plan_changes({}, rows_of({"tools": [tool(cavities="2")]})))
    assert _kinds(plan_changes(stored, rows_of({"tools": [tool(cavities="4")]}))) == ["changed"]
    assert _kinds(plan_changes(stored, rows_of({"tools": [tool()]}))) == ["changed"]


@checked
@given(st.lists(st.sampled_from("AB"), max_size=4), st.lists(st.sampled_from("ABC"), min_size=1, max_size=5))
@pytest.mark.parametrize("name", ["tools", "readings"])
def test_any_history_of_one_key_settles(name: str, before: list[str], incoming: list[str]):
    def row(value: str, number: int) -> Row:
        return Row(name, '["x"]', 0, {"value": value}, number)

    held = list(dict.fromkeys(before)) if TABLES[name].repeats else before[:1]
    stored: Stored = {(name, '["x"]'): [{"value": value} for value in held]} if held else {}
    rows = [row(value, number) for number, value in enumerate(incoming, 2)]
    after = _applied(stored, plan_changes(stored, rows))
    values = [entry["value"] for entry in after[name, '["x"]']]
    if TABLES[name].repeats:
        assert set(incoming) <= set(values)
        assert len(values) == max(len(held), len(set(incoming)))
    else:
        assert values == incoming[-1:]
    assert set(_kinds(plan_changes(after, rows))) <= {"unchanged", "repeated"}
