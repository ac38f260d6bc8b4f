"""Events placed by their date, or by a shot count that the runs bear out."""

import numpy as np
import pytest
from histories import event, exposures_of, run, shots_by_life, tool

TEN_DAYS = run("2020-01-06", "2020-01-15", 1000)
EARLIER = run("2020-01-02", "2020-01-04", 300)
LATER = run("2020-02-03", "2020-02-07", 500)


def lives(*runs, events, **of_tool: str) -> list[float]:
    """Shots of each life, cut by planned retools."""
    return shots_by_life(exposures_of(runs, events, [tool(**of_tool)]))


def retool(date: str, shots_at: float | None = None):
    return event(date, "retool", cause="planned", **({} if shots_at is None else {"shots_at": str(shots_at)}))


@pytest.mark.parametrize("shots_at", [1, 450, 900, 999, 333.3])
def test_a_valid_count_wins_over_the_date(shots_at: float) -> None:
    # 900 falls on the start of the last day, where the date alone would put the event after the run.
    for date in ("2020-01-06", "2020-01-09", "2020-01-15", "2020-03-01"):
        assert lives(TEN_DAYS, events=[retool(date, shots_at)]) == pytest.approx([shots_at, 1000 - shots_at])


@pytest.mark.parametrize(("shots_at", "expected"), [(0, [0, 1000]), (1000, [1000, 0])])
def test_counts_at_either_end_of_the_runs(shots_at: float, expected: list[float]) -> None:
    assert lives(TEN_DAYS, events=[retool("2020-01-09", shots_at)]) == expected


@pytest.mark.parametrize("shots_at", [1001, 50_000])
def test_a_count_that_the_runs_never_reach_leaves_the_date(shots_at: float) -> None:
    assert lives(TEN_DAYS, events=[retool("2020-01-09", shots_at)]) == pytest.approx([300, 700])


def test_a_count_runs_on_from_one_run_to_the_next() -> None:
    for shots_at in (100, 300, 350, 1299, 1300, 1700):
        expected = pytest.approx([shots_at, 1800 - shots_at], abs=1e-3)
        assert lives(EARLIER, TEN_DAYS, LATER, events=[retool("2020-01-20", shots_at)]) == expected


def test_a_count_at_the_end_of_a_run_comes_before_a_one_day_run_that_follows() -> None:
    one_day = run("2020-01-16", "2020-01-16", 40)
    assert lives(TEN_DAYS, one_day, events=[retool("2020-01-16", 1000)]) == [1000, 40]
    assert lives(TEN_DAYS, one_day, events=[retool("2020-01-16")]) == [1040, 0]


def test_runs_that_share_days_still_bear_a_count_out() -> None:
    same_day = run("2020-01-15", "2020-01-17", 600, resin_id="R2")
    for shots_at in (950, 1100, 1300):
        expected = pytest.approx([shots_at, 1600 - shots_at], abs=1e-3)
        assert lives(TEN_DAYS, same_day, events=[retool("2020-01-10", shots_at)]) == expected


def test_the_count_runs_since_commissioning() -> None:
    opened = {"commissioned_on": "2018-01-01", "opening_shots": "5000", "opening_life_shots": "2000"}
    assert lives(TEN_DAYS, events=[retool("2020-01-15", 5200)], **opened) == pytest.approx([2200, 800])


def test_without_a_known_opening_a_count_says_nothing() -> None:
    # The life begins at zero, but what the tool made before it since commissioning is not known.
    half_known = {"commissioned_on": "2018-01-01", "opening_life_shots": "0"}
    assert lives(TEN_DAYS, events=[retool("2020-01-09", 500)], **half_known) == pytest.approx([300, 700])


def test_a_tool_that_was_new_has_an_opening_of_zero() -> None:
    assert lives(TEN_DAYS, events=[retool("2020-01-09", 500)], opening_life_shots="0") == pytest.approx([500, 500])


@pytest.mark.parametrize(("date", "shots_at"), [("2020-01-15", 950), ("2020-01-10", 450), ("2020-01-10", 500)])
def test_events_of_a_day_keep_their_order_when_a_count_moves_one(date: str, shots_at: float) -> None:
    worn = event(date, "worn", shots_at=str(shots_at))
    exposures = exposures_of([TEN_DAYS, LATER], [worn, event(date, "retool", cause="wear")])
    assert exposures.events.kind.tolist() == ["worn", "retool"]
    assert (np.diff(exposures.events.time) >= 0).all()
    assert exposures.episodes.ending.tolist() == [1, 0]
    assert shots_by_life(exposures) == pytest.approx([shots_at, 1500 - shots_at])
    assert np.isinf(exposures.episodes.worn_at[1])


def test_a_count_between_two_runs_leaves_the_events_there_in_order() -> None:
    events = [event("2020-01-20", "modify"), event("2020-01-28", "retool", cause="planned", shots_at="1000")]
    exposures = exposures_of([TEN_DAYS, LATER], events)
    assert exposures.events.kind.tolist() == ["modify", "retool"]
    assert exposures.jobs.modifications[exposures.cells.job[exposures.cells.shots > 0]].tolist() == [0, 0]


def test_a_count_that_would_carry_an_event_past_its_neighbours_leaves_the_date() -> None:
    events = [event("2020-01-08", "service", shots_at="1450"), retool("2020-01-20")]
    exposures = exposures_of([TEN_DAYS, LATER], events)
    assert exposures.events.kind.tolist() == ["service", "retool"]
    assert shots_by_life(exposures) == pytest.approx([1000, 500])
    exposures = exposures_of([TEN_DAYS, LATER], [retool("2020-01-20"), event("2020-02-05", "service", shots_at="10")])
    assert exposures.events.kind.tolist() == ["retool", "service"]


def test_a_retool_of_the_day_follows_the_worn_of_the_day_whatever_the_rows_order() -> None:
    events = [event("2020-01-09", "retool", cause="wear"), event("2020-01-09", "worn")]
    exposures = exposures_of([TEN_DAYS], events)
    assert exposures.events.kind.tolist() == ["worn", "retool"]
    assert exposures.wear_outs == 1


def test_counts_of_one_tool_do_not_touch_another() -> None:
    runs = [TEN_DAYS, run("2020-01-06", "2020-01-15", 70_000, tool_id="T2")]
    tools = [tool(), tool("T2")]
    events = [retool("2020-01-15", 250), event("2020-01-15", "retool", tool_id="T2", cause="planned", shots_at="7000")]
    assert shots_by_life(exposures_of(runs, events, tools)) == pytest.approx([250, 750, 7000, 63_000])


def test_places_of_events_are_indices_of_plants() -> None:
    exposures = exposures_of([TEN_DAYS], [event("2020-02-01", "move", plant_id="Salt Quay"), event("2020-02-05", "service")])
    assert [exposures.plant_ids[p] if p >= 0 else "" for p in exposures.events.plant] == ["Salt Quay", ""]


def test_no_events_are_no_events() -> None:
    exposures = exposures_of([TEN_DAYS])
    assert len(exposures.events.tool) == len(exposures.events.kind) == len(exposures.events.cut) == 0
    assert shots_by_life(exposures) == [1000]
