"""What may not matter does not: order of rows, names, how a run is written down, when the records are looked at."""

import datetime as dt
from collections.abc import Mapping, Sequence

import numpy as np
from histories import Cells, assert_same
from hypothesis import assume, given
from hypothesis import strategies as st
from random_histories import END, Tables, checked, exposed, fleets, iso, stood

from wearfit.exposures.table import Exposures

SEEN_BY_THE_MODEL = (
    "places",
    "jobs",
    "storage_jobs",
    "candidates",
    "episodes",
    "known_entry",
    "history",
    "cells",
    "sudden",
    "by_plant",
    "climate",
    "resins",
)


def assert_same_to_the_model(one: Exposures, other: Exposures) -> None:
    for name in SEEN_BY_THE_MODEL:
        assert_same(getattr(one, name), getattr(other, name))
    assert (one.stated_wear, one.stated_other) == (other.stated_wear, other.stated_other)


@given(fleets(), st.randoms(use_true_random=False))
@checked
def test_the_order_of_rows_does_not_matter(tables: dict[str, Sequence[Cells]], random) -> None:
    shuffled = {name: random.sample(rows, len(rows)) for name, rows in tables.items()}
    for one, other in zip(stood(shuffled), stood(tables), strict=True):
        assert_same(one, other)


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
                int(cells.part[i]),
                int(exposures.places.plant[cells.place[i]]),
                float(exposures.places.months.sweating[cells.place[i]]),
                int(jobs.resin[cells.job[i]]),
                int(jobs.steel_group[cells.job[i]]),
                int(jobs.modifications[cells.job[i]]),
                float(jobs.speed[cells.job[i]]),
                float(cells.shots[i]),
                float(cells.setups[i]),
                float(cells.years[i]),
            )
            for i in inside
        )
        found[exposures.tools.tool_id[exposures.candidates.tool[candidate]]].append(
            (
                int(exposures.candidates.service_class[candidate]),
                row - int(h.chain[row]),
                int(h.repeat[row]),
                float(h.kept[row]),
                int(h.ending[row]),
                bool(h.unstated[row]),
                conditions,
            )
        )
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
    (exposures, one), (exposures_split, other) = stood(tables), stood(split)
    assert_same_to_the_model(exposures_split, exposures)
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
    day = iso(offset)
    known = [_as_written_by(row, day) for row in tables["runs"] if row["started_on"] <= day]
    by_then = {**tables, "runs": known, "events": [row for row in tables["events"] if row["date"] <= day]}
    one, other = exposed(tables, day), exposed(by_then, day)
    for name in ("places", "jobs", "storage_jobs", "candidates", "episodes", "known_entry", "history", "cells"):
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
def test_a_later_day_on_which_nothing_was_recorded_changes_no_cell_but_how_long_tools_stood(tables: dict[str, Sequence[Cells]]) -> None:
    sooner, later = exposed(tables, "2022-12-31"), exposed(tables, END)
    for name in ("places", "jobs", "storage_jobs", "episodes", "history", "sudden"):
        assert_same(getattr(sooner, name), getattr(later, name))
    assert_same(sooner.cells, later.cells, but=("years",))
    longer = later.cells.years - sooner.cells.years
    assert ((np.abs(longer) < 1e-9) | (np.abs(longer - 365 / 365.25) < 1e-9)).all()
    # And only where nobody has looked since.
    assert (later.cells.part[longer > 0.5] == 2).all()
