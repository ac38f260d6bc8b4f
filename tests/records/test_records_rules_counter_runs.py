"""Runs reckoned from a counter: every day counted once, at the plant where the tool stood, in a resin that is not stated."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from fleets import Cells, about, checked, event, fleet, records_of, run, tool
from hypothesis import given
from hypothesis import strategies as st
from shot_counters import Frames, frames_of, judged, monthly, reading, simulate

from wearfit.exposures.build import build_exposures
from wearfit.records.frames import canonical_order
from wearfit.records.records import Records
from wearfit.records.rules.counter.judge import judge_counters
from wearfit.records.rules.counter.runs import NOT_STATED
from wearfit.records.rules.runs import judge_runs
from wearfit.records.tables import TABLES

HOME: Cells = tool(plant_id="Heath")


def _runs(frames: Frames) -> list[tuple[str, str, str, float]]:
    rows = frames["runs"].sort_values(["tool_id", "started_on"])
    days = (rows[name].dt.strftime("%Y-%m-%d") for name in ("started_on", "ended_on"))
    return list(zip(rows["plant_id"], *days, rows["shots"], strict=True))


def _of(*events: Cells, counter: list[Cells], home: Cells = HOME) -> list[tuple[str, str, str, float]]:
    return _runs(judged(tools=[home], counter=counter, events=list(events))[0])


def test_a_run_goes_from_the_day_after_one_reading_to_the_day_of_the_next():
    counter = [reading("2020-01-31", 500), reading("2020-02-29", 3_400), reading("2020-03-01", 3_500), reading("2020-04-01", 3_500)]
    assert _of(counter=counter) == [("Heath", "2020-02-01", "2020-02-29", 2_900), ("Heath", "2020-03-01", "2020-03-01", 100)]


def test_a_reckoned_run_bears_the_row_of_the_later_reading_and_no_resin():
    used, findings = judged(tools=[HOME], counter=monthly(0, 3_000, 7_000))
    runs = used["runs"]
    assert runs["row"].tolist() == [3, 4]
    assert runs["source"].tolist() == used["counter"]["source"].tolist()[1:]
    assert set(runs["resin_id"]) == {NOT_STATED}
    assert runs[["parts", "setups", "cycle_time_s", "active_cavities"]].isna().all(axis=None)
    (resin,) = about(findings, "counter", "tool_id")
    assert resin.row is None and NOT_STATED in resin.problem and "widens" in resin.problem
    (how,) = about(findings, "counter", "counter_shots")
    assert "Set-ups are not known" in how.problem and how.severity == "note"
    (begins,) = about(findings, "counter", "date")
    assert "opening_shots" in begins.problem


def test_reckoned_runs_look_like_runs_that_were_read():
    used, _ = judged(tools=[HOME, tool("T2")], counter=monthly(0, 3_000), runs=[run("2020-01-10", "2020-01-19", tool_id="T2")])
    read = frames_of(runs=[run("2020-01-10", "2020-01-19")])["runs"]
    assert list(used["runs"].columns) == list(read.columns)
    assert used["runs"].dtypes.tolist() == read.dtypes.tolist()
    assert used["runs"]["tool_id"].tolist() == ["T1", "T2"]


def test_nothing_is_reckoned_for_a_tool_with_runs():
    used, findings = judged(tools=[HOME], counter=monthly(0, 3_000), runs=[run("2020-02-10", "2020-02-19")])
    assert len(used["runs"]) == 1
    assert about(findings, "counter", "tool_id") == []


def test_a_move_splits_by_days_as_it_splits_a_run():
    counter = [reading("2020-01-31", 0), reading("2020-02-10", 1_000)]
    move = event("2020-02-04", "move", plant_id="Salt Quay")
    assert _of(move, counter=counter) == [("Heath", "2020-02-01", "2020-02-03", 300), ("Salt Quay", "2020-02-04", "2020-02-10", 700)]
    on_first, on_last = event("2020-02-01", "move", plant_id="Salt Quay"), event("2020-02-10", "move", plant_id="Salt Quay")
    assert _of(on_first, counter=counter) == [("Salt Quay", "2020-02-01", "2020-02-10", 1_000)]
    assert _of(on_last, counter=counter) == [("Heath", "2020-02-01", "2020-02-10", 1_000)]
    after = [*counter, reading("2020-02-20", 1_500)]
    assert _of(on_last, counter=after)[1] == ("Salt Quay", "2020-02-11", "2020-02-20", 500)


def test_no_shot_is_made_in_store():
    counter = [reading("2020-01-31", 0), reading("2020-02-10", 1_000)]
    stay = (event("2020-02-03", "store", plant_id="Salt Quay"), event("2020-02-09", "take_out"))
    assert _of(*stay, counter=counter) == [("Heath", "2020-02-01", "2020-02-02", 500), ("Heath", "2020-02-09", "2020-02-10", 500)]
    assert _of(stay[0], counter=counter) == [("Heath", "2020-02-01", "2020-02-02", 1_000)]
    back = (event("2020-01-15", "store"), event("2020-02-10", "take_out"))
    assert _of(*back, counter=counter) == [("Heath", "2020-02-10", "2020-02-10", 1_000)]


def test_a_counter_that_rises_in_store_is_told_and_counted():
    counter = [reading("2020-01-31", 0), reading("2020-02-10", 1_000)]
    used, findings = judged(tools=[HOME], counter=counter, events=[event("2020-01-15", "store")])
    assert used["runs"]["shots"].sum() == 1_000
    (finding,) = (f for f in about(findings, "counter", "date") if f.row is not None)
    assert finding.row == 3 and "in store all that time" in finding.problem


def test_readings_years_apart_are_told_and_cut_at_the_years():
    counter = [reading("2020-06-30", 0), reading("2023-06-30", 109_500)]
    runs = _of(counter=counter)
    assert [(start, end) for _, start, end, _ in runs] == [
        ("2020-07-01", "2020-12-31"), ("2021-01-01", "2021-12-31"), ("2022-01-01", "2022-12-31"), ("2023-01-01", "2023-06-30"),
    ]  # fmt: skip
    assert sum(shots for *_, shots in runs) == pytest.approx(109_500)
    assert runs[1][3] == pytest.approx(36_500)
    assert [f.row for f in about(judged(tools=[HOME], counter=counter)[1], "counter", "date")] == [3, None]


def test_shots_of_a_tool_without_a_plant_have_a_plant_of_their_own():
    used, findings = judged(
        tools=[HOME, tool("T2")], counter=[*monthly(0, 3_000), *monthly(0, 4_000, tool_id="T2")],
        events=[event("2020-02-01", "service", "T2"), event("2020-02-01", "service")],
    )  # fmt: skip
    assert used["runs"][["tool_id", "plant_id", "shots"]].to_numpy().tolist() == [["T1", "Heath", 3_000], ["T2", NOT_STATED, 4_000]]
    (finding,) = about(findings, "tools", "plant_id")
    assert (finding.row, finding.severity) == (None, "note")
    assert finding.problem.startswith("Where T2 made 4,000 of the shots") and NOT_STATED in finding.problem
    for name in ("tools", "events", "counter"):
        assert set(used[name]["tool_id"]) == {"T1", "T2"}


def test_tools_without_a_plant_are_told_in_one_sentence():
    names = [f"T{i}" for i in range(1, 6)]
    counter = [cells for name in names for cells in monthly(0, 1_000, tool_id=name)]
    _, findings = judged(tools=[tool(name) for name in names], counter=counter)
    (finding,) = about(findings, "tools", "plant_id")
    assert finding.problem.startswith("Where T1, T2, T3 and 2 others made 5,000 of the shots")


def test_shots_made_before_the_first_known_plant_are_kept_and_told():
    counter = [reading("2020-01-31", 0), reading("2020-02-10", 1_000)]
    used, findings = judged(tools=[tool()], counter=counter, events=[event("2020-02-04", "move", plant_id="Heath")])
    assert _runs(used) == [(NOT_STATED, "2020-02-01", "2020-02-03", 300), ("Heath", "2020-02-04", "2020-02-10", 700)]
    (finding,) = about(findings, "tools", "plant_id")
    assert finding.severity == "note" and "T1 made 300 of the shots" in finding.problem


def test_a_fleet_without_a_plant_has_exposures_at_a_plant_of_which_nothing_is_known():
    fleet_of_two = fleet(tools=[tool(), tool("T2")], runs=[], plants=[], counter=[*monthly(0, 3_000), *monthly(0, 4_000, tool_id="T2")])
    records = records_of(fleet_of_two)
    exposures = build_exposures(records.as_of(records.latest_day))
    assert exposures.plant_ids == (NOT_STATED,) and not exposures.climate.known.any()
    assert exposures.by_plant.shots.tolist() == [7_000]
    assert not any(NOT_STATED in finding.problem for finding in exposures.findings)


@pytest.mark.parametrize("shown", [(5_000,), (5_000, 5_000), (5_000, 3)])
def test_a_counter_that_shows_no_use_is_told(shown: tuple[int, ...]):
    used, findings = judged(tools=[HOME], counter=monthly(*shown))
    assert used["runs"].empty
    (finding,) = about(findings, "tools", "tool_id")
    assert finding.severity == "note" and "no shot between two" in finding.problem


def test_reckoned_runs_pass_the_rules_on_runs():
    events = [event("2020-03-20", "move", plant_id="Salt Quay"), event("2023-05-02", "retire", cause="wear")]
    counter = [*monthly(0, 40_000, 80_000), reading("2022-03-31", 180_000), reading("2023-06-30", 200_000)]
    used, _ = judged(tools=[tool(plant_id="Heath", cycle_time_s="45")], counter=counter, events=events)
    passed, findings = judge_runs(used)
    assert passed["runs"].equals(used["runs"])
    assert findings == []


def _exposed(sheets: Frames) -> float:
    frames, _ = judge_counters(sheets)
    frames, _ = judge_runs(frames)
    records = Records(frames, ())
    exposures = build_exposures(records.as_of(records.latest_day))
    assert NOT_STATED in exposures.resins.resin_id
    assert not exposures.resins.described[exposures.resins.resin_id.index(NOT_STATED)]
    assert not exposures.resins.described[exposures.resins.resin_id.index(NOT_STATED)]
    return float(exposures.runs.shots.sum())


def test_exposures_take_reckoned_runs():
    events = [
        event("2020-03-20", "move", plant_id="Salt Quay"), event("2020-05-31", "retool", cause="wear"), event("2020-08-02", "store"),
        event("2020-10-10", "take_out"),
    ]  # fmt: skip
    counter = monthly(4_000, 9_000, 16_000, 20_000, 27_000, 5, 4_000, 4_400, 4_400, 6_000)
    assert _exposed(frames_of(tools=[HOME], counter=counter, events=events)) == pytest.approx(23_000 + 5_995)


def test_records_can_be_put_together_from_a_counter_alone():
    records = records_of(fleet(tools=[HOME], runs=[], counter=monthly(4_000, 9_000, 16_000, 12, 6_012)))
    assert records.tables["runs"]["shots"].sum() == 18_000
    half_way = records.as_of(dt.date(2020, 3, 31))
    assert half_way.tables["runs"]["shots"].sum() == 12_000
    assert build_exposures(half_way).runs.shots.sum() == 12_000


def test_how_often_a_counter_was_read_changes_neither_shots_nor_set_ups():
    often = [reading(f"{day:%Y-%m-%d}", 100 * i) for i, day in enumerate(pd.date_range("2020-01-31", "2020-06-29"))]
    seldom = [often[0], often[40], often[-1]]
    sums = []
    for counter in (often, seldom):
        frames, _ = judge_runs(judged(tools=[HOME], counter=counter)[0])
        records = Records(frames, ())
        runs = build_exposures(records.as_of(records.latest_day)).runs
        sums.append((runs.shots.sum(), runs.setups.sum()))
    assert sums[0] == sums[1] == (15_000, 1)


@checked
@given(st.integers(0, 2**32 - 1))
def test_no_day_is_counted_twice_and_no_shot_lost(seed: int):
    rng = np.random.default_rng(seed)
    truth = simulate(rng, readings=15)
    latest = int(truth.day[-1])
    kinds = rng.choice(["move", "store", "take_out"], size=6)
    days = rng.choice(latest, size=6, replace=False)
    dates = (f"{pd.Timestamp('2020-01-31') + pd.Timedelta(days=int(day)):%Y-%m-%d}" for day in days)
    places = rng.choice(["Heath", "Salt Quay"], size=6)
    events = [event(date, str(kind), plant_id=str(place)) for date, kind, place in zip(dates, kinds, places, strict=True)]
    used, _ = judged(tools=[HOME], counter=truth.cells(), events=events)
    runs = used["runs"].sort_values("started_on")
    assert runs["shots"].sum() == pytest.approx(truth.made.sum())
    assert (runs["shots"] > 0).all() and (runs["ended_on"] >= runs["started_on"]).all()
    assert (runs["started_on"].iloc[1:].to_numpy() > runs["ended_on"].iloc[:-1].to_numpy()).all()


def test_records_of_a_counter_alone_have_a_fingerprint_that_follows_it():
    def fingerprint(counter: list[Cells]) -> str:
        frames, _ = judge_runs(judged(tools=[HOME], counter=counter)[0])
        return Records(frames, ()).fingerprint

    assert fingerprint(monthly(0, 3_000, 7_000)) == fingerprint(monthly(0, 3_000, 7_000)[::-1])
    assert fingerprint(monthly(0, 3_000, 7_000)) != fingerprint(monthly(0, 3_000, 7_001))


def test_reckoned_runs_stand_in_the_order_of_their_keys():
    tools = [tool(name, plant_id="Salt Quay") for name in ("T2", "T10", "ł 3", "T1")]
    counter = [cells for name in ("T2", "ł 3", "T10", "T1") for cells in monthly(0, 1_000, 2_000, 3_000, tool_id=name)]
    events = [event("2020-03-20", "move", tool_id=name, plant_id="Heath") for name in ("T2", "T10")]
    alone = judged(tools=tools, counter=counter, events=events)[0]["runs"]
    assert alone.equals(canonical_order(TABLES["runs"], alone))
    beside = judged(tools=tools, counter=counter[:-4], events=events, runs=[run("2020-01-10", "2020-01-19")])[0]["runs"]
    assert beside.equals(canonical_order(TABLES["runs"], beside)) and beside["tool_id"].iloc[0] == "T1"
