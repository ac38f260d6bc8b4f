"""Stays in store and long idle times, against a walk through the days and against answers by hand."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

import pytest
from day_by_day import SAME_DAY
from histories import Cells, assert_same, event, exposures_of, live_of, records_of, run, shots_by_part, tool
from hypothesis import given
from hypothesis import strategies as st
from random_histories import END, OTHERS, Tables, checked, exposed, fleets
from random_histories import stood as stood_and_live

from wearfit.exposures.lives import CENSORED, EXACT, INTERVAL
from wearfit.exposures.table import Exposures

NIGHT = dt.timedelta(1)
YEAR = 365.25
PLANTS = [{"plant_id": "Heath", "conditioned": "1"}, {"plant_id": "Quay"}, {"plant_id": "Shed"}]
FIRST, SECOND = run("2020-01-06", "2020-01-15", 1000), run("2020-12-01", "2020-12-10", 500)

Standings = dict[tuple[str, float], int]  # days by (place, how far preserved), idle time with a preservation of -1


def standings(exposures: Exposures) -> list[Standings]:
    """Days that the tools stood by episode, as the exposures have them."""
    found: list[Standings] = [defaultdict(int) for _ in exposures.episodes.tool]
    standing = exposures.standing
    for episode, start, end, plant, preserved, stored in zip(
        standing.episode, standing.start, standing.end, standing.plant, standing.preserved, standing.stored, strict=True
    ):
        found[episode][(*exposures.plant_ids, "")[plant], preserved if stored else -1.0] += round(end - start)
    return [dict(days) for days in found]


def days_by_part(exposures: Exposures) -> list[list[float]]:
    """Days that each row of the likelihood stood: before the records, while known to be good, after."""
    cells, rows = exposures.cells, range(len(exposures.history.source))
    return [[float(cells.years[(cells.episode == row) & (cells.part == part)].sum() * YEAR) for part in range(3)] for row in rows]


# --- against a walk through the nights ---------------------------------------------------------------------------------


def walked(of_tool: Cells, runs: Sequence[Cells], events: Sequence[Cells], last: str) -> list[Standings]:
    """Nights of one tool by episode: each ends on its day, before what happens on it, save a run that has gone on through it."""
    runs = sorted(runs, key=lambda r: r["started_on"])
    events = sorted(events, key=lambda e: (e["date"], SAME_DAY.index(e["event"])))
    found: list[Standings] = [defaultdict(int)]
    plant, store, idle, worn, retired = of_tool.get("plant_id", ""), None, None, False, False
    day, end = min([r["started_on"] for r in runs] + [e["date"] for e in events]), last

    def happen(e: Cells) -> None:
        nonlocal plant, store, idle, worn, retired
        kind, share = e["event"], float(e.get("renewed_share") or 0.0)
        if kind == "store":
            store = [e.get("plant_id") or plant, {"1": 1.0, "0": 0.0}.get(e.get("preserved", ""), 0.5)]
        if kind == "take_out":
            store, idle = None, 0 if idle is not None else None
        if kind == "move" and e.get("plant_id"):
            plant = e["plant_id"]
            if store:
                store[0] = plant
        if kind in ("retool", "refurbish") or (kind == "modify" and share > 0):
            worn = worn and kind == "modify" and share < 1
            found.append(defaultdict(int))
            idle = 0 if idle is not None else None
        worn = worn or kind == "worn"
        retired = retired or kind == "retire"

    night = dt.date.fromisoformat(day)
    while night <= dt.date.fromisoformat(end):
        today = night.isoformat()
        running = [r for r in runs if r["started_on"] < today <= r["ended_on"]]
        if running:
            store = idle = None
        elif store and today > day and not worn and not retired:
            found[-1][store[0], store[1]] += 1
        elif idle is not None:
            idle += 1
            if idle > 60 and not worn and not retired and not store:
                found[-1][plant, -1.0] += 1
        # Of one day: runs that end come first (one of a day is over with them), then events, then runs that begin.
        for r in runs:
            if r["ended_on"] == today:
                plant, idle = r["plant_id"], 0
                store = None
        for e in events:
            if e["date"] == today:
                happen(e)
        for r in runs:
            if r["started_on"] == today < r["ended_on"]:
                store = None
        night += NIGHT
    return [dict(days) for days in found]


@st.composite
def stored_fleets(draw: st.DrawFn) -> dict[str, Sequence[Cells]]:
    """Fleets with stays, their runs further apart than the others'."""
    tables = draw(fleets())
    shift: dict[str, int] = defaultdict(int)
    runs = []
    for row in tables["runs"]:
        shift[row["tool_id"]] += draw(st.sampled_from((0, 0, 70, 150)))
        moved = {c: (dt.date.fromisoformat(row[c]) + NIGHT * shift[row["tool_id"]]).isoformat() for c in ("started_on", "ended_on")}
        runs.append({**row, **moved})
    given_too = {(e["tool_id"], e["date"], e["event"]): e for e in tables["events"]}
    for _ in range(draw(st.integers(0, 6))):
        name, day = draw(st.sampled_from([t["tool_id"] for t in tables["tools"]])), draw(st.integers(0, 800))
        date, kind = (dt.date(2020, 1, 1) + NIGHT * day).isoformat(), draw(st.sampled_from(("store", "store", "take_out", "move")))
        cells = {"plant_id": draw(st.sampled_from(("", "Heath", "Salt Quay"))), "preserved": draw(st.sampled_from(("", "0", "1")))}
        given_too.setdefault((name, date, kind), event(date, kind, name, **cells))
    last = {row["tool_id"]: row["ended_on"] for row in runs}
    given_too = {key: e for key, e in given_too.items() if e["event"] != "retire" or e["date"] > last[e["tool_id"]]}
    retired = {e["tool_id"]: e["date"] for e in given_too.values() if e["event"] == "retire"}
    return {**tables, "runs": runs, "events": [e for e in given_too.values() if e["date"] <= retired.get(e["tool_id"], END)]}


@given(stored_fleets())
@checked
def test_tools_stand_as_in_a_walk_through_the_nights(tables: Tables) -> None:
    exposures = exposed(tables)
    frame = records_of(tables["runs"], tables["events"], tables["tools"], END, **OTHERS).tables["events"]
    used = set(zip(frame["tool_id"], frame["date"].dt.date.astype(str), frame["event"], strict=True))
    # One renewal written twice is one; that is another rule's.
    tables = {**tables, "events": [e for e in tables["events"] if (e["tool_id"], e["date"], e["event"]) in used]}
    expected = [
        episode
        for of_tool in tables["tools"]
        for episode in walked(of_tool, *([r for r in tables[t] if r["tool_id"] == of_tool["tool_id"]] for t in ("runs", "events")), END)
    ]
    assert standings(exposures) == expected


# --- what a stay is to its episode -------------------------------------------------------------------------------------


def stood(*events: Cells, runs: Sequence[Cells] = (FIRST, SECOND), **others: Sequence[Cells]) -> Exposures:
    return exposures_of(runs, events, plants=PLANTS, as_of="2020-12-20", **others)


def test_a_stay_is_at_the_store_and_as_preserved_as_was_written_down() -> None:
    for written, told in (("1", 1.0), ("0", 0.0), ("", 0.5)):
        exposures = stood(event("2020-02-01", "store", plant_id="Shed", preserved=written), event("2020-11-27", "take_out"))
        assert standings(exposures) == [{("Shed", told): 300}]
        assert exposures.storage_jobs.preserved.tolist() == [told]
        place = exposures.cells.place[exposures.cells.years > 0]
        assert exposures.places.plant[place].tolist() == [-1]


def test_a_store_without_a_place_is_the_tools_plant() -> None:
    exposures = stood(event("2020-01-20", "move", plant_id="Quay"), event("2020-02-01", "store"), event("2020-11-27", "take_out"))
    assert standings(exposures) == [{("Quay", 0.5): 300}]
    assert exposures.storage_jobs.log_corrosivity == pytest.approx(exposures.climate.log_corrosivity[exposures.plant_ids.index("Quay")])


def test_the_first_sixty_days_of_a_pause_count_nothing() -> None:
    assert standings(stood()) == [{("Heath", -1.0): (dt.date(2020, 12, 1) - dt.date(2020, 1, 15)).days - 60}]
    assert standings(stood(runs=(FIRST, run("2020-03-15", "2020-12-01")))) == [{}]  # sixty days later
    assert standings(stood(runs=(FIRST, run("2020-03-16", "2020-12-01")))) == [{("Heath", -1.0): 1}]


def test_a_tool_that_was_good_after_it_stood_came_through() -> None:
    (parts, *_) = days_by_part(stood(event("2020-02-01", "store"), event("2020-11-27", "take_out")))
    assert parts == pytest.approx([0, 300, 0])


def test_nobody_has_looked_at_a_tool_that_made_no_shot_since() -> None:
    (parts, *_) = days_by_part(stood(event("2020-02-01", "store"), event("2020-11-27", "take_out"), runs=(FIRST,)))
    assert parts == pytest.approx([0, 0, 300])
    (row,) = stood(event("2020-02-01", "store"), runs=(FIRST,)).history.ending
    assert row == CENSORED


@pytest.mark.parametrize(
    "found",
    [
        event("2020-08-01", "worn"),  # in the crate
        event("2020-11-27", "worn"),  # on the day it was taken out
        event("2020-11-29", "worn", last_good_on="2020-02-01"),
        event("2020-12-05", "retool", cause="wear", last_good_on="2020-02-01"),
    ],
)
def test_found_unusable_is_an_interval_over_the_stay(found: Cells) -> None:
    exposures = stood(event("2020-02-01", "store"), found, event("2020-11-27", "take_out"), runs=(FIRST,))
    assert exposures.episodes.ending[0] == INTERVAL
    days = min((dt.date.fromisoformat(found["date"]) - dt.date(2020, 2, 1)).days, 300)
    assert days_by_part(exposures)[0] == pytest.approx([0, 0, days])
    assert shots_by_part(exposures)[0] == [0, 1000, 0]
    assert exposures.wear_outs == 1


def test_a_stay_alone_can_hold_a_wear_out() -> None:
    """A renewed tool that made no shot before it was stored."""
    events = [event("2020-01-20", "retool", cause="planned"), event("2020-02-01", "store"), event("2020-08-01", "worn")]
    exposures = stood(*events, runs=(FIRST,))
    assert exposures.episodes.ending.tolist() == [CENSORED, INTERVAL]
    assert days_by_part(exposures)[1] == pytest.approx([0, 0, 182])


def test_last_good_days_that_are_written_down_are_believed() -> None:
    """Looked at in store in May: good then."""
    events = [event("2020-02-01", "store"), event("2020-11-27", "worn", last_good_on="2020-05-01"), event("2020-11-27", "take_out")]
    exposures = stood(*events, runs=(FIRST,))
    assert days_by_part(exposures)[0] == pytest.approx([0, 90, 210])


def test_idle_time_after_the_last_shot_is_no_part_of_a_wear_out_that_came_with_it() -> None:
    exposures = stood(event("2020-10-01", "worn"), runs=(FIRST,))
    assert exposures.episodes.ending.tolist() == [EXACT]
    assert days_by_part(exposures)[0] == [0, 0, 0]


def test_without_a_shot_since_the_last_good_day_idle_time_is_not_what_wore_it() -> None:
    """The whole last run is in doubt, and all that came after it."""
    exposures = stood(event("2020-10-01", "worn", last_good_on="2020-01-20"), runs=(FIRST,))
    assert shots_by_part(exposures)[0] == [0, 0, 1000]
    assert days_by_part(exposures)[0] == pytest.approx([0, 0, (dt.date(2020, 10, 1) - dt.date(2020, 1, 15)).days - 60])


def test_the_last_shot_is_of_a_run_whatever_came_after() -> None:
    runs = [FIRST, run("2020-02-03", "2020-02-12", 500, plant_id="Quay", resin_id="R2")]
    exposures = stood(event("2020-03-01", "store"), runs=runs)
    place, job = exposures.history.last_place[0], exposures.history.last_job[0]
    assert exposures.plant_ids[exposures.places.plant[place]] == "Quay"
    assert exposures.resins.resin_id[exposures.jobs.resin[job]] == "R2"
    assert exposures.by_plant.lives.tolist() == [0, 1, 0]


def test_an_opening_before_the_records_stood_nowhere() -> None:
    exposures = stood(runs=(FIRST,), tools=[tool(commissioned_on="2015-01-01", opening_life_shots="800")])
    assert days_by_part(exposures)[0][0] == 0


@given(fleets(kinds=("retool", "refurbish", "modify", "service", "worn")))
@checked
def test_without_a_store_and_a_long_pause_nothing_is_new(tables: Tables) -> None:
    """Runs lie at most forty days apart: up to the last of them nothing stood."""
    exposures = exposed(tables, max(r["ended_on"] for r in tables["runs"]))
    last = {r["tool_id"]: r["ended_on"] for r in tables["runs"]}
    if min(last.values()) > (dt.date.fromisoformat(max(last.values())) - NIGHT * 60).isoformat():
        assert not len(exposures.storage_jobs.job)
        assert not exposures.cells.years.any()
        assert (exposures.places.plant >= 0).all()


# --- the live tools ----------------------------------------------------------------------------------------------------


def test_a_live_tool_in_store_knows_its_store() -> None:
    live = live_of([FIRST], [event("2020-02-01", "store", plant_id="Quay", preserved="1"), event("2020-03-01", "hold")], plants=PLANTS)
    assert live.in_store.tolist() == [True]
    assert live.store_preserved.tolist() == [1.0]
    quay = stood(event("2020-02-01", "store", plant_id="Quay")).climate
    assert live.store_log_corrosivity == pytest.approx(quay.log_corrosivity[quay.plant_ids.index("Quay")])


def test_a_live_tool_that_was_taken_out_or_ran_since_is_in_no_store() -> None:
    for after in ([event("2020-03-01", "take_out")], []):
        runs = [FIRST] if after else [FIRST, SECOND]
        live = live_of(runs, [event("2020-02-01", "store", plant_id="Quay", preserved="1"), *after], plants=PLANTS)
        assert (live.in_store.tolist(), live.store_log_corrosivity.tolist()) == ([False], [0.0])


def test_a_tool_outside_any_stay_is_as_without_the_events() -> None:
    exposures = stood(event("2020-02-01", "take_out"))
    assert_same(exposures.cells, stood().cells, but=("years", "job"))


def test_what_a_live_tool_stood_since_its_last_shot_is_kept_apart() -> None:
    """Idle from 15 January, of which sixty days count nothing, in store from 1 June to 31 August, idle again to the end of the year."""
    stays = [event("2020-06-01", "store", plant_id="Quay", preserved="1"), event("2020-08-31", "take_out")]
    idle = (dt.date(2020, 6, 1) - dt.date(2020, 1, 15)).days - 60
    again = (dt.date(2020, 12, 31) - dt.date(2020, 8, 31)).days - 60
    live = live_of([FIRST], stays, as_of="2020-12-31", plants=PLANTS)
    assert live.stood_years[0] == pytest.approx([(idle + again) / YEAR, (dt.date(2020, 8, 31) - dt.date(2020, 6, 1)).days / YEAR])
    assert live.stood_preserved.tolist() == [[0.0, 1.0]]
    quay = stood(event("2020-02-01", "store", plant_id="Quay")).climate
    assert live.stood_log_corrosivity[0, 1] == pytest.approx(quay.log_corrosivity[quay.plant_ids.index("Quay")])
    assert live.idle_from.tolist() == [(dt.date(2020, 8, 31) - dt.date(1970, 1, 1)).days + 60]
    used = live_of([FIRST, SECOND], stays, as_of="2020-12-31", plants=PLANTS)
    assert used.stood_years.tolist() == [[0.0, 0.0]]
    assert live_of([FIRST], stays[:1], as_of="2020-12-31", plants=PLANTS).idle_from == pytest.approx([float("nan")], nan_ok=True)


@given(fleets())
@checked
def test_it_is_what_the_likelihood_has_not_seen_it_come_through(tables: Tables) -> None:
    exposures, live = stood_and_live(tables)
    cells = exposures.cells
    for row, source in enumerate(exposures.history.source):
        if exposures.episodes.ending[source] == CENSORED:
            of_live = [i for i, episode in enumerate(live.episode) if episode == source]
            unseen = cells.years[(cells.episode == row) & (cells.part == 2)].sum()
            assert [live.stood_years[i].sum() for i in of_live] == pytest.approx([unseen] * len(of_live), abs=1e-9)
