"""What changed between two calibrations: how far each tool moved, and because of which records."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from set_back import SetBack
from stores import summary

from wearfit.calibration import STACKED, Calibration
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.records.choices import Choices
from wearfit.records.identity import Row, key_of
from wearfit.records.readers.read import read
from wearfit.records.tables import TABLES
from wearfit.store import open_store
from wearfit.store.store import Store
from wearfit.workflow.new_records import Made, NewRecords, ToolRecords, Version, new_between, read_new_records
from wearfit.workflow.what_changed import COLUMNS, change_table, what_changed

DAY = "2026-06-30"
BEFORE, AFTER = Made(10, dt.date(2026, 6, 30)), Made(20, dt.date(2026, 7, 31))


def tool(
    name: str, day: str | None, shots: float | None, use: float = 10_000.0, plant: str = "north", status: str = "running"
) -> dict[str, Any]:
    return {
        "tool_id": name, "design_id": "cup", "plant_id": plant, "status": status,
        "wear_out_on": {"p50": day}, "remaining_shots": {"p50": shots},
        "conditions": {"shots_per_month": use, "plant_id": plant},
    }  # fmt: skip


def forecast(*tools: dict[str, Any], day: str = DAY) -> dict[str, Any]:
    return {"as_of": day, "tools": list(tools)}


def row(table: str, **values: str) -> Row:
    return Row(table, key_of(TABLES[table], values), 0, values, 2)


def test_days_are_those_between_the_two_and_who_moved_most_comes_first():
    before = forecast(tool("A", "2027-01-01", 60_000.0), tool("B", "2027-01-01", 60_000.0), tool("C", "2027-03-01", 80_000.0))
    after = forecast(tool("A", "2027-01-11", 63_000.0), tool("B", "2026-10-01", 30_000.0), tool("C", "2027-03-01", 80_000.0))
    changes = what_changed(before, after, NewRecords(), 10.0).changes
    assert [(c.tool_id, c.days, c.became) for c in changes] == [("B", -92, "earlier"), ("A", 10, "later"), ("C", 0, "same")]
    assert (changes[0].shots_before, changes[0].shots_after) == (60_000.0, 30_000.0)


def test_past_the_horizon_it_moved_by_at_least_the_days_to_its_end():
    changes = what_changed(forecast(tool("A", None, 9e6)), forecast(tool("A", "2027-06-30", 1e5)), NewRecords(), 2.0).changes
    (change,) = changes
    # Two years of 365.25 days from 30 Jun 2026 end on 29 Jun 2028: a year and a day fewer than 366 days on.
    assert (change.days, change.at_least, change.became) == (-(dt.date(2028, 6, 29) - dt.date(2027, 6, 30)).days, True, "earlier")


def test_both_past_the_horizon_the_shots_say_which_way():
    later = what_changed(forecast(tool("A", None, 1e6)), forecast(tool("A", None, 2e6)), NewRecords(), 10.0).changes[0]
    assert (later.days, later.became) == (None, "later")


def test_a_tool_that_is_idle_for_good_has_no_days():
    """Nothing is run, so that no day follows; the shots that are left are compared."""
    idle = what_changed(forecast(tool("A", None, 1e6, use=0.0)), forecast(tool("A", "2027-01-01", 5e5)), NewRecords(), 10.0).changes[0]
    assert (idle.days, idle.became) == (None, "earlier")


def test_tools_of_one_forecast_alone_come_first_and_say_so():
    new = NewRecords({"NEW": ToolRecords(listed=True), "OLD": ToolRecords(events=("retired on 3 Jul 2026",))})
    changes = what_changed(forecast(tool("OLD", "2027-01-01", 1e5)), forecast(tool("NEW", "2030-01-01", 1e6)), new, 10.0).changes
    assert [(c.tool_id, c.became, c.days) for c in changes] == [("NEW", "new", None), ("OLD", "gone", None)]
    assert "retired on 3 Jul 2026" in changes[1].why
    assert "its line on the list of tools" in changes[0].why


def test_a_tool_that_turned_worn_or_held_comes_first_and_says_so():
    before = forecast(tool("A", "2027-01-01", 1e5), tool("B", "2026-07-20", 1e3), tool("C", "2027-01-01", 1e5, status="held"))
    after = forecast(tool("A", "2029-01-01", 1e5, status="idle"), tool("B", "2026-07-15", 0.0, status="worn"), tool("C", "2027-01-02", 1e5))
    changes = what_changed(before, after, NewRecords({"B": ToolRecords(events=("worn on 15 Jul 2026",))}), 10.0).changes
    assert [(c.tool_id, c.turned) for c in changes] == [("B", "worn out"), ("C", "released"), ("A", "")]
    assert changes[0].why == "Now worn out. New of it: worn on 15 Jul 2026."


def test_why_names_own_records_then_use_then_the_fleet_then_draws():
    before = forecast(tool("A", "2027-01-01", 1e5), tool("B", "2027-01-01", 1e5), tool("C", "2027-01-01", 1e5))
    after = forecast(tool("A", "2027-02-01", 1e5), tool("B", "2027-02-01", 1e5, use=20_000.0, plant="south"), tool("C", "2027-02-01", 1e5))
    why = {c.tool_id: c.why for c in what_changed(before, after, NewRecords({"A": ToolRecords(runs=2, shots=90_000.0)}), 10.0).changes}
    assert why["A"] == "New of it: 2 runs (90,000 shots)."
    assert why["B"] == "Expected use: 10,000 shots a month before, 20,000 now. Expected at south, at north before."
    assert why["C"].startswith("Nothing new of its own")
    alone = what_changed(before, after, NewRecords(), 10.0).changes
    assert {c.why for c in alone if c.tool_id != "B"} == {"No record is new: random draws alone."}


def test_what_chance_may_move_comes_last_and_is_called_so():
    """A: within what chance may do; B: beyond it; C: within it, but with a record of its own; D: nobody tells how far chance goes."""
    new = NewRecords({"C": ToolRecords(runs=1, shots=500.0)})
    moved = [("A", "2027-03-01", 60.0), ("B", "2027-04-01", 60.0), ("C", "2027-01-05", 60.0), ("D", "2027-01-03", None)]
    before = forecast(*(tool(name, "2027-01-01", 1e5) for name, _, _ in moved))
    after = forecast(*(tool(name, day, 1e5) | {"about_days": about} for name, day, about in moved))
    changes = what_changed(before, after, new, 10.0).changes
    assert [(c.tool_id, c.by_chance) for c in changes] == [("B", False), ("C", False), ("D", False), ("A", True)]
    assert changes[-1].why == "Nothing new of its own: random draws alone may move it by 60 days."


def test_forecasts_of_different_days_are_not_compared():
    with pytest.raises(ValueError, match="cannot be compared"):
        what_changed(forecast(), forecast(day="2026-07-31"), NewRecords(), 10.0)


def test_the_table_has_a_row_for_each_tool_under_its_heads():
    (line,) = change_table(
        what_changed(forecast(tool("A", "2027-01-01", 1e5)), forecast(tool("A", "2027-01-11", 1e5)), NewRecords(), 10.0).changes
    )
    said = dict(zip(COLUMNS, line, strict=True))
    assert (said["Tool"], said["Likely wear-out before"], said["Moved by days"]) == ("A", "2027-01-01", 10)


def test_rows_are_new_by_when_they_came_or_by_their_day():
    run = {"plant_id": "north", "resin_id": "abs", "started_on": "2026-07-01", "shots": "40000"}
    versions = [
        Version(row("runs", tool_id="A", ended_on="2026-06-01", **run), 9),  # known before
        Version(row("runs", tool_id="B", ended_on="2026-06-01", **run), 11),  # came late
        Version(row("runs", tool_id="C", ended_on="2026-07-05", **run), 9),  # there, after the former day
        Version(row("runs", tool_id="D", ended_on="2026-08-05", **run), 11),  # after the newer day
        Version(row("runs", tool_id="E", ended_on="2026-06-01", **run), 21),  # came after the newer one
    ]
    by_tool, tables = new_between(versions, BEFORE, AFTER)
    assert by_tool == {"B": ToolRecords(runs=1, shots=40_000.0), "C": ToolRecords(runs=1, shots=40_000.0)}
    assert tables == ()


def test_each_kind_of_record_is_counted_under_the_name_that_is_meant():
    late = 11
    versions = [
        Version(row("events", tool_id="t1", date="2026-07-03", event="worn"), late),
        Version(row("events", tool_id="T1", date="2026-07-01", event="found_good"), late),
        Version(row("readings", tool_id="T1", date="2026-07-02", feature="rim", value="0.1"), late),
        Version(row("counter", tool_id="T1", date="2026-07-02", counter_shots="5"), late),
        Version(row("runs", tool_id="T1", plant_id="n", resin_id="a", started_on="2026-07-01", shots="9"), late, changed=True),
        Version(Row("runs", '["T1", "n", "a", "2026-07-02"]', 0, {}, 0), late, changed=True, withdrawn=True),
        Version(row("tools", tool_id="T1"), late, changed=True),
        Version(row("plants", plant_id="n"), late),
    ]
    by_tool, tables = new_between(versions, BEFORE, AFTER, str.upper)
    assert by_tool == {
        "T1": ToolRecords(events=("found good on 1 Jul 2026", "worn on 3 Jul 2026"), readings=1, counters=1, corrected=2, listed=True)
    }
    assert by_tool["T1"].sentence == (
        "found good on 1 Jul 2026, worn on 3 Jul 2026, 1 reading, 1 counter reading, 2 rows corrected or taken out, "
        "its line on the list of tools"
    )
    assert tables == ("1 row of plants are new or changed.",)


RUNS = "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"


def test_what_came_between_two_calibrations_is_told_by_the_lines_of_the_history_and_not_by_the_clock(
    url: str, write_history: Callable[..., Path], demo_calibration: Calibration, monkeypatch: pytest.MonkeyPatch
):
    """A clock that loses a year at each deed: by it what came between came after both, and what came last came before them."""
    between = write_history("between", tools=None, events=None, runs=f"{RUNS}T2,south,abs,2021-03-01,2021-03-20,60000\n")
    last = write_history("last", tools=None, events=None, runs=f"{RUNS}T2,south,abs,2021-03-01,2021-03-20,70000\n")
    monkeypatch.setattr(open_store, "datetime", type("Losing", (SetBack,), {"year_told": 2026}))
    with Store.open(url) as store:
        store.add_upload(read(write_history()))
        kept = [store.add_calibration(shipped_calibration_bytes(), summary(True), make_current=True)]
        store.add_upload(read(between))
        store.keep_choices(Choices(dates={"runs": {"started_on": "day month year"}}))
        kept.append(store.add_calibration(shipped_calibration_bytes(), summary(True), make_current=True))
        store.add_upload(read(last))
        kept.append(store.add_calibration(shipped_calibration_bytes(), summary(True), make_current=True))
        at = [line.at for line in store.history()]
        assert at == sorted(at, reverse=True) and len(set(at)) == 7
        entries = {entry.id: entry for entry in store.calibrations()}
    first, second, third = (entries[number] for number in kept)
    both = (demo_calibration, demo_calibration)
    found = read_new_records(url, first, second, both)
    assert found.by_tool == {"T2": ToolRecords(runs=1, shots=60_000.0)}
    assert found.fleet == ("Choices about reading the records were changed, so that stored rows may say something else now.",)
    assert read_new_records(url, second, third, both) == NewRecords({"T2": ToolRecords(corrected=1)})
    assert read_new_records(url, second, first, both) == NewRecords()
    other = replace(demo_calibration, identity=replace(demo_calibration.identity, wear_law=STACKED))
    said = read_new_records(url, second, third, (demo_calibration, other)).fleet
    assert said == ("The law of wear is another: Weibull before, stacked now.",)
