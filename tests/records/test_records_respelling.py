"""One name under several spellings: which one is used, what is made one and what is not."""

from collections.abc import Sequence

import pytest
from fleets import Cells, Sheets, about, event, fleet, records_of, rows_of, run, tool

from wearfit.records.assemble import assemble
from wearfit.records.choices import NAMES, Choices
from wearfit.records.findings import Finding
from wearfit.records.records import Records
from wearfit.records.respelling import NAMED_IN, respell
from wearfit.records.rows import Rows


def _runs(*plants: str, tool_id: str = "T1") -> Sequence[Cells]:
    return [run(f"2020-0{i}-10", f"2020-0{i}-19", tool_id=tool_id, plant_id=plant) for i, plant in enumerate(plants, start=1)]


def _plants(records: Records) -> list[str]:
    return records.tables["runs"]["plant_id"].tolist()


def _repaired(findings: Sequence[Finding]) -> list[Finding]:
    return [finding for finding in findings if finding.severity == "repaired"]


def _chosen(sheets: Sheets, column: str, names: dict[str, str]) -> Records:
    return assemble(rows_of(sheets), [name for name, rows in sheets.items() if not rows], Choices(names={column: names}))


def test_every_column_that_may_be_chosen_is_respelt():
    assert set(NAMES) == set(NAMED_IN)


def test_plain_records_are_left_as_they_are():
    rows = Rows.of(rows_of(fleet()))
    assert respell(rows) == (rows, [])


def test_the_spelling_of_the_describing_table_is_used_even_if_it_is_rarer():
    records = records_of(fleet(runs=_runs("heath", "HEATH", "heath")))
    assert _plants(records) == ["Heath"] * 3
    (finding,) = _repaired(records.findings)
    assert (finding.table, finding.row, finding.column, finding.value) == ("runs", None, "plant_id", "heath")
    assert "3 rows" in finding.problem and "'heath' as 'Heath' and 'HEATH' as 'Heath'" in finding.problem
    assert '"heath" = "heath" under [names.plant_id]' in finding.repair


def test_where_none_describes_it_the_more_frequent_is_used():
    records = records_of(fleet(runs=_runs("Moor-Side", "moor side", "moor side"), plants=[]))
    assert _plants(records) == ["moor side"] * 3


def test_the_fleet_is_that_of_one_spelling():
    tidy = fleet(runs=_runs("Heath", "Heath"), events=[event("2020-02-01", "move", plant_id="Heath")])
    untidy = fleet(runs=_runs("heath", "HEATH", tool_id="t-1"), events=[event("2020-02-01", "move", "t 1", plant_id="he-ath")])
    assert records_of(untidy).fingerprint == records_of(tidy).fingerprint


def test_descriptions_that_agree_are_one_and_fill_each_other():
    plants = [{"plant_id": "Heath", "coolant_temp_c": "12"}, {"plant_id": "heath", "coolant_temp_c": "", "conditioned": "1"}]
    records = records_of(fleet(runs=_runs("Heath", "heath", "Heath"), plants=plants))
    assert records.tables["plants"][["plant_id", "coolant_temp_c", "conditioned"]].to_numpy().tolist() == [["Heath", 12.0, 1.0]]
    (told,) = about(records.findings, "plants", None)
    assert told.severity == "note" and "One row of plants" in told.problem


def test_descriptions_that_do_not_agree_are_two_and_told():
    plants = [{"plant_id": "Heath", "coolant_temp_c": "12"}, {"plant_id": "heath", "coolant_temp_c": "18"}]
    sheets = fleet(runs=_runs("Heath", "heath"), plants=plants)
    records = records_of(sheets)
    assert _plants(records) == ["Heath", "heath"] and not _repaired(records.findings)
    (told,) = about(records.findings, "plants", "plant_id")
    assert (told.row, told.severity) == (3, "note") and '"heath" = "Heath"' in told.repair
    chosen = _chosen(sheets, "plant_id", {"heath": "Heath"})
    assert _plants(chosen) == ["Heath", "Heath"]
    (aside,) = about(chosen.findings, "plants", "plant_id")[-1:]
    assert chosen.tables["plants"]["coolant_temp_c"].tolist() == [12.0]
    assert [(f.row, f.severity) for f in about(chosen.findings, "plants", "plant_id") if f.row] == [(3, "set_aside")], aside


def test_a_history_handed_over_in_both_spellings_counts_once():
    runs = [run("2020-01-10", "2020-01-19", plant_id=plant) for plant in ("Heath", "heath", "HEATH")]
    records = records_of(fleet(runs=runs))
    assert records.tables["runs"]["row"].tolist() == [2]
    (told,) = about(records.findings, "runs", None)
    assert told.severity == "note" and "2 rows" in told.problem


def test_runs_that_say_something_else_both_count():
    runs = [run("2020-01-10", "2020-01-19", "1000"), run("2020-01-10", "2020-01-19", "1500", plant_id="heath")]
    records = records_of(fleet(runs=runs))
    assert records.tables["runs"]["shots"].tolist() == [1000, 1500]


def test_an_event_told_otherwise_under_another_spelling_is_set_aside():
    events = [event("2020-02-01", "retool", cause="wear"), event("2020-02-01", "retool", "t-1", cause="damage")]
    records = records_of(fleet(events=events))
    assert records.tables["events"]["cause"].tolist() == ["wear"]
    (aside,) = [f for f in about(records.findings, "events", "tool_id") if f.severity == "set_aside"]
    assert (aside.row, aside.value) == (3, "t-1") and "row 2" in aside.problem


def test_old_numbers_of_the_aliases_lead_on_however_they_are_spelt():
    runs = [*_runs("Heath", tool_id="t-1"), *_runs("", "Heath", tool_id="N 1")[1:]]
    records = records_of(fleet(tools=[tool("N1")], runs=runs, events=[], aliases=[{"old_tool_id": "T1", "tool_id": "n1"}]))
    assert records.tables["runs"]["tool_id"].tolist() == ["N1", "N1"]
    assert records.tables["aliases"][["old_tool_id", "tool_id"]].to_numpy().tolist() == [["T1", "N1"]]


def test_an_alias_of_another_spelling_still_holds():
    aliases = [{"old_tool_id": "t-1", "tool_id": "T1"}]
    records = records_of(fleet(runs=_runs("Heath", tool_id="t-1"), aliases=aliases))
    assert records.tables["runs"]["tool_id"].tolist() == ["T1"]
    assert not [f for f in records.findings if f.severity != "note"]


def test_a_choice_makes_names_one_and_is_told():
    sheets = fleet(runs=_runs("Heeth", "heath", "HEETH"))
    records = _chosen(sheets, "plant_id", {"Heeth": "HEATH"})
    assert _plants(records) == ["Heath"] * 3
    told = about(records.findings, "runs", "plant_id")
    assert [(f.severity, "By your choice" in f.problem) for f in told] == [("repaired", False), ("note", True)]


def test_a_choice_keeps_names_apart():
    sheets = fleet(runs=_runs("Heath", "heath", "heath"))
    assert _plants(_chosen(sheets, "plant_id", {"heath": "heath"})) == ["Heath", "heath", "heath"]


def test_numbers_parted_at_other_places_are_left_alone():
    tools = [tool("T1-A2")]
    records = records_of(fleet(tools=tools, runs=_runs("Heath", tool_id="T1-A2"), events=[event("2020-02-01", "service", "T1A-2")]))
    (aside,) = about(records.findings, "events", "tool_id")
    assert aside.severity == "set_aside" and "T1-A2" in aside.repair


@pytest.mark.parametrize("count", [1, 40])
def test_many_spellings_are_one_finding_that_can_be_read(count: int):
    tools = [tool(f"TOOL {i}") for i in range(1, count + 1)]
    runs = [run("2020-01-10", "2020-01-19", tool_id=f"tool-{i}") for i in range(1, count + 1)]
    (finding,) = _repaired(records_of(fleet(tools=tools, runs=runs, events=[])).findings)
    assert len(finding.problem) < 600 and ("and so on" in finding.problem) == (count > 1)


def test_choices_in_a_chain_that_lead_back_leave_both_tools():
    sheets = fleet(tools=[tool("x-9", service_class="101"), tool("T-104")], runs=[], events=[])
    records = _chosen(sheets, "tool_id", {"T-104": "t 104", "x-9": "T-104"})
    assert records.tables["tools"][["tool_id", "service_class"]].to_numpy().tolist() == [["T-104", "103"]]
    assert [f.value for f in records.findings if f.severity == "set_aside"] == ["x-9"]


def test_a_row_under_its_own_name_stays_whatever_else_of_it_is_respelt():
    tools = [tool("Old1", service_class="101"), tool("T1", service_class="103", plant_id="heath")]
    for order in (tools, tools[::-1]):
        records = _chosen(fleet(tools=order, runs=_runs("Heath"), events=[]), "tool_id", {"Old1": "T1"})
        assert records.tables["tools"][["service_class", "plant_id"]].to_numpy().tolist() == [["103", "Heath"]]


def test_a_tool_given_twice_keeps_its_place_so_that_the_order_of_the_store_is_that_of_the_file():
    tools = [tool("Old1", service_class="101"), tool("Old2", service_class="103"), tool("Old1", service_class="104")]
    sheets = fleet(tools=tools, runs=_runs("Heath"), events=[])
    assert _chosen(sheets, "tool_id", {"Old1": "T1", "Old2": "T1"}).tables["tools"]["service_class"].tolist() == ["104"]
