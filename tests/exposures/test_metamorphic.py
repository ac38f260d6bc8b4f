"""What may not matter does not, no shot is lost, and the clock is that of a plain walk through the days."""

import datetime as dt
from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from histories import Cells, assert_same, event, exposures_of, live_of, run, tool
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from reference import Episode, Shots, walk

from wearfit.exposures.lives import CENSORED, EXACT, INTERVAL
from wearfit.exposures.table import Exposures

Array = np.ndarray
Tables = Mapping[str, Sequence[Cells]]

# The same examples every time, and no clock: other work on the machine must not fail a test.
checked = settings(derandomize=True, deadline=None, max_examples=60)

DAY_ONE = dt.date(2020, 1, 1)
END = "2023-12-31"
CAUSES = ("", "wear", "damage", "planned", "obsolete", "design_change")
KINDS = ("worn", "retool", "refurbish", "modify", "service", "store", "take_out", "move", "hold", "release", "order")
NAMES = ("T1", "T2", "T3")
PLANTS = ({"plant_id": "Heath", "conditioned": "1"}, {"plant_id": "Salt Quay", "coolant_temp_c": "14"})
CLIMATE = tuple({"plant_id": "Salt Quay", "month": f"2020-{m:02d}", "temp_c": str(4 + 2 * m), "rh_pct": "75"} for m in range(1, 13))
OTHERS: Tables = {"plants": PLANTS, "climate": CLIMATE}


def _iso(offset: int) -> str:
    return (DAY_ONE + dt.timedelta(offset)).isoformat()


@st.composite
def _runs(draw: st.DrawFn, tool_id: str) -> list[Cells]:
    """Runs one after the other, some sharing a day with the one before; whole shots a day."""
    day, rows = draw(st.integers(0, 80)), []
    for _ in range(draw(st.integers(1, 5))):
        length = draw(st.one_of(st.just(1), st.integers(2, 70)))
        cells = {
            "plant_id": draw(st.sampled_from(("Heath", "Salt Quay"))), "resin_id": draw(st.sampled_from(("R1", "R2"))),
            "setups": draw(st.sampled_from(("", "", "0", "1"))), "cycle_time_s": draw(st.sampled_from(("", "20", "30", "50"))),
        }  # fmt: skip
        rows.append(run(_iso(day), _iso(day + length - 1), draw(st.integers(1, 300)) * length, tool_id, **cells))
        day += length - 1 + draw(st.sampled_from((0, 1, 1, 2, 4, 5, 40)))
    keys = [(row["plant_id"], row["resin_id"], row["started_on"]) for row in rows]
    assume(len(set(keys)) == len(keys))
    return rows


def _near(rows: Sequence[Cells]) -> st.SearchStrategy[int]:
    """Days anywhere, but often those on which a run begins or ends."""
    edges = [(dt.date.fromisoformat(row[column]) - DAY_ONE).days + shift for row in rows for column in ("started_on", "ended_on") for shift in (-1, 0, 1)]
    return st.one_of(st.sampled_from(sorted({max(day, 0) for day in edges})), st.integers(0, 300))


@st.composite
def _events(draw: st.DrawFn, tool_id: str, rows: Sequence[Cells], kinds: Sequence[str]) -> list[Cells]:
    found: dict[tuple[int, str], Cells] = {}
    for _ in range(draw(st.integers(0, 6))):
        day, kind = draw(_near(rows)), draw(st.sampled_from(kinds))
        cells = {"cause": draw(st.sampled_from(CAUSES)), "renewed_share": draw(st.sampled_from(("", "0.25", "0.5", "1")))}
        last_good = draw(st.one_of(st.none(), _near(rows)))
        if last_good is not None and last_good <= day:
            cells["last_good_on"] = _iso(last_good)
        if kind == "move":
            cells["plant_id"] = draw(st.sampled_from(("", "Heath", "Salt Quay")))
        found[day, kind] = event(_iso(day), kind, tool_id, **cells)
    if "retire" in kinds or draw(st.booleans()):
        last = dt.date.fromisoformat(rows[-1]["started_on"])
        day = max([(last - DAY_ONE).days + draw(st.integers(0, 80)), *(key[0] for key in found)])
        if "worn" in kinds:
            found[day, "retire"] = event(_iso(day), "retire", tool_id, cause=draw(st.sampled_from(CAUSES)))
    return list(found.values())


@st.composite
def fleets(draw: st.DrawFn, kinds: Sequence[str] = KINDS) -> dict[str, Sequence[Cells]]:
    names = NAMES[: draw(st.integers(1, 3))]
    runs = {name: draw(_runs(name)) for name in names}
    events = {name: draw(_events(name, runs[name], kinds)) for name in names}
    tools = [
        tool(
            name,
            service_class=draw(st.sampled_from(("103", "101", ""))),
            cavity_steel=draw(st.sampled_from(("", "stainless"))),
            opening_life_shots=draw(st.sampled_from(("", "0", "2500"))),
        )
        for name in names
    ]
    return {"tools": tools, "runs": [r for name in names for r in runs[name]], "events": [e for name in names for e in events[name]]}


def exposed(tables: Tables, as_of: str = END) -> Exposures:
    return exposures_of(tables["runs"], tables["events"], tables["tools"], as_of, **OTHERS)


SEEN_BY_THE_MODEL = ("places", "jobs", "candidates", "episodes", "known_entry", "history", "cells", "sudden", "by_plant", "climate", "resins")


def assert_same_to_the_model(one: Exposures, other: Exposures) -> None:
    for name in SEEN_BY_THE_MODEL:
        assert_same(getattr(one, name), getattr(other, name))
    assert (one.stated_wear, one.stated_other) == (other.stated_wear, other.stated_other)


# What may not matter.


@given(fleets(), st.randoms(use_true_random=False))
@checked
def test_the_order_of_rows_does_not_matter(tables: dict[str, Sequence[Cells]], random) -> None:
    shuffled = {name: random.sample(rows, len(rows)) for name, rows in tables.items()}
    assert_same(exposed(shuffled), exposed(tables))
    assert_same(
        live_of(shuffled["runs"], shuffled["events"], shuffled["tools"], END, **OTHERS),
        live_of(tables["runs"], tables["events"], tables["tools"], END, **OTHERS),
    )


def _renamed(tables: Tables, names: Mapping[str, str]) -> dict[str, list[Cells]]:
    return {table: [{**row, "tool_id": names[row["tool_id"]]} for row in rows] for table, rows in tables.items()}


@given(fleets())
@checked
def test_names_do_not_matter_where_their_order_stays(tables: dict[str, Sequence[Cells]]) -> None:
    renamed = exposed(_renamed(tables, {"T1": "a tool", "T2": "b", "T3": "żuraw 9"}))
    assert_same(renamed, exposed(tables), but=("tools.tool_id", "findings"))


def _by_tool(exposures: Exposures) -> dict[str, list[tuple[object, ...]]]:
    """Each tool's rows of the likelihood with their cells, written with names in place of indices."""
    h, cells, jobs = exposures.history, exposures.cells, exposures.jobs
    found: dict[str, list[tuple[object, ...]]] = {name: [] for name in exposures.tools.tool_id}
    for row, candidate in enumerate(h.candidate):
        inside = range(h.cell_start[row], h.cell_stop[row])
        conditions = sorted(
            (
                int(cells.part[i]), int(exposures.places.plant[cells.place[i]]), float(exposures.places.months.sweating[cells.place[i]]),
                int(jobs.resin[cells.job[i]]), int(jobs.steel_group[cells.job[i]]), int(jobs.modifications[cells.job[i]]),
                float(jobs.speed[cells.job[i]]), float(cells.shots[i]), float(cells.setups[i]),
            )
            for i in inside
        )  # fmt: skip
        found[exposures.tools.tool_id[exposures.candidates.tool[candidate]]].append(
            (
                int(exposures.candidates.service_class[candidate]), row - int(h.chain[row]), int(h.repeat[row]), float(h.kept[row]),
                int(h.ending[row]), bool(h.unstated[row]), conditions,
            )
        )  # fmt: skip
    return found


@given(fleets())
@checked
def test_names_do_not_matter_where_their_order_turns(tables: dict[str, Sequence[Cells]]) -> None:
    names = {"T1": "C", "T2": "B", "T3": "A"}
    before, after = _by_tool(exposed(tables)), _by_tool(exposed(_renamed(tables, names)))
    assert after == {names[name]: rows for name, rows in before.items()}


@given(fleets(), st.data())
@checked
def test_a_run_split_in_two_on_consecutive_days_changes_nothing(tables: dict[str, Sequence[Cells]], data: st.DataObject) -> None:
    taken = {(row["tool_id"], row["date"]) for row in tables["events"]}
    splits = [
        (i, first.isoformat(), (first + dt.timedelta(1)).isoformat(), share)
        for i, row in enumerate(tables["runs"])
        for first, share in _first_halves(row)
        # Where an event lies on the last day of the first half, that half's end says that it came after that day.
        if (row["tool_id"], first.isoformat()) not in taken
    ]
    assume(splits)
    i, first, second, share = data.draw(st.sampled_from(splits))
    whole = tables["runs"][i]
    shots = round(float(whole["shots"]) * share)
    halves = [
        {**whole, "ended_on": first, "shots": str(shots)},
        {**whole, "started_on": second, "shots": str(int(whole["shots"]) - shots), "setups": "0" if whole["setups"] else ""},
    ]
    split = {**tables, "runs": [*tables["runs"][:i], *halves, *tables["runs"][i + 1 :]]}
    assert_same_to_the_model(exposed(split), exposed(tables))
    one, other = (live_of(t["runs"], t["events"], t["tools"], END, **OTHERS) for t in (tables, split))
    np.testing.assert_array_equal(one.status, other.status)
    np.testing.assert_array_equal(one.plant, other.plant)
    np.testing.assert_allclose(one.shots_this_life, other.shots_this_life, rtol=1e-12)
    np.testing.assert_allclose(one.recent_shots, other.recent_shots, rtol=1e-9, atol=1e-9)


def _first_halves(row: Cells) -> list[tuple[dt.date, float]]:
    start, end = dt.date.fromisoformat(row["started_on"]), dt.date.fromisoformat(row["ended_on"])
    days = (end - start).days + 1
    return [(start + dt.timedelta(n - 1), n / days) for n in range(1, days)]


@given(fleets(), st.integers(0, 400))
@checked
def test_the_records_cut_at_a_day_are_those_written_by_that_day(tables: dict[str, Sequence[Cells]], offset: int) -> None:
    day = _iso(offset)
    known = [_as_written_by(row, day) for row in tables["runs"] if row["started_on"] <= day]
    by_then = {**tables, "runs": known, "events": [row for row in tables["events"] if row["date"] <= day]}
    one, other = exposed(tables, day), exposed(by_then, day)
    for name in ("places", "jobs", "candidates", "episodes", "known_entry", "history", "cells"):
        assert_same(getattr(one, name), getattr(other, name))
    np.testing.assert_allclose(one.sudden.shots, other.sudden.shots)
    np.testing.assert_array_equal(one.sudden.stops, other.sudden.stops)


def _as_written_by(row: Cells, day: str) -> Cells:
    if row["ended_on"] <= day:
        return row
    start, end, now = (dt.date.fromisoformat(d) for d in (row["started_on"], row["ended_on"], day))
    made = int(row["shots"]) // ((end - start).days + 1) * ((now - start).days + 1)
    return {**row, "ended_on": day, "shots": str(made)}


@given(fleets())
@checked
def test_a_later_day_on_which_nothing_was_recorded_changes_no_cell(tables: dict[str, Sequence[Cells]]) -> None:
    sooner, later = exposed(tables, "2022-12-31"), exposed(tables, END)
    for name in ("places", "jobs", "episodes", "history", "cells", "sudden"):
        assert_same(getattr(sooner, name), getattr(later, name))


# The clock.

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
    wear = _wear_of(exposures)
    return [
        episode
        for of_tool in tables["tools"]
        for episode in walk(of_tool, *([r for r in tables[t] if r["tool_id"] == of_tool["tool_id"]] for t in ("runs", "events")), wear, _kept)
    ]


@given(fleets())
@checked
def test_the_clock_is_that_of_a_plain_walk_through_the_days(tables: dict[str, Sequence[Cells]]) -> None:
    exposures = exposed(tables)
    wear, walked = _wear_of(exposures), _walked(tables, exposures)
    kinds = {"censored": CENSORED, "exact": EXACT, "interval": INTERVAL}
    assert exposures.episodes.ending.tolist() == [kinds[e.ending] for e in walked]
    assert exposures.episodes.unstated.tolist() == [e.unstated for e in walked]
    assert exposures.episodes.sudden.tolist() == [e.sudden for e in walked]
    assert exposures.known_entry.tolist() == [e.known for e in walked]

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
    events = [event(_iso(seed % 300), "retool", cause="planned", shots_at=str(shots_at))]
    exposures = exposures_of(runs, events, [tool(opening_shots="0")], END, **OTHERS)
    before = float(exposures.cells.shots[exposures.cells.episode == 0].sum())
    assert before == pytest.approx(shots_at, abs=0.6)  # a date that agrees to half a shot stays
