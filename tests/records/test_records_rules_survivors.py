"""Lists that seem to hold only the tools that lasted."""

from collections.abc import Sequence

from fleets import Cells, event, fleet, records_of, run, tool

from wearfit.records.findings import Finding


def _said(count: int = 6, events: Sequence[Cells] = (), last: str = "2024-03-10", idle: bool = False) -> list[Finding]:
    names = [f"T{i}" for i in range(count)]
    runs = [run("2020-02-10", "2020-02-19", tool_id=name) for name in names]
    runs += [run("2024-03-01", last, tool_id=name) for name in names[idle:]]
    records = records_of({**fleet(tools=[tool(name) for name in names], runs=runs), "events": list(events)})
    return [f for f in records.findings if "scrapped" in f.problem]


def test_an_old_fleet_without_a_loss_is_told():
    (note,) = _said()
    assert (note.table, note.row, note.severity) == ("events", None, "note")
    assert "renewed or found worn" in note.problem and "more lasting than they are" in note.problem and "scrap ledger" in note.repair


def test_renewals_are_not_losses_but_are_named_otherwise():
    (note,) = _said(events=[event("2022-01-01", "retool", "T1", cause="wear")])
    assert "none was retired," in note.problem


def test_a_retired_or_idle_tool_a_young_or_small_fleet_says_nothing():
    assert _said(events=[event("2024-04-01", "retire", "T1")]) == []
    assert _said(idle=True) == []
    assert _said(count=4) == []
    names = [f"T{i}" for i in range(6)]
    young = fleet(tools=[tool(n) for n in names], runs=[run("2021-02-10", "2021-02-19", tool_id=n) for n in names])
    assert [f for f in records_of(young).findings if "scrapped" in f.problem] == []
