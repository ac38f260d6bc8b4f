"""What happened after a day, on histories written by hand: 1,000 shots are made in ten days unless said otherwise."""

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pytest
from histories import Cells, event, exposures_of, run, tool

from wearfit.evidence.cutoffs import horizon_end
from wearfit.evidence.life_table import unstated_wear
from wearfit.evidence.outcomes import AskedRun, Outcome, outcomes
from wearfit.model.priors import read_priors

DAY = dt.date(2020, 6, 30)
UNSTATED = 0.6  # chance that a renewal without a stated cause was a wear-out
PAST = run("2020-03-01", "2020-03-10")


def after(runs: Sequence[Cells], events: Sequence[Cells] = (), usual: float = 0.0, months: int = 12, **others: Sequence[Cells]) -> Outcome:
    """What became of T1 after DAY."""
    whole = exposures_of([PAST, *runs], events, **others)
    found = outcomes(whole, np.datetime64(DAY), np.datetime64(horizon_end(DAY, months)), {"T1": usual}, UNSTATED)
    return found["T1"]


def said(asked: AskedRun) -> tuple[float, float, float, float]:
    return asked.shots, asked.made, asked.worn, asked.stopped


def test_a_tool_that_goes_on_came_through_every_run() -> None:
    found = after([run("2020-07-05", "2020-07-14"), run("2020-09-01", "2020-09-10", 3000, plant_id="Salt Quay", resin_id="R2")])
    assert [said(asked) for asked in found.runs] == [(1000, 1000, 0, 0), (3000, 3000, 0, 0)]
    assert [(asked.plant_id, asked.resin_id, asked.month) for asked in found.runs] == [
        ("Heath", "R1", "2020-07"),
        ("Salt Quay", "R2", "2020-09"),
    ]
    assert (found.low, found.high, found.worn, found.renewals) == (4000, 4000, 0, 0)


def test_a_run_that_a_wear_out_broke_off_is_asked_at_the_usual_size() -> None:
    runs = [run("2020-07-05", "2020-07-14"), run("2020-09-01", "2020-09-03", 300)]
    found = after(runs, [event("2020-09-03", "retool", cause="wear")], usual=1200.0)
    assert [said(asked) for asked in found.runs] == [(1000, 1000, 0, 0), (1200, 300, 1, 1)]
    assert (found.low, found.high, found.worn) == (1300, 1300, 1)


def test_a_run_that_went_on_after_the_renewal_says_how_large_it_was() -> None:
    found = after([run("2020-09-01", "2020-09-10")], [event("2020-09-04", "retool", cause="wear")], usual=400.0)
    assert [said(asked) for asked in found.runs] == [(1000, 300, 1, 1)]
    assert found.high == 300


def test_only_the_life_under_way_is_followed() -> None:
    runs = [run("2020-07-05", "2020-07-14"), run("2020-09-01", "2020-09-10")]
    found = after(runs, [event("2020-07-14", "retool", cause="wear")])
    assert [said(asked) for asked in found.runs] == [(1000, 1000, 1, 1)]


def test_damage_is_a_stop_and_no_wear_out() -> None:
    found = after([run("2020-07-05", "2020-07-14")], [event("2020-07-14", "refurbish", cause="damage")], usual=5000.0)
    assert [said(asked) for asked in found.runs] == [(1000, 1000, 0, 1)]
    assert (found.high, found.worn) == (1000, 0)


@pytest.mark.parametrize("cause", ["planned", "obsolete", "design_change"])
def test_a_renewal_ahead_of_wear_ends_what_is_known(cause: str) -> None:
    runs = [run("2020-07-05", "2020-07-14"), run("2020-09-01", "2020-09-10")]
    found = after(runs, [event("2020-08-01", "retool", cause=cause)])
    assert [said(asked) for asked in found.runs] == [(1000, 1000, 0, 0)]
    assert (found.low, found.high, found.worn) == (1000, 1000, 0)


def test_a_modification_ends_what_was_asked_about() -> None:
    runs = [run("2020-07-05", "2020-07-14"), run("2020-09-01", "2020-09-10")]
    found = after(runs, [event("2020-08-01", "modify"), event("2020-09-10", "retool", cause="wear")])
    assert [said(asked) for asked in found.runs] == [(1000, 1000, 0, 0)]
    assert found.worn == 0


def test_a_wear_out_found_late_is_asked_of_all_the_runs_that_it_may_lie_in() -> None:
    runs = [run(f"2020-{month:02d}-01", f"2020-{month:02d}-10") for month in (7, 8, 9)]
    found = after(runs, [event("2020-09-20", "worn", cause="wear", last_good_on="2020-08-04")], usual=9000.0)
    # Good until four of ten days of the second run.
    assert [said(asked) for asked in found.runs] == [(1000, 1000, 0, 0), (2000, 2000, 1, 1)]
    assert (found.low, found.high, found.worn) == (1400, 3000, 1)


def test_no_run_after_the_last_good_day_leaves_the_last_run_in_doubt() -> None:
    runs = [run("2020-07-01", "2020-07-10"), run("2020-08-01", "2020-08-10")]
    found = after(runs, [event("2020-09-20", "worn", cause="wear", last_good_on="2020-08-20")])
    assert [said(asked) for asked in found.runs] == [(1000, 1000, 0, 0), (1000, 1000, 1, 1)]


def test_what_rusts_in_store_wears_out_in_no_run() -> None:
    runs = [run("2020-07-01", "2020-07-10")]
    events = [event("2020-08-01", "store"), event("2021-02-01", "worn", cause="wear"), event("2021-02-01", "take_out")]
    found = after(runs, events)
    assert [said(asked) for asked in found.runs] == [(1000, 1000, 0, 0)]
    assert (found.low, found.high, found.worn) == (1000, 1000, 1)


def test_a_renewal_without_a_cause_counts_by_the_chance_that_it_was_wear() -> None:
    found = after([run("2020-07-01", "2020-07-10")], [event("2020-07-10", "retool")], usual=1500.0)
    assert [said(asked) for asked in found.runs] == [(1500, 1000, UNSTATED, UNSTATED)]
    assert found.worn == UNSTATED


def test_stated_causes_tell_of_those_that_are_not() -> None:
    """Seven of ten by wear is what the priors' Beta(7, 3) believes; one that is stated is an eleventh."""
    priors, runs = read_priors(), [PAST, run("2020-07-01", "2020-07-10")]
    assert unstated_wear(exposures_of(runs), priors) == pytest.approx(7.0 / 10.0)
    assert unstated_wear(exposures_of(runs, [event("2020-07-10", "retool", cause="wear")]), priors) == pytest.approx(8.0 / 11.0)
    assert unstated_wear(exposures_of(runs, [event("2020-07-10", "retool", cause="planned")]), priors) == pytest.approx(7.0 / 11.0)


def test_a_run_under_way_on_the_day_is_asked_for_what_is_left_of_it() -> None:
    found = after([run("2020-06-21", "2020-07-10", 2000)])
    assert [said(asked) for asked in found.runs] == [(1000, 1000, 0, 0)]
    assert [(asked.setups, asked.month) for asked in found.runs] == [(0, "2020-07")]
    broken = after([run("2020-06-21", "2020-07-05", 1500)], [event("2020-07-05", "retool", cause="wear")], usual=2000.0)
    assert [said(asked) for asked in broken.runs] == [pytest.approx((1000, 500, 1, 1))]


def test_rows_of_one_production_run_are_one_question() -> None:
    found = after([run("2020-07-01", "2020-07-10"), run("2020-07-11", "2020-07-20"), run("2020-09-01", "2020-09-10")])
    assert [said(asked) for asked in found.runs] == [(2000, 2000, 0, 0), (1000, 1000, 0, 0)]


def test_runs_begun_after_the_horizon_are_not_asked_but_the_life_is_followed() -> None:
    runs = [run("2020-07-05", "2020-07-14"), run("2021-07-01", "2021-07-10")]
    found = after(runs, [event("2021-07-10", "retool", cause="wear")])
    assert [said(asked) for asked in found.runs] == [(1000, 1000, 0, 0)]
    assert (found.high, found.worn) == (2000, 1)
    assert len(after(runs, months=13).runs) == 2


@pytest.mark.parametrize(
    "events",
    [
        [event("2020-06-30", "worn", cause="wear")],
        [event("2020-06-30", "retire", cause="obsolete")],
        [event("2020-03-10", "worn", cause="wear"), event("2020-08-01", "retool")],
    ],
    ids=["found worn on the day", "retired", "worn and waiting"],
)
def test_nothing_is_asked_of_a_tool_that_was_worn_or_gone(events: Sequence[Cells]) -> None:
    whole = exposures_of([PAST], events)
    assert outcomes(whole, np.datetime64(DAY), np.datetime64("2021-06-30"), {}, UNSTATED) == {}


def test_nothing_is_asked_of_a_tool_that_came_later() -> None:
    whole = exposures_of([PAST, run("2020-09-01", "2020-09-10", tool_id="T2")], tools=[tool(), tool("T2", commissioned_on="2020-07-01")])
    assert outcomes(whole, np.datetime64(DAY), np.datetime64("2021-06-30"), {}, UNSTATED).keys() == {"T1"}
