"""Names that one table uses and another should explain."""

from dataclasses import replace

import pytest
from fleets import about, event, fleet, records_of, rows_of, run, tool

from wearfit.records.assemble import assemble


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


@pytest.mark.parametrize(("typed", "offered"), [("moudl1", True), ("mould01", True), ("mould9", False), ("mould1b", False)])
def test_an_unknown_tool_is_offered_a_near_one_whose_numbers_agree(typed: str, offered: bool):
    records = records_of(fleet(tools=[tool("T1"), tool("mould1")], events=[event("2020-02-01", "service", typed)]))
    (finding,) = about(records.findings, "events", "tool_id")
    assert finding.severity == "set_aside" and (f"old_tool_id '{typed}', tool_id 'mould1'" in finding.repair) == offered


def test_an_unknown_tool_that_is_near_none_may_be_one_that_was_renumbered():
    (finding,) = about(
        records_of(fleet(tools=[tool("W-007")], events=[event("2020-02-01", "service", "W-107")])).findings, "events", "tool_id"
    )
    assert finding.repair == (
        "Add 'W-107' to the tools table, or correct the name; if it is another number of a tool in use, say so in the aliases table, with "
        "old_tool_id and tool_id."
    )


@pytest.mark.parametrize(("typed", "offered"), [("Sallt Quay", True), ("Salt Quays", True), ("Salt Quey", False), ("Malt Quay", False)])
def test_an_undescribed_plant_is_offered_a_near_one(typed: str, offered: bool):
    runs = [run("2020-01-10", "2020-01-19", plant_id=typed)]
    (finding,) = about(records_of(fleet(runs=runs)).findings, "runs", "plant_id")
    assert finding.severity == "note" and (f'"{typed}" = "Salt Quay" under [names.plant_id]' in finding.repair) == offered


def test_where_several_are_near_all_are_offered():
    runs = [run("2020-01-10", "2020-01-19", plant_id="Harbour")]
    plants = [{"plant_id": name} for name in ("Harbor", "Harbours", "Heath")]
    (finding,) = about(records_of(fleet(runs=runs, plants=plants)).findings, "runs", "plant_id")
    assert "'Harbor' or 'Harbours'" in finding.repair


def test_a_design_that_no_tool_makes_is_offered_a_near_one():
    records = records_of(fleet(tools=[tool(design_id="bracket")], plan=[{"month": "2021-01", "design_id": "braket", "shots": "10"}]))
    (finding,) = about(records.findings, "plan", "design_id")
    assert "'bracket' is meant" in finding.repair
