"""Names that one table uses and another should explain."""

from dataclasses import replace

import pytest
from fleets import about, event, fleet, records_of, rows_of, run, tool

from wearfit.records.assemble import assemble
from wearfit.records.rules import references


def test_rows_of_an_unknown_tool_name_their_source():
    rows = rows_of(fleet(runs=[run("2020-01-10", "2020-01-19"), run("2020-02-10", "2020-02-19", tool_id="zebra")]))
    records = assemble([replace(row, source=f"old.xlsx, sheet {row.table}") for row in rows])
    (finding,) = about(records.findings, "runs", "tool_id")
    assert (finding.source, finding.row, finding.value, finding.severity) == ("old.xlsx, sheet runs", 3, "zebra", "set_aside")


def test_a_name_in_several_files_is_told_at_its_first_row():
    rows = rows_of(fleet(runs=[run("2020-01-10", "2020-01-19", plant_id="Moor"), run("2020-02-10", "2020-02-19", plant_id="Moor")]))
    placed = [replace(row, source="b.csv" if row.row == 2 else "a.csv") if row.table == "runs" else row for row in rows]
    (finding,) = about(assemble(placed).findings, "runs", "plant_id")
    assert (finding.source, finding.row) == ("a.csv", 3) and "2 rows" in finding.problem


@pytest.mark.parametrize("name", ["T{1}", "{tool_id}", "100%", "{", "}{"])
def test_names_with_braces_are_written_as_they_are(name: str):
    runs = [
        run("2020-01-10", "2020-01-09", tool_id=name),
        run("2020-02-10", "2020-02-19", tool_id=name),
        run("2020-02-12", "2020-02-19", tool_id=name, plant_id="Salt Quay"),
        *(run(f"2020-0{m}-10", f"2020-0{m}-19", tool_id=name, parts="10", active_cavities="4") for m in (3, 4, 5)),
    ]
    records = records_of(fleet(tools=[tool(name, cavities="2")], runs=runs, events=[event("2020-02-01", "service", "X" + name)]))
    assert {"ended_on", "started_on", "parts", "active_cavities"} <= {f.column for f in records.findings if f.table == "runs"}
    assert all(
        name in f.problem for f in records.findings if f.table == "runs" and f.column in ("ended_on", "started_on", "active_cavities")
    )


def test_near_names_are_looked_for_in_some_but_not_in_all(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(references, "NEAR_LOOKED_FOR", 1)
    events = [event("2020-02-01", "service", name) for name in ("mould9", "mould7")]
    records = records_of(fleet(tools=[tool("T1"), tool("mould1")], events=events))
    repairs = sorted(f.repair for f in about(records.findings, "events", "tool_id"))
    assert [("mould1" in repair) for repair in repairs] == [False, True]
