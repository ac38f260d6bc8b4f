"""Shots gathered by life, part and conditions; lives as rows of the likelihood."""

import numpy as np
import pytest
from histories import Cells, event, exposures_of, run, shots_by_life, shots_by_part, tool

from wearfit.exposures.lives import CENSORED
from wearfit.exposures.past import OPENINGS, OPENINGS_OF_UNKNOWN_CLASS
from wearfit.exposures.pieces import SPEED_STEP
from wearfit.exposures.places import YEARLY_MEAN
from wearfit.exposures.table import Exposures

FIRST = run("2020-01-06", "2020-01-15", 1000)
SECOND = run("2020-02-03", "2020-02-12", 500)
OLD = {"commissioned_on": "2015-01-01"}


def conditions(exposures: Exposures) -> list[tuple[int, str, str, float]]:
    """(row, plant, resin, shots) of each cell of shots."""
    cells, places, jobs = exposures.cells, exposures.places, exposures.jobs
    plants, resins = (*exposures.plant_ids, ""), (*exposures.resins.resin_id, "")
    return [
        (int(e), plants[places.plant[p]], resins[jobs.resin[j]], float(s))
        for e, p, j, s, years in zip(cells.episode, cells.place, cells.job, cells.shots, cells.years, strict=True)
        if years == 0
    ]


def made(exposures: Exposures) -> np.ndarray:
    """Which cells are of shots, not of time that a tool stood."""
    return np.asarray(exposures.cells.years == 0)


def test_runs_under_like_conditions_share_a_cell() -> None:
    exposures = exposures_of([FIRST, run("2020-01-20", "2020-01-24", 70)])
    assert conditions(exposures) == [(0, "Heath", "R1", 1070)]
    assert exposures.cells.setups[made(exposures)].tolist() == [2]


def test_plant_month_resin_and_tool_keep_cells_apart() -> None:
    runs = [
        FIRST,
        run("2020-01-16", "2020-01-17", 1, plant_id="Salt Quay"),
        run("2020-01-18", "2020-01-19", 2, resin_id="R2"),
        run("2020-07-03", "2020-07-12", 500),
        run("2020-01-06", "2020-01-15", 4, tool_id="T2"),
    ]
    plants = [{"plant_id": "Heath", "coolant_temp_c": "14"}, {"plant_id": "Salt Quay", "conditioned": "1"}]
    air = [{"plant_id": "Heath", "month": f"2019-{m:02d}", "temp_c": str(4 + 2 * m), "rh_pct": "75"} for m in range(1, 13)]
    exposures = exposures_of(runs, tools=[tool(), tool("T2")], plants=plants, climate=air)
    assert sorted(conditions(exposures)) == [
        (0, "Heath", "R1", 500),
        (0, "Heath", "R1", 1000),
        (0, "Heath", "R2", 2),
        (0, "Salt Quay", "R1", 1),
        (1, "Heath", "R1", 4),
    ]
    assert (exposures.places.plant >= 0).sum() == 3
    assert len(exposures.jobs.resin) - len(exposures.storage_jobs.job) == 2


def test_months_under_like_conditions_share_a_cell() -> None:
    """In a conditioned hall, all months."""
    assert conditions(exposures_of([FIRST, SECOND])) == [(0, "Heath", "R1", 1500)]


def test_cells_lie_in_order_and_rows_bound_them() -> None:
    events = [
        event("2020-01-10", "retool", cause="wear", last_good_on="2020-01-08"),
        event("2020-02-05", "modify"),
        event("2020-02-08", "refurbish"),
    ]
    exposures = exposures_of([FIRST, SECOND], events, [tool(**OLD, opening_life_shots="50"), tool("T2", opening_life_shots="0")])
    cells, rows = exposures.cells, exposures.history
    order = np.lexsort((cells.job, cells.place, cells.part, cells.episode))
    np.testing.assert_array_equal(order, np.arange(len(order)))
    for row in range(len(rows.source)):
        bounds = [rows.cell_start[row], rows.cell_entry[row], rows.cell_good[row], rows.cell_stop[row]]
        assert bounds == sorted(bounds)
        for part in range(3):
            inside = slice(bounds[part], bounds[part + 1])
            assert (cells.episode[inside] == row).all()
            assert (cells.part[inside] == part).all()
    assert rows.cell_stop[-1] == len(cells.shots)


def test_set_ups_stay_with_the_first_stretch_of_a_run() -> None:
    exposures = exposures_of([FIRST], [event("2020-01-10", "retool", cause="planned")])
    assert exposures.cells.setups[made(exposures)].tolist() == [1, 0]


# The last shot.


def last_conditions(exposures: Exposures, row: int = 0) -> tuple[str, str, int]:
    place, job = exposures.history.last_place[row], exposures.history.last_job[row]
    return (
        exposures.plant_ids[exposures.places.plant[place]],
        exposures.resins.resin_id[exposures.jobs.resin[job]],
        int(exposures.jobs.modifications[job]),
    )


def test_the_last_shot_is_the_last_on_or_before_the_wear_out() -> None:
    runs = [FIRST, run("2020-02-03", "2020-02-12", 500, plant_id="Salt Quay", resin_id="R2")]
    assert last_conditions(exposures_of(runs, [event("2020-03-01", "worn")])) == ("Salt Quay", "R2", 0)
    assert last_conditions(exposures_of(runs, [event("2020-02-03", "worn")])) == ("Heath", "R1", 0)
    assert last_conditions(exposures_of(runs, [event("2020-02-04", "worn")])) == ("Salt Quay", "R2", 0)
    assert last_conditions(exposures_of(runs, [event("2020-02-04", "modify"), event("2020-02-20", "worn")])) == ("Salt Quay", "R2", 1)


def test_a_life_without_a_shot_has_no_last_one() -> None:
    exposures = exposures_of([FIRST], [event("2020-02-01", "retool", cause="wear")])
    assert exposures.history.last_place[1] == exposures.history.last_job[1] == -1


def test_a_wear_out_without_a_shot_behind_it_is_censored_with_a_finding() -> None:
    events = [event("2020-02-01", "retool", cause="wear"), event("2020-05-01", "retool", cause="wear")]
    exposures = exposures_of([FIRST], events)
    assert exposures.wear_outs == 1
    assert exposures.episodes.ending[1] == CENSORED
    (finding,) = (f for f in exposures.findings if f.table == "events")
    assert finding.value == "T1" and "of T1 is recorded" in finding.problem


def test_an_unstated_renewal_without_a_shot_behind_it_is_no_mixture() -> None:
    exposures = exposures_of([FIRST], [event("2020-02-01", "retool", cause="wear"), event("2020-05-01", "retool")])
    assert len(exposures.episodes.tool) == 3
    assert not exposures.episodes.unstated.any()
    assert not [f for f in exposures.findings if f.table == "events"]


def test_an_opening_alone_does_not_place_a_wear_out() -> None:
    exposures = exposures_of([FIRST], [event("2020-01-02", "retool", cause="wear")], [tool(**OLD, opening_life_shots="800")])
    assert exposures.episodes.ending[0] == CENSORED


# Shots before the records.


def test_a_known_opening_is_the_age_at_which_the_records_begin() -> None:
    exposures = exposures_of([FIRST, SECOND], [event("2020-02-20", "retool", cause="wear")], [tool(**OLD, opening_life_shots="800")])
    assert shots_by_part(exposures) == [[800, 1500, 0], [0, 0, 0]]
    assert exposures.history.cell_entry[0] - exposures.history.cell_start[0] == 1
    assert exposures.known_entry.tolist() == [True, True]


def test_an_opening_lies_under_the_conditions_of_the_first_run_on_the_yearly_mean() -> None:
    runs = [run("2020-01-06", "2020-01-15", 1000, plant_id="Salt Quay", resin_id="R2", cycle_time_s="20"), SECOND]
    damp = [{"plant_id": "Salt Quay", "month": f"2019-{month:02d}", "temp_c": str(10 + month), "rh_pct": "85"} for month in range(1, 13)]
    plants = [{"plant_id": "Heath"}, {"plant_id": "Salt Quay", "coolant_temp_c": "12"}]
    exposures = exposures_of(runs, tools=[tool(**OLD, opening_life_shots="800", cycle_time_s="40")], climate=damp, plants=plants)
    opening = exposures.cells.part == 0
    assert [c for c, is_opening in zip(conditions(exposures), opening[made(exposures)], strict=True) if is_opening] == [
        (0, "Salt Quay", "R2", 800)
    ]
    place, job = exposures.cells.place[opening][0], exposures.cells.job[opening][0]
    assert exposures.places.months.sweating[place] == 0
    assert exposures.jobs.speed[job] == 0
    january = exposures.places.months.sweating[exposures.cells.place[exposures.cells.part == 1]]
    assert (january != 0).any()


def test_the_opening_belongs_to_the_life_that_the_first_run_continues() -> None:
    """`opening_life_shots` counts from the last renewal before the first recorded run, recorded or not."""
    tools = [tool(**OLD, opening_shots="5000", opening_life_shots="800")]
    exposures = exposures_of([FIRST], [event("2019-06-01", "retool", cause="planned")], tools)
    assert shots_by_part(exposures) == [[0, 0, 0], [800, 1000, 0]]


def test_an_opening_without_a_recorded_run_lies_at_the_tools_own_plant() -> None:
    tools = [tool(), tool("T2", **OLD, opening_life_shots="800", plant_id="Salt Quay")]
    exposures = exposures_of([FIRST], tools=tools)
    assert shots_by_part(exposures)[1] == [800, 0, 0]
    assert (1, "Salt Quay", "", 800) in conditions(exposures)
    nowhere = exposures_of([FIRST], tools=[tool(), tool("T2", **OLD, opening_life_shots="800")])
    assert nowhere.known_entry.tolist() == [True, False]
    assert [f.value for f in nowhere.findings if f.column == "opening_life_shots"] == ["T2"]


def test_a_life_of_unknown_age_is_weighed_at_several_ages_until_the_next_retool() -> None:
    events = [
        event("2020-01-10", "refurbish", cause="wear"),
        event("2020-01-12", "modify", renewed_share="0.5"),
        event("2020-02-05", "retool", cause="planned"),
        event("2020-02-08", "refurbish", cause="wear"),
    ]
    exposures = exposures_of([FIRST, SECOND], events, [tool(**OLD), tool("T2", opening_life_shots="0")])
    assert exposures.known_entry.tolist() == [False, False, False, True, True, True]
    h = exposures.history
    assert h.source.tolist() == [0, 1, 2, 3, 4] * OPENINGS + [5]
    assert h.chain.tolist() == [5 * (i // 5) + (0 if i % 5 < 3 else 3) for i in range(5 * OPENINGS)] + [5 * OPENINGS]
    # One shot stands for those of the opening, which the model weighs.
    assert (h.cell_entry - h.cell_start).tolist() == [1, 0, 0, 0, 0] * OPENINGS + [0]
    assert shots_by_life(exposures)[:5] == pytest.approx([401, 200, 500, 150, 250])
    assert exposures.lives == 5


# Tools of unknown class.


def test_a_tool_of_unknown_class_has_each_life_under_each_class() -> None:
    events = [event("2020-01-10", "refurbish", cause="wear")]
    exposures = exposures_of([FIRST], events, [tool(service_class="", cavity_steel=""), tool("T2", opening_life_shots="0")])
    h = exposures.history
    assert h.candidate.tolist() == [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5]
    assert h.source.tolist() == [0, 1] * 5 + [2]
    assert h.chain.tolist() == [0, 0, 2, 2, 4, 4, 6, 6, 8, 8, 10]
    assert h.repeat.tolist() == [0, 1] * 5 + [0]
    assert shots_by_life(exposures) == pytest.approx([400, 600] * 5 + [0])
    # Filler wears soft and hard steels differently, so the classes' usual steels keep the jobs apart.
    groups = exposures.jobs.steel_group[exposures.cells.job[made(exposures)]]
    assert groups.tolist() == [1, 1, 1, 1, 0, 0, 0, 0, 0, 0]


def test_a_tool_of_unknown_class_and_age_is_weighed_at_fewer_ages_under_every_class() -> None:
    exposures = exposures_of([FIRST, SECOND], [event("2020-02-01", "retool", cause="wear")], [tool(service_class="", **OLD)])
    rows = 5 * OPENINGS_OF_UNKNOWN_CLASS
    assert exposures.history.source.tolist() == [0, 1] * rows
    assert exposures.history.chain.tolist() == list(range(2 * rows))
    assert exposures.candidates.opening.tolist() == list(range(OPENINGS_OF_UNKNOWN_CLASS)) * 5


# Speed.


def speeds(*runs: Cells, usual: str = "") -> list[float]:
    exposures = exposures_of(runs, tools=[tool(cycle_time_s=usual)])
    return exposures.runs.speed.tolist()


def test_speed_is_the_log_of_usual_over_actual_cycle() -> None:
    runs = (
        run("2020-01-06", "2020-01-07", cycle_time_s="20"),
        run("2020-02-06", "2020-02-07", cycle_time_s="80"),
        run("2020-03-06", "2020-03-07"),
    )
    assert speeds(*runs, usual="40") == [1, -1, 0]


def test_without_a_usual_cycle_it_is_the_one_that_halves_the_shots() -> None:
    runs = (
        run("2020-01-06", "2020-01-07", 100, cycle_time_s="10"),
        run("2020-02-06", "2020-02-07", 100, cycle_time_s="20"),
        run("2020-03-06", "2020-03-07", 900, cycle_time_s="40"),
        run("2020-04-06", "2020-04-07", 5000),
    )
    assert speeds(*runs) == [2, 1, 0, 0]
    even = run("2020-01-06", "2020-01-07", 100, cycle_time_s="10"), run("2020-02-06", "2020-02-07", 100, cycle_time_s="20")
    assert speeds(*even) == [0, -1]


def test_each_tool_has_its_own_usual_cycle() -> None:
    runs = [
        run("2020-01-06", "2020-01-07", cycle_time_s="10", tool_id=name) if name != "T2" else run("2020-01-06", "2020-01-07", tool_id=name)
        for name in ("T1", "T2", "T3")
    ]
    runs.append(run("2020-02-06", "2020-02-07", 10, cycle_time_s="20", tool_id="T3"))
    exposures = exposures_of(runs, tools=[tool(), tool("T2"), tool("T3")])
    assert exposures.runs.speed.tolist() == [0, 0, 0, -1]


def test_speeds_are_gathered_to_a_step_and_held_within_four_times() -> None:
    runs = [
        run("2020-01-06", "2020-01-07", 1, cycle_time_s="39.9"),
        run("2020-01-08", "2020-01-09", 2, cycle_time_s="40.1"),
        run("2020-01-10", "2020-01-11", 4, cycle_time_s="5"),
        run("2020-01-12", "2020-01-13", 8, cycle_time_s="30"),
    ]
    exposures = exposures_of(runs, tools=[tool(cycle_time_s="40")])
    assert exposures.jobs.speed[exposures.cells.job[made(exposures)]] == pytest.approx([0, np.log2(40 / 30), 2], abs=SPEED_STEP / 2)
    assert exposures.cells.shots[made(exposures)].tolist() == [3, 8, 4]


# Counts by plant.


def test_lives_and_wear_outs_count_at_the_plant_of_their_last_shot() -> None:
    runs = [FIRST, run("2020-02-03", "2020-02-12", 500, plant_id="Salt Quay"), run("2020-03-03", "2020-03-12", 70, plant_id="Salt Quay")]
    exposures = exposures_of(runs, [event("2020-02-20", "retool", cause="wear")])
    assert exposures.plant_ids == ("Heath", "Salt Quay")
    assert exposures.by_plant.lives.tolist() == [0, 2]
    assert exposures.by_plant.wear_outs.tolist() == [0, 1]
    assert exposures.by_plant.shots.tolist() == [1000, 570]
    unstated = exposures_of(runs, [event("2020-02-20", "retool")])
    assert unstated.by_plant.wear_outs.tolist() == [0, 0]


def test_a_fleet_of_whose_ages_nothing_tells_has_no_rows() -> None:
    exposures = exposures_of([], tools=[tool(**OLD)])
    assert len(exposures.history.source) == len(exposures.cells.shots) == len(exposures.places.plant) == 0
    assert exposures.lives == 1


def test_the_yearly_mean_stands_for_no_month() -> None:
    assert YEARLY_MEAN < -(10**9)
