"""Putting the tables together: typed frames in an order of their own, and a fingerprint of what is used."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from fleets import checked, event, fleet, fleets, records_of, rows_of, run, sheet_of, tool
from hypothesis import given
from hypothesis import strategies as st

from wearfit.errors import Refusal
from wearfit.records.assemble import assemble
from wearfit.records.choices import Choices, CountChoice
from wearfit.records.tables import TABLES


@pytest.mark.parametrize("missing", ["tools", "runs", "events"])
def test_a_missing_required_table_is_refused_in_a_sentence(missing: str):
    sheets = {name: rows for name, rows in fleet().items() if name != missing}
    with pytest.raises(Refusal, match=missing) as refused:
        assemble(rows_of(sheets))
    assert refused.value.status == 1 and refused.value.problem.endswith(".") and refused.value.repair.endswith(".")


def test_an_empty_events_table_says_that_nothing_happened():
    records = assemble(rows_of(fleet(events=[])), empty_tables=["events"])
    assert len(records.tables["events"]) == 0
    assert records.latest_day == dt.date(2020, 1, 19)


def test_a_counter_stands_in_for_the_runs():
    counter = [{"tool_id": "T1", "date": f"2020-0{m}-01", "counter_shots": f"{m}000"} for m in (2, 3)]
    records = records_of(fleet(tools=[tool(plant_id="Heath")], counter=counter))
    given = {name: rows for name, rows in fleet(tools=[tool(plant_id="Heath")], counter=counter).items() if name != "runs"}
    alone = assemble(rows_of(given))
    assert alone.tables["runs"]["shots"].tolist() == [1000.0]
    assert len(records.tables["runs"]) == 1  # what the runs say where there are both


def test_findings_come_by_table_source_and_row():
    sheets = fleet(runs=[run("2020-01-10", "2020-01-09"), run("2020-03-10", "2020-03-09")], tools=[tool(service_class="")])
    rows = rows_of(sheets)
    again = [
        replace(row, source="a.csv", key=row.key + "2", values={**row.values, "resin_id": "R2"}) for row in rows if row.table == "runs"
    ]
    places = [(f.table, f.source, f.row or 0) for f in assemble([*rows, *again]).findings]
    tables = list(TABLES)
    assert places == sorted(places, key=lambda place: (tables.index(place[0]), *place[1:]))
    assert {("runs", "a.csv", 2), ("runs", "runs.csv", 3), ("tools", "tools.csv", 2)} <= set(places)


def test_the_users_choice_of_what_is_counted_reaches_its_rule():
    sheets = fleet(tools=[tool(cavities="4")])
    read = assemble(rows_of(sheets), (), Choices(counts=(CountChoice("T1", "parts"),)))
    assert records_of(sheets).tables["runs"]["shots"].tolist() == [1000.0]
    assert read.tables["runs"]["shots"].tolist() == [pytest.approx(1000 / 0.97 / 4)]
    assert read.fingerprint != records_of(sheets).fingerprint


def test_frames_have_every_table_and_column_typed():
    readings = [{"tool_id": "T1", "date": "2020-02-01", "feature": "gate", "value": "<0.02", "limit": "0.2"}]
    records = records_of(fleet(readings=readings, climate=[], plan=[]))
    kinds = {"text": object, "choice": object, "date": "datetime64[s]", "month": "datetime64[s]", "timestamp": "datetime64[s]"}
    assert set(records.tables) == set(TABLES)
    for name, table in TABLES.items():
        frame = records.tables[name]
        assert list(frame.index) == list(range(len(frame)))
        assert frame["row"].dtype == np.int64
        for column in table.columns:
            assert frame[column.name].dtype == kinds.get(column.kind, np.float64), (name, column.name)
    tools, reading = records.tables["tools"], records.tables["readings"].iloc[0]
    assert tools.loc[0, "design_id"] == "" and np.isnan(tools.loc[0, "cavities"]) and pd.isna(tools.loc[0, "history_from"])
    assert reading["value"] == 0.02 and bool(reading["value_below"])


def test_rows_come_in_the_order_of_their_keys():
    runs = [run("2020-03-01", "2020-03-02"), run("2020-01-05", "2020-01-06", plant_id="Salt Quay"), run("2020-02-01", "2020-02-02")]
    frame = records_of(fleet(runs=runs)).tables["runs"]
    assert frame["row"].tolist() == [4, 2, 3]


@checked
@given(fleets(), st.randoms(use_true_random=False))
def test_the_order_of_rows_and_tables_does_not_matter(sheets: dict, shuffle):
    empty = [name for name, rows in sheets.items() if not rows]
    rows = rows_of(sheets)
    shuffled = list(rows)
    shuffle.shuffle(shuffled)
    if not {row.table for row in rows} >= {"runs", "events"} - set(empty):
        return
    one, other = assemble(rows, empty), assemble(shuffled, empty)
    assert one.fingerprint == other.fingerprint
    # Of rows that say the same, the order decides whose number stands for both.
    assert {(f.table, f.column, f.problem) for f in one.findings} == {(f.table, f.column, f.problem) for f in other.findings}


def test_the_fingerprint_is_of_what_is_used():
    base = records_of(fleet()).fingerprint
    assert len(base) == 64
    assert records_of(fleet(tools=[tool(rack="7")])).fingerprint == base
    assert records_of(fleet(runs=[run("2020-01-10", "2020-01-19", "1000.00")])).fingerprint == base
    assert records_of(fleet(runs=[run("2020-01-10", "2020-01-19"), run("2020-02-09", "2020-02-01")])).fingerprint == base
    assert records_of(fleet(runs=[run("2020-01-10", "2020-01-19", "1001")])).fingerprint != base
    assert records_of(fleet(tools=[tool(cavities="1")])).fingerprint != base
    assert records_of(fleet(events=[event("2020-02-01", "service", note="cleaned")])).fingerprint != base


def test_the_same_rows_in_two_files_are_the_same_records():
    runs = [run("2020-01-10", "2020-01-19"), run("2020-02-10", "2020-02-19")]
    whole = records_of(fleet(runs=runs))
    halves = assemble([*rows_of(fleet(runs=runs[1:])), *sheet_of("runs", runs[:1]).rows])
    assert halves.fingerprint == whole.fingerprint


def test_rows_set_aside_are_in_no_table_and_each_has_its_finding():
    runs = [run("2020-01-10", "2020-01-19"), run("2020-01-10", "2020-01-19", tool_id="T9"), run("2020-03-10", "2020-03-01")]
    records = records_of(fleet(runs=runs))
    assert records.tables["runs"]["row"].tolist() == [2]
    assert {f.row for f in records.findings if (f.table, f.severity) == ("runs", "set_aside")} == {3, 4}


def test_the_latest_day_is_that_of_any_record():
    reading = {"tool_id": "T1", "date": "2020-07-01", "feature": "gate", "value": "0.1", "limit": "0.2"}
    count = {"tool_id": "T1", "date": "2020-08-01", "counter_shots": "5"}
    assert records_of(fleet()).latest_day == dt.date(2020, 2, 1)
    assert records_of(fleet(readings=[reading])).latest_day == dt.date(2020, 7, 1)
    assert records_of(fleet(readings=[reading], counter=[count])).latest_day == dt.date(2020, 8, 1)
    assert records_of(fleet(events=[event("2020-01-11", "order", due_on="2021-01-01")])).latest_day == dt.date(2020, 1, 19)
    with pytest.raises(Refusal, match="no run and no event"):
        _ = records_of(fleet(runs=[], events=[])).latest_day
