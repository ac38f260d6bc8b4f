"""The clock is that of a plain walk through the days, and no shot is lost."""

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pytest
from day_by_day import Episode, Shots, walk
from histories import Cells, event, exposures_of, tool
from hypothesis import assume, given
from hypothesis import strategies as st
from random_histories import END, OTHERS, Tables, checked, exposed, fleets, iso

from wearfit.exposures.lives import CENSORED, EXACT, INTERVAL
from wearfit.exposures.places import SWEATING_STEP
from wearfit.exposures.table import Exposures

Array = np.ndarray


SETUP_SHOTS, RHO, PHI = 40.0, 0.6, 0.8
RESIN_WEAR = {"R1": 1.0, "R2": 1.7}
PLANT_WEAR = {"Heath": 0.9, "Salt Quay": 1.3}


def _kept(refurbishment: int) -> float:
    return 1.0 - RHO * PHI ** (refurbishment - 1)


def _wear_of(exposures: Exposures):
    """The wear of some shots, by names; the sweating of a month as the climate of its plant has it."""
    climate = exposures.climate

    def wear(shots: Shots) -> float:
        plant = exposures.plant_ids.index(shots.row["plant_id"])
        departure = 0.0
        if shots.day is not None:
            month = int((np.datetime64(shots.day, "M") - climate.months[0]).astype(int))
            departure = float(climate.sweating[plant, month] - climate.sweating_season[plant].mean())
            departure = SWEATING_STEP * round(departure / SWEATING_STEP)
        rate = PLANT_WEAR[shots.row["plant_id"]] * np.exp(departure) * RESIN_WEAR[shots.row["resin_id"]] * 1.1**shots.modifications
        return float(rate * (shots.shots + SETUP_SHOTS * shots.setups))

    return wear


def _clock(exposures: Exposures) -> tuple[Array, Array, Array]:
    """Wear spent at entry, at the last good day and at the end of each row, from the cells: V = K sum(wear / K) over the chain."""
    places, jobs, cells, h = exposures.places, exposures.jobs, exposures.cells, exposures.history
    place = np.array([PLANT_WEAR[name] for name in exposures.plant_ids])[places.plant] * np.exp(places.months.sweating)
    job = np.array([RESIN_WEAR[name] for name in exposures.resins.resin_id])[jobs.resin] * 1.1**jobs.modifications
    wear = place[cells.place] * job[cells.job] * (cells.shots + SETUP_SHOTS * cells.setups)
    by_part = np.zeros((len(h.source), 3))
    np.add.at(by_part, (cells.episode, cells.part), wear)
    kept = np.array([share * np.prod([_kept(j + 1) for j in range(repeat)]) for share, repeat in zip(h.kept, h.repeat, strict=True)])
    spent = by_part.sum(axis=1)
    age = np.array([kept[i] * (spent[h.chain[i] : i] / kept[h.chain[i] : i]).sum() for i in range(len(spent))])
    return age + by_part[:, 0], age + by_part[:, :2].sum(axis=1), age + spent


def _walked(tables: Tables, exposures: Exposures) -> list[Episode]:
    """The walk of each tool; one whose age at entry is weighed had one shot behind it, which stands for the ages in the cells."""
    wear = _wear_of(exposures)
    reckoned = dict(zip(exposures.tools.tool_id, exposures.past.reckoned, strict=True))
    tools = [{**row, "opening_life_shots": "1"} if reckoned[row["tool_id"]] else row for row in tables["tools"]]
    return [
        episode
        for of_tool in tools
        for episode in walk(
            of_tool, *([r for r in tables[t] if r["tool_id"] == of_tool["tool_id"]] for t in ("runs", "events")), wear, _kept
        )
    ]


def _perhaps_found_in_store(tables: Tables) -> bool:
    """Whether a tool is called worn after it was stored, with no last good day: an interval that the walk does not know."""
    stored = [(row["tool_id"], row["date"]) for row in tables["events"] if row["event"] == "store"]
    worn = [row for row in tables["events"] if row["event"] == "worn" and not row.get("last_good_on")]
    return any(tool == row["tool_id"] and day <= row["date"] for row in worn for tool, day in stored)


@given(fleets())
@checked
def test_the_clock_is_that_of_a_plain_walk_through_the_days(tables: dict[str, Sequence[Cells]]) -> None:
    assume(not _perhaps_found_in_store(tables))
    exposures = exposed(tables)
    assume(len(exposures.events.tool) == len(tables["events"]))  # nor does it know which events the rules take for one, or set aside
    wear, walked = _wear_of(exposures), _walked(tables, exposures)
    kinds = {"censored": CENSORED, "exact": EXACT, "interval": INTERVAL}
    assert exposures.episodes.ending.tolist() == [kinds[e.ending] for e in walked]
    assert exposures.episodes.unstated.tolist() == [e.unstated for e in walked]
    assert exposures.episodes.sudden.tolist() == [e.sudden for e in walked]
    reckoned = exposures.past.reckoned[exposures.episodes.tool]
    assert exposures.known_entry[~reckoned].tolist() == [e.known for e, r in zip(walked, reckoned, strict=True) if not r]
    assert not exposures.known_entry[np.flatnonzero(reckoned)[np.diff(exposures.episodes.tool[reckoned], prepend=-1) > 0]].any()

    entry, good, end = _clock(exposures)
    for row, source in enumerate(exposures.history.source):
        episode = walked[source]
        before = [shots for shots in episode.made if shots.day is None]
        close = {"rel": 1e-6, "abs": 0.05}  # cells are rounded to a thousandth of a shot
        assert entry[row] == pytest.approx(episode.virtual_age + sum(map(wear, before)), **close)
        assert end[row] == pytest.approx(episode.virtual_age + sum(map(wear, episode.made)), **close)
        if episode.ending == "interval":
            assert good[row] == pytest.approx(end[row] - sum(map(wear, episode.in_doubt)), **close)
    assert sorted(set(exposures.history.source.tolist())) == [i for i, e in enumerate(walked) if e.known]


@given(fleets())
@checked
def test_the_last_shot_is_the_last_of_the_walk(tables: dict[str, Sequence[Cells]]) -> None:
    exposures = exposed(tables)
    walked, h = _walked(tables, exposures), exposures.history
    for row, source in enumerate(h.source):
        made = walked[source].made
        if not made:
            assert h.last_place[row] == h.last_job[row] == -1
            continue
        plant, job = exposures.places.plant[h.last_place[row]], h.last_job[row]
        assert exposures.plant_ids[plant] == made[-1].row["plant_id"]
        assert exposures.resins.resin_id[exposures.jobs.resin[job]] == made[-1].row["resin_id"]
        assert exposures.jobs.modifications[job] == made[-1].modifications


# Nothing lost.


def _shots_of_cells(exposures: Exposures) -> dict[str, float]:
    """Shots of the recorded runs by tool, under the first class that each may be of."""
    first = np.unique(exposures.candidates.tool, return_index=True)[1]
    candidate = exposures.history.candidate[exposures.cells.episode]
    counted = np.isin(candidate, first) & (exposures.cells.part > 0)
    tool_of_cell = exposures.candidates.tool[candidate]
    return {name: float(exposures.cells.shots[counted & (tool_of_cell == i)].sum()) for i, name in enumerate(exposures.tools.tool_id)}


@given(fleets())
@checked
def test_shots_are_in_the_cells_or_come_after_the_tool_was_worn_or_retired(tables: dict[str, Sequence[Cells]]) -> None:
    known = {**tables, "tools": [{**row, "opening_life_shots": row.get("opening_life_shots") or "0"} for row in tables["tools"]]}
    exposures = exposed(known)
    in_cells = _shots_of_cells(exposures)
    for name, counted in in_cells.items():
        runs = [row for row in known["runs"] if row["tool_id"] == name]
        events = [row for row in known["events"] if row["tool_id"] == name]
        assert sum(float(row["shots"]) for row in runs) == pytest.approx(counted + _after_worn_or_retired(runs, events), abs=0.05)


def _after_worn_or_retired(runs: Sequence[Cells], events: Sequence[Cells]) -> float:
    """Shots of the days on which the latest of {worn, retire, what renews} was a `worn` or a `retire`."""
    total = 0.0
    rank = {"modify": 0, "worn": 1, "refurbish": 2, "retool": 2, "retire": 3}
    telling = [row for row in events if row["event"] in rank and (row["event"] != "modify" or row["renewed_share"] == "1")]
    telling = sorted(telling, key=lambda row: (row["date"], rank[row["event"]]))
    for row in runs:
        start, end = dt.date.fromisoformat(row["started_on"]), dt.date.fromisoformat(row["ended_on"])
        days = [(start + dt.timedelta(i)).isoformat() for i in range((end - start).days + 1)]
        for day in days:
            before = [e["event"] for e in telling if e["date"] < day or (e["date"] == day and day != row["ended_on"])]
            total += float(row["shots"]) / len(days) if before and before[-1] in ("worn", "retire") else 0.0
    return total


@given(fleets(kinds=("retool", "refurbish", "modify", "service", "move")))
@checked
def test_where_no_tool_was_worn_or_retired_every_shot_is_in_the_cells(tables: dict[str, Sequence[Cells]]) -> None:
    known = {**tables, "tools": [{**row, "opening_life_shots": row.get("opening_life_shots") or "0"} for row in tables["tools"]]}
    exposures = exposed(known)
    for name, counted in _shots_of_cells(exposures).items():
        assert counted == pytest.approx(sum(float(row["shots"]) for row in known["runs"] if row["tool_id"] == name), abs=0.05)
    assert exposures.cells.setups[exposures.cells.part > 0].sum() >= exposures.runs.setups.sum() - 1e-9
    assert exposures.sudden.shots.sum() == pytest.approx(exposures.runs.shots.sum())


@given(fleets(kinds=("service",)), st.integers(0, 10**6), st.sampled_from((0.0, 0.1, 0.5, 0.9, 1.0)))
@checked
def test_an_event_placed_by_its_count_has_as_many_shots_before_it(tables: dict[str, Sequence[Cells]], seed: int, share: float) -> None:
    runs = [row for row in tables["runs"] if row["tool_id"] == "T1"]
    total = sum(int(row["shots"]) for row in runs)
    shots_at = round(share * total) if seed % 2 else seed % (total + 1)
    events = [event(iso(seed % 300), "retool", cause="planned", shots_at=str(shots_at))]
    exposures = exposures_of(runs, events, [tool(opening_shots="0")], END, **OTHERS)
    before = float(exposures.cells.shots[exposures.cells.episode == 0].sum())
    assert before == pytest.approx(shots_at, abs=0.6)  # a date that agrees to half a shot stays
