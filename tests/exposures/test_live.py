"""The live tools as they stand at the as-of day, and how they were used of late."""

import datetime as dt

import numpy as np
import pytest
from histories import Cells, event, exposures_of, live_of, run, tool

from wearfit.exposures.live import IDLE_AFTER_DAYS, RECENT_MONTHS, STATUSES, LiveTools

FIRST = run("2020-01-06", "2020-01-15", 1000)
SECOND = run("2020-02-03", "2020-02-12", 500)
HEATH, SALT_QUAY = 0, 1
AS_OF = "2020-03-01"


def stand(*events: Cells, runs: tuple[Cells, ...] = (FIRST, SECOND), as_of: str = AS_OF, **of_tool: str) -> LiveTools:
    return live_of(runs, events, [tool(**of_tool)], as_of)


def status(*events: Cells, runs: tuple[Cells, ...] = (FIRST, SECOND), as_of: str = AS_OF) -> str:
    return STATUSES[stand(*events, runs=runs, as_of=as_of).status[0]]


def test_live_is_commissioned_by_the_day_and_not_retired_by_it() -> None:
    tools = [tool("A"), tool("B"), tool("C", commissioned_on="2020-03-02"), tool("D", commissioned_on="2020-03-01")]
    events = [event("2020-03-01", "retire", "B"), event("2020-03-02", "retire", "A"), event("2020-02-01", "worn", "D")]
    assert live_of([], events[:2], tools, AS_OF).tool.tolist() == [0, 2]
    stored = [event("2020-02-01", "store", "A"), event("2020-02-01", "hold", "B")]
    assert live_of([], stored, tools[:2], AS_OF).tool.tolist() == [0, 1]


def test_the_episode_is_the_one_under_way() -> None:
    tools = [tool("A"), tool("B"), tool("C")]
    events = [
        event("2020-01-20", "retool", "A"),
        event("2020-01-20", "modify", "B", renewed_share="0.5"),
        event("2020-01-20", "modify", "C"),
    ]
    live = live_of([], events, tools, AS_OF)
    assert live.episode.tolist() == [1, 3, 4]
    assert live.modifications.tolist() == [0, 1, 1]


def test_running_until_long_idle() -> None:
    last = dt.date(2020, 2, 12)
    assert status(as_of=str(last + dt.timedelta(IDLE_AFTER_DAYS))) == "running"
    assert status(as_of=str(last + dt.timedelta(IDLE_AFTER_DAYS + 1))) == "idle"
    assert status(runs=(), as_of=AS_OF) == "no_runs"


@pytest.mark.parametrize(
    ("events", "expected"),
    [
        ([("2020-02-20", "store")], "stored"),
        ([("2020-02-12", "store")], "stored"),
        ([("2020-02-20", "store"), ("2020-02-25", "take_out")], "running"),
        ([("2020-01-20", "store")], "running"),  # a run since says that it was taken out
        ([("2020-01-20", "take_out"), ("2020-02-20", "store")], "stored"),
        ([("2020-02-20", "worn")], "worn"),
        ([("2020-02-20", "worn"), ("2020-02-21", "store")], "worn"),
        ([("2020-02-20", "worn"), ("2020-02-21", "retool")], "running"),
        ([("2020-02-20", "worn"), ("2020-02-21", "refurbish")], "running"),
        ([("2020-02-20", "worn"), ("2020-02-21", "modify")], "worn"),
        ([("2020-02-20", "hold")], "held"),
        ([("2020-02-20", "hold"), ("2020-02-21", "release")], "running"),
        ([("2020-02-20", "hold"), ("2020-02-21", "worn")], "held"),
        ([("2020-02-20", "hold"), ("2020-02-21", "store")], "held"),
        ([("2020-03-02", "hold"), ("2020-03-02", "worn")], "running"),
    ],
)
def test_what_events_make_of_the_status(events: list[tuple[str, str]], expected: str) -> None:
    assert status(*(event(date, kind) for date, kind in events)) == expected


def test_a_partial_renewal_leaves_a_worn_tool_worn() -> None:
    assert status(event("2020-02-20", "worn"), event("2020-02-21", "modify", renewed_share="0.5")) == "worn"


def plant(*events: Cells, runs: tuple[Cells, ...] = (FIRST, SECOND), **of_tool: str) -> int:
    return int(stand(*events, runs=runs, **of_tool).plant[0])


def test_the_plant_now_is_that_of_the_latest_run_or_move() -> None:
    to_quay, back = event("2020-02-20", "move", plant_id="Salt Quay"), event("2020-02-22", "move", plant_id="Heath")
    assert plant(runs=()) == -1
    assert plant(runs=(), plant_id="Salt Quay") == SALT_QUAY
    assert plant(plant_id="Salt Quay") == HEATH
    assert plant(to_quay) == SALT_QUAY
    assert plant(to_quay, back) == HEATH
    assert plant(to_quay, event("2020-02-25", "move")) == SALT_QUAY  # where to is not stated
    assert plant(event("2020-01-20", "move", plant_id="Salt Quay")) == HEATH  # a later run says otherwise
    assert plant(event("2020-02-12", "move", plant_id="Salt Quay")) == SALT_QUAY  # on the last day, so after the run
    assert plant(event("2020-02-08", "move", plant_id="Salt Quay")) == HEATH
    assert plant(event("2020-02-20", "service", plant_id="Salt Quay")) == HEATH


def shots(*events: Cells, **of_tool: str) -> float:
    return float(stand(*events, **of_tool).shots_this_life[0])


def test_shots_of_the_life_under_way() -> None:
    assert shots() == 1500
    assert shots(event("2020-02-12", "retool")) == 0
    assert shots(event("2020-02-03", "retool")) == 500
    assert shots(event("2020-02-05", "refurbish")) == pytest.approx(400)
    assert shots(event("2020-02-05", "modify", renewed_share="0.5")) == 1500
    assert shots(event("2020-02-05", "retool"), event("2020-02-07", "modify", renewed_share="0.5")) == pytest.approx(400)
    assert shots(event("2020-02-05", "worn")) == 1500


@pytest.mark.parametrize("shots_at", [1450, 1475, 1000, 20])
def test_shots_of_a_life_whose_start_a_count_tells(shots_at: float) -> None:
    assert shots(event("2020-02-05", "retool", shots_at=str(shots_at))) == pytest.approx(1500 - shots_at)


def test_a_known_opening_counts_and_one_that_is_weighed_does_not() -> None:
    old = {"commissioned_on": "2015-01-01"}
    assert shots(**old, opening_life_shots="800") == 2300
    assert shots(**old) == 1500
    assert shots(event("2020-02-03", "retool"), **old, opening_life_shots="800") == 500
    assert shots(event("2020-02-03", "retool"), **old) == 500
    assert shots(event("2019-06-01", "retool"), **old, opening_life_shots="800") == 2300


def test_the_shots_of_a_life_are_those_on_its_clock() -> None:
    events = [
        event("2020-01-10", "refurbish"),
        event("2020-02-05", "modify", renewed_share="0.5"),
        event("2020-01-08", "retool", shots_at="333"),
    ]
    exposures, live = exposures_of([FIRST, SECOND], events), live_of([FIRST, SECOND], events)
    of_life = exposures.episodes.life[exposures.history.source[exposures.cells.episode]] == exposures.lives - 1
    assert live.shots_this_life[0] == pytest.approx(exposures.cells.shots[of_life].sum())


def test_set_ups_a_shot_over_all_its_runs() -> None:
    live = live_of([FIRST, SECOND], tools=[tool(), tool("T2")])
    assert live.setups_per_shot == pytest.approx([2 / 1500, 0])


# Recent use.


def test_recent_use_lies_in_spans_of_a_twelfth_of_a_year_up_to_the_day() -> None:
    live = stand(runs=(run("2020-02-21", "2020-03-01", 1000), run("2020-01-05", "2020-01-14", 70)))
    assert live.recent_shots.shape == (1, RECENT_MONTHS)
    assert live.recent_shots[0, -1] == pytest.approx(1000)
    assert np.nansum(live.recent_shots) == pytest.approx(1070)
    assert np.isnan(live.recent_shots[0, : RECENT_MONTHS - 2]).all()  # before it came into use
    assert np.isfinite(live.recent_shots[0, RECENT_MONTHS - 2 :]).all()


def test_an_idle_month_after_the_first_run_is_zero_and_old_use_does_not_count() -> None:
    live = stand(as_of="2022-06-30", runs=(FIRST, run("2021-06-01", "2021-06-10", 90)))
    assert live.recent_shots[0].sum() == pytest.approx(90)
    assert (live.recent_shots[0] == 0).sum() >= RECENT_MONTHS - 2
    assert np.isnan(stand(runs=()).recent_shots).all()


def test_a_run_that_reaches_back_beyond_the_recent_months_counts_in_part() -> None:
    live = stand(as_of="2023-12-31", runs=(run("2020-01-01", "2023-12-31", 1461 * 10),))
    assert live.recent_shots[0] == pytest.approx(10 * 365.25 / 12)


def test_resins_share_the_recent_shots_or_all_where_there_were_none() -> None:
    runs = (FIRST, run("2020-02-03", "2020-02-12", 3000, resin_id="R2"))
    assert stand(runs=runs).resin_share.tolist() == [[0.25, 0.75]]
    later = (*runs, run("2023-01-01", "2023-01-02", 10))
    assert stand(runs=later, as_of="2023-06-30").resin_share.tolist() == [[1, 0]]
    assert stand(runs=runs, as_of="2023-06-30").resin_share.tolist() == [[0.25, 0.75]]
    assert stand(runs=()).resin_share.tolist() == [[0, 0]]


# Replacements on order.


def due(*events: Cells) -> str:
    day = stand(*events).replacement_due[0]
    return "" if np.isnan(day) else str(np.datetime64(int(day), "D"))


def test_a_replacement_is_due_until_a_retool_answers_the_order() -> None:
    order, second = event("2020-02-01", "order", due_on="2020-06-01"), event("2020-02-15", "order", due_on="2020-09-01")
    assert due() == ""
    assert due(order) == "2020-06-01"
    assert due(order, second) == "2020-09-01"
    assert due(order, event("2020-02-20", "refurbish")) == "2020-06-01"
    assert due(order, event("2020-02-20", "retool")) == ""
    assert due(event("2020-01-20", "retool"), order) == "2020-06-01"


def test_what_the_owner_states_is_handed_on() -> None:
    stated = {"shots_per_month": "4000", "lead_time_weeks": "14", "replacement_cost": "30000", "refurbish_cost": "9000"}
    live = live_of([FIRST], tools=[tool("A"), tool("T1", **stated)])
    for name, value in stated.items():
        assert getattr(live, name) == pytest.approx([np.nan, float(value)], nan_ok=True)
