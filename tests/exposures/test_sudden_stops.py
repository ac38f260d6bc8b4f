"""Where tools stopped suddenly, and what they were exposed to there."""

from histories import event, exposures_of, run, tool

from wearfit.exposures.table import Exposures

FIRST = run("2020-01-06", "2020-01-15", 1000)


def sudden(exposures: Exposures) -> dict[tuple[str, str], tuple[float, float, float]]:
    """(stops, shots, handlings) by tool and plant."""
    s = exposures.sudden
    keys = [(exposures.tools.tool_id[t], exposures.plant_ids[p]) for t, p in zip(s.tool, s.plant, strict=True)]
    return dict(zip(keys, zip(s.stops.tolist(), s.shots.tolist(), s.handlings.tolist(), strict=True), strict=True))


def test_sudden_stops_count_where_the_tool_was() -> None:
    runs = [FIRST, run("2020-02-03", "2020-02-12", 500, plant_id="Salt Quay"), run("2020-01-06", "2020-01-07", 9, tool_id="T2")]
    tools = [tool(), tool("T2")]
    here = exposures_of(runs, [event("2020-01-20", "retool", cause="damage")], tools)
    assert sudden(here) == {("T1", "Heath"): (1, 1000, 1), ("T1", "Salt Quay"): (0, 500, 1), ("T2", "Heath"): (0, 9, 1)}
    there = exposures_of(runs, [event("2020-02-05", "refurbish", cause="damage"), event("2020-03-05", "retire", cause="damage")], tools)
    assert sudden(there)["T1", "Salt Quay"] == (2, 500, 1)
    assert sudden(there)["T1", "Heath"] == (0, 1000, 1)


def test_a_tool_dropped_on_arrival_stopped_where_it_arrived() -> None:
    events = [event("2020-02-01", "move", plant_id="Salt Quay"), event("2020-02-02", "retool", cause="damage"), event("2020-03-01", "move")]
    exposures = exposures_of([FIRST], events)
    assert sudden(exposures) == {("T1", "Heath"): (0, 1000, 1), ("T1", "Salt Quay"): (1, 0, 1)}


def test_a_tool_damaged_before_its_first_run_stopped_at_its_own_plant() -> None:
    damage = [event("2020-01-03", "retool", cause="damage", tool_id="T2")]
    exposures = exposures_of([FIRST, run("2020-01-06", "2020-01-07", 9, tool_id="T2")], damage, [tool(), tool("T2", plant_id="Salt Quay")])
    assert sudden(exposures)["T2", "Salt Quay"] == (1, 0, 0)
    homeless = exposures_of([FIRST, run("2020-01-06", "2020-01-07", 9, tool_id="T2")], damage, [tool(), tool("T2")])
    assert homeless.sudden.stops.sum() == 0
