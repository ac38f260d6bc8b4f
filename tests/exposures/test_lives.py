"""What an event does to the clock, and what it says of wear."""

import numpy as np
import pytest
from histories import Cells, event, exposures_of, run, shots_by_life, shots_by_part, tool

from wearfit.exposures.lives import CENSORED, EXACT, INTERVAL, Events, divide
from wearfit.exposures.table import Exposures

FIRST = run("2020-01-06", "2020-01-15", 1000)
SECOND = run("2020-02-03", "2020-02-12", 500)
THIRD = run("2020-03-02", "2020-03-11", 200)
CAUSES = ("wear", "damage", "planned", "obsolete", "design_change", "")


def history(*events: Cells, runs: tuple[Cells, ...] = (FIRST, SECOND, THIRD)) -> Exposures:
    return exposures_of(runs, events)


def first_life(exposures: Exposures) -> tuple[int, bool, bool]:
    e = exposures.episodes
    return int(e.ending[0]), bool(e.unstated[0]), bool(e.sudden[0])


def test_a_tool_without_events_is_one_censored_life() -> None:
    exposures = history()
    assert first_life(exposures) == (CENSORED, False, False)
    assert (exposures.lives, exposures.wear_outs) == (1, 0)
    assert np.isposinf(exposures.episodes.closes[0])
    assert shots_by_life(exposures) == [1700]


@pytest.mark.parametrize("renewal", ["retool", "refurbish"])
@pytest.mark.parametrize(
    ("cause", "expected"),
    [
        ("wear", (EXACT, False, False)),
        ("damage", (CENSORED, False, True)),
        ("planned", (CENSORED, False, False)),
        ("obsolete", (CENSORED, False, False)),
        ("design_change", (CENSORED, False, False)),
        ("", (EXACT, True, False)),
    ],
)
def test_what_the_cause_of_a_renewal_says(renewal: str, cause: str, expected: tuple[int, bool, bool]) -> None:
    exposures = history(event("2020-02-20", renewal, cause=cause))
    assert first_life(exposures) == expected
    assert exposures.lives == 2
    assert exposures.wear_outs == (cause == "wear")
    assert shots_by_life(exposures) == [1500, 200]
    assert exposures.episodes.sudden.sum() == exposures.sudden.stops.sum() == (cause == "damage")


@pytest.mark.parametrize(
    ("cause", "expected"),
    [
        ("wear", (EXACT, False, False)),
        ("damage", (CENSORED, False, True)),
        ("planned", (CENSORED, False, False)),
        ("obsolete", (CENSORED, False, False)),
        ("design_change", (CENSORED, False, False)),
        ("", (CENSORED, False, False)),
    ],
)
def test_what_the_cause_of_a_retirement_says(cause: str, expected: tuple[int, bool, bool]) -> None:
    exposures = history(event("2020-04-01", "retire", cause=cause))
    assert first_life(exposures) == expected
    assert exposures.lives == 1


def test_only_renewals_whose_cause_is_stated_inform_the_share_of_the_others() -> None:
    events = [event(f"2020-0{month}-20", "retool", cause=cause) for month, cause in enumerate(CAUSES, start=1)]
    exposures = history(*events)
    assert (exposures.stated_wear, exposures.stated_other) == (1, 4)


@pytest.mark.parametrize("kind", ["service", "store", "take_out", "move", "hold", "release", "order", "modify"])
def test_other_events_leave_clock_and_life_alone(kind: str) -> None:
    exposures = history(event("2020-02-07", kind))
    assert first_life(exposures) == (CENSORED, False, False)
    assert shots_by_life(exposures) == [1700]


@pytest.mark.parametrize("closing", ["retool", "refurbish", "retire"])
@pytest.mark.parametrize("cause", CAUSES)
def test_worn_stops_the_clock_and_what_closes_the_life_does_not_count_again(closing: str, cause: str) -> None:
    exposures = history(event("2020-02-08", "worn"), event("2020-02-20", closing, cause=cause))
    assert first_life(exposures) == (EXACT, False, False)
    assert exposures.wear_outs == 1
    assert exposures.sudden.stops.sum() == 0
    after = 200 if closing != "retire" else None
    assert shots_by_life(exposures) == [1250] + ([after] if after else [])


def test_shots_after_worn_count_nowhere_until_the_next_life() -> None:
    exposures = history(event("2020-01-09", "worn"), event("2020-03-05", "refurbish", cause="wear"))
    assert shots_by_life(exposures) == pytest.approx([300, 140])


def test_a_tool_found_worn_and_never_renewed_stays_worn() -> None:
    exposures = history(event("2020-02-08", "worn"))
    assert first_life(exposures) == (EXACT, False, False)
    assert shots_by_life(exposures) == [1250]


def test_a_second_worn_before_the_renewal_counts_nothing() -> None:
    exposures = history(event("2020-01-09", "worn"), event("2020-02-08", "worn", last_good_on="2020-01-20"))
    assert exposures.wear_outs == 1
    assert first_life(exposures)[0] == EXACT
    assert shots_by_life(exposures) == pytest.approx([300])


def test_each_life_can_wear_out_once() -> None:
    exposures = history(
        event("2020-01-20", "worn"),
        event("2020-01-21", "retool", cause="wear"),
        event("2020-02-20", "worn"),
        event("2020-02-21", "refurbish"),
    )
    assert exposures.wear_outs == 2
    assert exposures.episodes.ending.tolist() == [EXACT, EXACT, CENSORED]
    assert exposures.episodes.unstated.tolist() == [False] * 3


def test_a_run_that_goes_on_past_the_retirement_counts_up_to_it() -> None:
    exposures = history(event("2020-03-07", "retire", cause="wear"))
    assert shots_by_life(exposures) == pytest.approx([1600])
    exposures = history(event("2020-03-11", "retire", cause="wear"))
    assert shots_by_life(exposures) == pytest.approx([1700])


# Last known good.


@pytest.mark.parametrize("by", [("worn", ""), ("retool", "wear"), ("refurbish", "wear"), ("retire", "wear")])
def test_the_last_good_day_makes_an_interval(by: tuple[str, str]) -> None:
    exposures = history(event("2020-02-20", by[0], cause=by[1], last_good_on="2020-02-05"), runs=(FIRST, SECOND))
    assert first_life(exposures)[0] == INTERVAL
    assert shots_by_part(exposures)[0] == pytest.approx([0, 1150, 350])


@pytest.mark.parametrize(
    ("last_good_on", "good"),
    [
        ("2020-01-20", 1000),
        ("2020-02-02", 1000),
        ("2020-02-03", 1050),
        ("2020-02-10", 1400),
        ("2020-02-11", 1450),
        # From the last day of the last run on no shot lies between: the whole of that run is in doubt.
        ("2020-02-12", 1000),
        ("2020-02-20", 1000),
    ],
)
def test_parts_of_the_last_good_day_itself_are_good(last_good_on: str, good: float) -> None:
    exposures = history(event("2020-02-20", "worn", last_good_on=last_good_on), runs=(FIRST, SECOND))
    assert first_life(exposures)[0] == INTERVAL
    assert shots_by_part(exposures)[0] == pytest.approx([0, good, 1500 - good])


def test_a_one_day_run_the_day_after_the_last_good_one_is_in_doubt() -> None:
    runs = (FIRST, run("2020-01-16", "2020-01-16", 30), SECOND)
    exposures = history(event("2020-02-20", "worn", last_good_on="2020-01-15"), runs=runs)
    assert shots_by_part(exposures)[0] == [0, 1000, 530]


def test_the_whole_last_run_is_in_doubt_however_it_is_written_down() -> None:
    worn = event("2020-02-20", "worn", last_good_on="2020-02-19")
    in_two = (FIRST, run("2020-02-03", "2020-02-06", 200), run("2020-02-07", "2020-02-12", 300))
    assert shots_by_part(history(worn, runs=in_two))[0] == [0, 1000, 500]
    set_up_again = (FIRST, run("2020-02-03", "2020-02-06", 200), run("2020-02-07", "2020-02-12", 300, setups="1"))
    assert shots_by_part(history(worn, runs=set_up_again))[0] == [0, 1200, 300]
    over_a_month = (FIRST, run("2020-01-28", "2020-02-06", 500))
    assert shots_by_part(history(worn, runs=over_a_month))[0] == [0, 1000, 500]


def test_only_what_the_life_made_of_its_last_run_is_in_doubt() -> None:
    retool = event("2020-01-11", "retool", cause="planned")
    exposures = history(retool, event("2020-01-20", "worn", last_good_on="2020-01-19"), runs=(FIRST,))
    assert shots_by_part(exposures) == [[0, 500, 0], [0, 0, 500]]


def test_a_last_good_day_before_the_life_began_leaves_all_of_it_in_doubt() -> None:
    events = [event("2020-01-20", "retool", cause="planned"), event("2020-03-20", "retool", cause="wear", last_good_on="2020-01-10")]
    assert shots_by_part(history(*events))[1] == [0, 0, 700]


def test_the_last_good_day_of_a_life_that_did_not_wear_out_says_nothing() -> None:
    exposures = history(event("2020-02-20", "retool", cause="planned", last_good_on="2020-02-05"))
    assert first_life(exposures)[0] == CENSORED
    assert shots_by_life(exposures) == [1500, 200]


def test_an_unstated_renewal_may_be_an_interval() -> None:
    exposures = history(event("2020-02-20", "retool", last_good_on="2020-02-05"))
    assert first_life(exposures) == (INTERVAL, True, False)


def test_shots_after_worn_are_not_what_lies_between() -> None:
    exposures = history(event("2020-02-08", "worn", last_good_on="2020-02-08"))
    assert shots_by_part(exposures)[0] == [0, 1000, 250]


# Virtual age.


def clocks(*events: Cells) -> list[tuple[int, int, float]]:
    """Row at which each row's clock stood at zero, refurbishments since, share kept."""
    h = history(*events).history
    return list(zip(h.chain.tolist(), h.repeat.tolist(), h.kept.tolist(), strict=True))


def test_a_retool_sets_the_clock_to_zero() -> None:
    assert clocks(event("2020-01-20", "retool", cause="wear"), event("2020-02-20", "retool", cause="damage")) == [
        (0, 0, 1),
        (1, 0, 1),
        (2, 0, 1),
    ]


def test_refurbishments_count_from_the_last_retool() -> None:
    events = (
        event("2020-01-20", "refurbish", cause="planned"),
        event("2020-02-01", "refurbish", cause="wear"),
        event("2020-02-20", "retool", cause="wear"),
        event("2020-03-05", "refurbish", cause="planned"),
    )
    assert clocks(*events) == [(0, 0, 1), (0, 1, 1), (0, 2, 1), (3, 0, 1), (3, 1, 1)]


def test_a_refurbishment_after_damage_keeps_the_age_and_is_no_repeat() -> None:
    events = (event("2020-01-20", "refurbish", cause="damage"), event("2020-02-20", "refurbish", cause="planned"))
    assert clocks(*events) == [(0, 0, 1), (0, 0, 1), (0, 1, 1)]
    exposures = history(*events)
    assert exposures.lives == 3
    assert exposures.episodes.sudden.tolist() == [True, False, False]


def test_a_modification_divides_a_life_only_where_it_cuts_new() -> None:
    assert len(clocks(event("2020-02-07", "modify"))) == 1
    exposures = history(event("2020-02-08", "modify", renewed_share="0.25"))
    assert exposures.lives == 1
    assert exposures.history.kept.tolist() == pytest.approx([1, 0.75])
    assert exposures.history.chain.tolist() == [0, 0]
    assert shots_by_life(exposures) == [1250, 450]


def test_kept_shares_multiply_until_the_next_retool() -> None:
    events = (
        event("2020-01-20", "modify", renewed_share="0.5"),
        event("2020-02-20", "modify", renewed_share="0.2"),
        event("2020-03-05", "retool", cause="planned"),
        event("2020-03-20", "modify", renewed_share="0.1"),
    )
    assert [kept for _, _, kept in clocks(*events)] == pytest.approx([1, 0.5, 0.4, 1, 0.9])


@pytest.mark.parametrize("cause", ["", "wear", "damage", "design_change"])
def test_a_modification_is_no_observation_whatever_the_cause(cause: str) -> None:
    exposures = history(event("2020-02-08", "modify", cause=cause, renewed_share="0.25"))
    assert exposures.episodes.ending.tolist() == [CENSORED, CENSORED]
    assert not exposures.episodes.sudden.any()
    assert exposures.history.kept.tolist() == pytest.approx([1, 0.75])


def test_a_modification_that_cuts_all_new_starts_the_clock_anew_within_the_life() -> None:
    exposures = history(event("2020-02-08", "modify", renewed_share="1"))
    assert exposures.lives == 1
    assert exposures.history.chain.tolist() == [0, 1]
    assert exposures.history.kept.tolist() == [1, 1]


def test_a_partial_renewal_of_a_worn_surface_neither_starts_the_clock_nor_lets_it_wear_out_again() -> None:
    events = (event("2020-01-20", "worn"), event("2020-01-25", "modify", renewed_share="0.5"), event("2020-02-20", "retool", cause="wear"))
    exposures = history(*events)
    assert exposures.wear_outs == 1
    assert exposures.episodes.ending.tolist() == [EXACT, CENSORED, CENSORED]
    assert shots_by_life(exposures) == [1000, 0, 200]
    unstated = history(*events[:2], event("2020-02-20", "retool"))
    assert not unstated.episodes.unstated.any()
    cut_all_new = history(events[0], event("2020-01-25", "modify", renewed_share="1"), events[2])
    assert cut_all_new.wear_outs == 2


def test_modifications_count_since_the_last_retool() -> None:
    events = (
        event("2020-01-08", "modify"),
        event("2020-01-11", "modify", renewed_share="0.3"),
        event("2020-02-08", "refurbish", cause="planned"),
        event("2020-03-05", "retool", cause="planned"),
        event("2020-03-09", "modify"),
    )
    exposures = history(*events)
    cells = exposures.cells
    modified = exposures.jobs.modifications[cells.job]
    assert [float(cells.shots[modified == n].sum()) for n in range(3)] == pytest.approx([200 + 80, 300 + 60, 500 + 500 + 60])


def test_modifications_of_one_tool_are_not_those_of_the_next() -> None:
    runs = (FIRST, run("2020-01-06", "2020-01-15", 10, tool_id="T2"))
    exposures = exposures_of(runs, [event("2020-01-01", "modify")], [tool(), tool("T2")])
    assert exposures.jobs.modifications[exposures.cells.job[exposures.cells.shots > 0]].tolist() == [1, 0]


def test_a_modification_and_a_retool_of_one_day_leave_none() -> None:
    exposures = history(event("2020-01-20", "modify"), event("2020-01-20", "retool", cause="planned"))
    assert (exposures.jobs.modifications == 0).all()


def test_a_tool_outside_the_table_is_an_error() -> None:
    text = np.array(["retool"])
    nan = np.array([np.nan])
    events = Events(np.array([2]), np.array([1.0]), np.array([1.0]), text, np.array([""]), nan, np.array([-1]), np.zeros(1), nan, nan)
    with pytest.raises(ValueError, match="not in the table"):
        divide(2, events)
