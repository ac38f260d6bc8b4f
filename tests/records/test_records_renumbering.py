"""Renumbered tools: the old number names the same tool."""

from fleets import Cells, about, event, fleet, records_of, run, tool

NEW = "N1"


def _alias(old: str = "T1", new: str = NEW, since: str = "2020-02-01") -> Cells:
    return {"old_tool_id": old, "tool_id": new, "since": since}


def test_rows_under_the_old_number_become_rows_of_the_tool():
    runs = [run("2020-01-10", "2020-01-19"), run("2020-03-10", "2020-03-19", tool_id=NEW)]
    records = records_of(fleet(tools=[tool(NEW)], runs=runs, aliases=[_alias()], events=[event("2020-01-20", "service")]))
    assert set(records.tables["runs"]["tool_id"]) == set(records.tables["events"]["tool_id"]) == {NEW}
    assert len(records.tables["runs"]) == 2
    assert [f for f in records.findings if f.severity != "note"] == []


def test_a_renumbered_fleet_is_the_fleet_under_its_new_numbers():
    base = fleet(events=[event("2020-01-20", "service")])
    renamed = {
        name: [{k: NEW if (k, v) == ("tool_id", "T1") else v for k, v in row.items()} for row in rows] for name, rows in base.items()
    }
    aliases = [_alias()]
    assert records_of({**base, "aliases": aliases}).fingerprint == records_of({**renamed, "aliases": aliases}).fingerprint


def test_late_use_of_the_old_number_is_told_once():
    runs = [run("2020-01-10", "2020-01-19"), run("2020-02-01", "2020-02-09"), run("2020-03-10", "2020-03-19")]
    records = records_of(fleet(tools=[tool(NEW)], runs=runs, aliases=[_alias()], events=[event("2020-01-20", "service")]))
    (finding,) = about(records.findings, "aliases", "since")
    assert finding.severity == "note" and "2 rows" in finding.problem
    assert len(records.tables["runs"]) == 3


def test_a_history_handed_over_under_both_numbers_counts_once():
    both = [run("2020-01-10", "2020-01-19", tool_id=name) for name in ("T1", NEW)]
    records = records_of(fleet(tools=[tool("T1"), tool(NEW, cavities="4")], runs=both, aliases=[_alias()]))
    assert records.tables["tools"][["tool_id", "cavities"]].to_numpy().tolist() == [[NEW, 4.0]]
    assert records.tables["runs"]["row"].tolist() == [3]
    assert {f.table for f in records.findings if "under the old number" in f.problem} == {"tools", "runs"}


def test_a_tool_renumbered_twice_has_its_last_number():
    aliases = [_alias("T1", "M1"), _alias("M1", NEW, "2021-01-01")]
    records = records_of(fleet(tools=[tool(NEW)], aliases=aliases))
    assert records.tables["runs"]["tool_id"].tolist() == [NEW]


def test_numbers_that_lead_in_a_circle_are_set_aside():
    records = records_of(fleet(aliases=[_alias("T1", "M1"), _alias("M1", "T1"), _alias("X", "X")]))
    assert {(f.row, f.severity) for f in about(records.findings, "aliases", "tool_id")} == {
        (2, "set_aside"),
        (3, "set_aside"),
        (4, "set_aside"),
    }
    assert records.tables["runs"]["tool_id"].tolist() == ["T1"]


def test_an_alias_that_leads_back_to_itself_is_set_aside_and_not_used():
    records = records_of(fleet(aliases=[{"old_tool_id": "T9", "tool_id": "T9"}]))
    assert records.tables["aliases"].empty
    (told,) = about(records.findings, "aliases", "tool_id")
    assert told.severity == "set_aside"
