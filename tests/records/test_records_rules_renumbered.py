"""Tools that may have another number: offered, never taken."""

import pytest
from fleets import Cells, about, event, fleet, records_of, run, tool

from wearfit.records.findings import Finding
from wearfit.records.records import Records


def test_a_number_without_its_zeros_is_set_aside_with_the_alias_to_write():
    runs = [run("2020-01-10", "2020-01-19", tool_id="T0104")]
    base = fleet(tools=[tool("T0104")], runs=runs, events=[event("2020-02-01", "worn", "t-104")])
    (finding,) = about(records_of(base).findings, "events", "tool_id")
    assert (finding.value, finding.severity) == ("t-104", "set_aside")
    assert "old_tool_id 't-104', tool_id 'T0104'" in finding.repair
    mended = records_of({**base, "aliases": [{"old_tool_id": "t-104", "tool_id": "T0104"}]})
    assert mended.tables["events"]["tool_id"].tolist() == ["T0104"]


@pytest.mark.parametrize("other", ["t-104", "T0104"])
def test_two_tools_that_differ_in_spelling_alone_are_told(other: str):
    tools = [tool("T104", cavities="2"), tool(other, cavities="4")]
    records = records_of(fleet(tools=tools, runs=[run("2020-01-10", "2020-01-19", tool_id="T104")]))
    (finding,) = about(records.findings, "tools", "tool_id")
    assert finding.severity == "note" and "old_tool_id" in finding.repair and len(records.tables["tools"]) == 2


def _pair(new: str, first: str = "2021-03-01", old: str = "T104", events: tuple[Cells, ...] = (), **cells: str) -> Records:
    runs = [
        run("2020-01-10", "2020-01-19", tool_id=old),
        run("2020-12-10", "2021-02-19", tool_id=old),
        run(first, "2021-06-10", tool_id=new),
    ]
    happened = list(events) or [event("2020-02-01", "service", old)]
    return records_of(fleet(tools=[tool(old, cavities="4"), tool(new, **{"cavities": "4", **cells})], runs=runs, events=happened))


def _offers(records: Records) -> list[Finding]:
    return [f for f in records.findings if "another number" in f.problem]


@pytest.mark.parametrize("new", ["T104A", "T104-01", "T104R2", "T104 REV 2", "T104-R1"])
def test_a_tool_that_goes_on_under_a_longer_number_is_offered(new: str):
    (offer,) = _offers(_pair(new))
    assert (offer.table, offer.row, offer.value, offer.severity) == ("tools", 3, new, "note")
    assert f"old_tool_id 'T104', tool_id '{new}', since 2021-03-01" in offer.repair


def test_sisters_copies_and_others_are_not_offered():
    assert _offers(_pair("T104A", first="2021-02-19")) == []  # both ran on that day
    assert _offers(_pair("T104A", cavities="8")) == []
    assert _offers(_pair("T1041")) == []
    assert _offers(_pair("T105")) == []
    assert _offers(_pair("T104A", events=(event("2021-02-25", "retire", "T104", cause="wear"),))) == []


def test_the_design_decides_where_it_is_given():
    runs = [run("2020-01-10", "2020-01-19", tool_id="T1"), run("2021-01-10", "2021-01-19", tool_id="T1A")]
    for design, offers in (("D", 1), ("E", 0)):
        tools = [tool("T1", design_id="D", cavities="4"), tool("T1A", design_id=design, cavities="4")]
        assert len(_offers(records_of(fleet(tools=tools, runs=runs)))) == offers


def test_a_chain_is_offered_link_by_link():
    tools = [tool(name, cavities="4") for name in ("T1", "T1A", "T1B")]
    runs = [run(f"202{i}-03-10", f"202{i}-03-19", tool_id=name) for i, name in enumerate(("T1", "T1A", "T1B"))]
    assert [f.repair.split("'")[1::2] for f in _offers(records_of(fleet(tools=tools, runs=runs)))] == [["T1", "T1A"], ["T1A", "T1B"]]
