"""Runs cut at months and at what happens to their tool; set-ups counted."""

import numpy as np
import pytest
from histories import Cells, event, exposures_of, run, shots_by_life

from wearfit.exposures.timeline import LAST_DAY, Runs, Segments, TimeKeys, count_setups, month_of, month_start, split_runs

Array = np.ndarray


def day(text: str) -> float:
    return float(np.datetime64(text, "D").astype(np.int64))


def one_run(start: str, end: str, shots: float = 1000.0) -> Runs:
    zero = np.zeros(1, dtype=np.int64)
    return Runs(zero, zero, zero, np.array([day(start)]), np.array([day(end)]), np.array([shots]), np.ones(1), np.zeros(1), zero)


def cut(runs: Runs, times: list[float], instant: bool = False) -> Segments:
    keys = TimeKeys(day("2019-12-01"), day("2021-12-31"))
    return split_runs(runs, np.zeros(len(times), dtype=np.int64), np.array(times), np.full(len(times), instant), keys)


def test_a_run_within_a_month_is_one_segment() -> None:
    segments = cut(one_run("2020-01-06", "2020-01-15"), [])
    assert segments.shots.tolist() == [1000.0]
    assert segments.setups.tolist() == [1.0]
    assert segments.month.tolist() == [50 * 12]


def test_months_split_a_run_by_days() -> None:
    segments = cut(one_run("2020-01-22", "2020-03-01", 4000.0), [])
    assert segments.shots == pytest.approx([1000.0, 2900.0, 100.0])
    assert segments.month.tolist() == [600, 601, 602]
    assert segments.setups.tolist() == [1.0, 0.0, 0.0]
    # What starts on the last day lies just before it, so that an event of that day comes after.
    assert segments.place_in_time.tolist() == [day("2020-01-22"), day("2020-02-01"), day("2020-03-01") - LAST_DAY]


@pytest.mark.parametrize(
    ("date", "before"),
    [("2020-01-05", 0), ("2020-01-06", 0), ("2020-01-07", 100), ("2020-01-14", 800), ("2020-01-15", 1000), ("2020-01-16", 1000)],
)
def test_an_event_comes_before_its_first_day_after_its_last_and_splits_by_days_between(date: str, before: float) -> None:
    exposures = exposures_of([run("2020-01-06", "2020-01-15", 1000)], [event(date, "retool", cause="planned")])
    assert shots_by_life(exposures) == pytest.approx([before, 1000 - before])


@pytest.mark.parametrize(("date", "before"), [("2020-01-05", 0), ("2020-01-06", 1000), ("2020-01-07", 1000)])
def test_an_event_on_the_day_of_a_one_day_run_comes_after_it(date: str, before: float) -> None:
    exposures = exposures_of([run("2020-01-06", "2020-01-06", 1000)], [event(date, "retool", cause="planned")])
    assert shots_by_life(exposures) == pytest.approx([before, 1000 - before])


def test_an_event_between_two_runs_that_share_a_day_comes_between_them() -> None:
    runs = [run("2020-01-06", "2020-01-10", 500), run("2020-01-10", "2020-01-14", 70, resin_id="R2")]
    assert shots_by_life(exposures_of(runs, [event("2020-01-10", "retool", cause="planned")])) == [500, 70]


def test_an_event_on_the_last_day_which_begins_a_month_comes_after_all_of_the_run() -> None:
    exposures = exposures_of([run("2020-01-23", "2020-02-01", 1000)], [event("2020-02-01", "retool", cause="planned")])
    assert shots_by_life(exposures) == [1000, 0]


def test_an_event_on_the_first_of_a_month_within_a_run_cuts_it_once() -> None:
    runs = one_run("2020-01-22", "2020-02-10", 2000.0)
    assert cut(runs, [day("2020-02-01")]).shots.tolist() == [1000.0, 1000.0]


def test_an_instant_cuts_the_last_day_where_a_day_leaves_it_whole() -> None:
    runs = one_run("2020-01-06", "2020-01-15")
    assert cut(runs, [day("2020-01-15")]).shots.tolist() == [1000.0]
    assert cut(runs, [day("2020-01-15")], instant=True).shots == pytest.approx([900.0, 100.0])
    assert cut(runs, [day("2020-01-15") + 0.5], instant=True).shots == pytest.approx([950.0, 50.0])
    assert cut(runs, [day("2020-01-06")], instant=True).shots.tolist() == [1000.0]
    assert cut(runs, [day("2020-01-16")], instant=True).shots.tolist() == [1000.0]


def test_segments_come_in_order_of_time_and_keep_all_shots() -> None:
    zero = np.zeros(3, dtype=np.int64)
    runs = Runs(
        np.array([0, 0, 1]),
        zero,
        zero,
        np.array([day("2020-01-01"), day("2020-01-20"), day("2020-01-01")]),
        np.array([day("2020-04-30"), day("2020-02-10"), day("2020-01-01")]),
        np.array([1210.0, 220.0, 5.0]),
        np.ones(3),
        np.zeros(3),
        zero,
    )
    segments = cut(runs, [day("2020-02-05")])
    assert segments.tool.tolist() == sorted(segments.tool.tolist())
    for name in (0, 1):
        assert (np.diff(segments.start[segments.tool == name]) >= 0).all()
    assert np.bincount(segments.run, weights=segments.shots) == pytest.approx(runs.shots)
    assert np.bincount(segments.run).tolist() == [5, 3, 1]


def test_no_runs_make_no_segments() -> None:
    empty, whole = np.zeros(0), np.zeros(0, dtype=np.int64)
    assert len(cut(Runs(whole, whole, whole, empty, empty, empty, empty, empty, whole), [day("2020-02-01")]).shots) == 0


def test_months_and_their_first_days() -> None:
    days = np.array([day("1969-12-31"), day("1970-01-01"), day("2020-02-29") + 0.9, day("2020-03-01")])
    assert month_of(days).tolist() == [-1, 0, 601, 602]
    assert month_start(np.array([-1, 0, 602])).tolist() == [day("1969-12-01"), 0, day("2020-03-01")]


def test_keys_keep_order_over_tools_and_times() -> None:
    keys = TimeKeys(day("2010-01-01"), day("2026-06-30"))
    times = np.array([-np.inf, day("2010-01-01") - LAST_DAY, day("2010-01-01"), day("2026-06-30"), day("2026-07-01"), np.inf])
    many = np.concatenate([keys(np.full(6, i), times) for i in (0, 1, 24_999)])
    assert (np.diff(many) > 0).all()


def setups_of(*runs: Cells) -> Array:
    exposures = exposures_of(runs)
    assert exposures.cells.setups.sum() == exposures.runs.setups.sum()
    return exposures.runs.setups


def test_at_most_three_idle_days_are_one_set_up() -> None:
    first, third, fourth = run("2020-01-06", "2020-01-10"), run("2020-01-14", "2020-01-15"), run("2020-01-15", "2020-01-16")
    assert setups_of(first, third).tolist() == [1, 0]
    assert setups_of(first, fourth).tolist() == [1, 1]


def test_another_resin_or_plant_is_set_up_anew() -> None:
    first = run("2020-01-06", "2020-01-10")
    assert setups_of(first, run("2020-01-11", "2020-01-12", resin_id="R2")).tolist() == [1, 1]
    assert setups_of(first, run("2020-01-11", "2020-01-12", plant_id="Salt Quay")).tolist() == [1, 1]


def test_a_run_in_another_resin_between_does_not_end_the_pause_of_the_first() -> None:
    runs = run("2020-01-06", "2020-01-10"), run("2020-01-11", "2020-01-12", resin_id="R2"), run("2020-01-13", "2020-01-15")
    assert setups_of(*runs).tolist() == [1, 1, 0]


def test_the_pause_counts_from_the_latest_end_so_far() -> None:
    runs = run("2020-01-06", "2020-01-20"), run("2020-01-07", "2020-01-08"), run("2020-01-23", "2020-01-24")
    assert setups_of(*runs).tolist() == [1, 0, 0]


def test_recorded_setups_hold() -> None:
    runs = (
        run("2020-01-06", "2020-01-10", setups="3"),
        run("2020-01-11", "2020-01-12", setups="2"),
        run("2020-03-01", "2020-03-02", setups="0"),
    )
    assert setups_of(*runs).tolist() == [3, 2, 0]


def test_tools_do_not_share_set_ups() -> None:
    setups, production = count_setups(
        np.array([0, 1]), np.zeros(2), np.zeros(2), np.array([10.0, 12.0]), np.array([11.0, 13.0]), np.full(2, np.nan)
    )
    assert setups.tolist() == [1, 1]
    assert production.tolist() == [0, 1]


def test_rows_without_a_pause_or_a_set_up_are_one_production_run() -> None:
    start, end = np.array([0.0, 5.0, 8.0, 12.0, 13.0]), np.array([4.0, 7.0, 9.0, 12.0, 14.0])
    recorded = np.array([np.nan, np.nan, 1.0, np.nan, np.nan])
    zero = np.zeros(5)
    setups, production = count_setups(zero, zero, zero, start, end, recorded)
    assert setups.tolist() == [1, 0, 1, 0, 0]
    assert production.tolist() == [0, 0, 2, 3, 3]
