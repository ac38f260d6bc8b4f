"""Renewals on two days: one in two lists, or two."""

import pytest
from fleets import Cells, about, event, fleet, records_of, run

from wearfit.records.findings import Finding

# Two years of runs, 1,000 shots a day, before the renewals and after them.
BEFORE = [run(f"202{year}-{month:02}-05", f"202{year}-{month:02}-14", "10000") for year in (0, 1) for month in range(2, 12, 2)]
AFTER = [run(f"2022-{month:02}-05", f"2022-{month:02}-14", "10000") for month in range(5, 12, 2)]


def _judged(*events: Cells, between: tuple[Cells, ...] = ()) -> tuple[list[str], list[Finding]]:
    """Days and causes of the events in use, and the renewals set aside."""
    records = records_of(fleet(events=list(events), runs=[*BEFORE, *between, *AFTER]))
    used = records.tables["events"]
    aside = [finding for finding in about(records.findings, "events", "date") if finding.severity == "set_aside"]
    days = [f"{date.date()} {cause}".strip() for date, cause in zip(used["date"], used["cause"], strict=True)]
    return days, aside


def test_a_renewal_in_two_lists_ends_the_life_once_on_the_first_day():
    days, (finding,) = _judged(event("2022-01-11", "retool", cause="wear"), event("2022-01-04", "retool", cause="wear"))
    assert (days, finding.row) == (["2022-01-04 wear"], 2)
    assert "2022-01-11" in finding.problem and "2022-01-04 (row 3)" in finding.problem


def test_a_cause_that_the_second_alone_states_is_asked_for():
    days, (finding,) = _judged(event("2022-01-04", "refurbish"), event("2022-01-11", "refurbish", cause="damage"))
    assert days == ["2022-01-04"] and "write its cause into row 2" in finding.repair
    days, (finding,) = _judged(event("2022-01-04", "refurbish", cause="wear"), event("2022-01-11", "refurbish"))
    assert days == ["2022-01-04 wear"] and "cause" not in finding.repair


def test_a_renewal_set_aside_is_not_asked_for_its_cause():
    records = records_of(fleet(events=[event("2022-01-04", "retool"), event("2022-01-11", "retool")], runs=[*BEFORE, *AFTER]))
    assert [finding.row for finding in about(records.findings, "events", "cause")] == [2]


def test_a_third_day_is_the_same_renewal_too():
    days, aside = _judged(*(event(day, "retool", cause="wear") for day in ("2022-01-04", "2022-01-11", "2022-02-20")))
    assert days == ["2022-01-04 wear"] and len(aside) == 2


@pytest.mark.parametrize(
    "events",
    [
        (event("2022-01-04", "retool", cause="wear"), event("2022-03-06", "retool", cause="wear")),  # 61 days
        (event("2022-01-04", "retool", cause="wear"), event("2022-01-11", "retool", cause="damage")),
        (event("2022-01-04", "refurbish", cause="wear"), event("2022-01-11", "retool", cause="wear")),
        (event("2022-01-04", "retool", cause="wear"), event("2022-01-08", "worn"), event("2022-01-11", "retool", cause="wear")),
        (event("2022-01-04", "worn"), event("2022-01-11", "retool", cause="wear")),
        (event("2022-01-04", "retool", cause="wear"), event("2022-01-11", "retool", cause="wear"), event("2022-01-11", "worn")),
        (event("2022-01-04", "retool", cause="wear"), event("2022-01-11", "retire")),
        (event("2022-01-04", "service"), event("2022-01-11", "service")),
    ],
)
def test_two_events_stay_two(events: tuple[Cells, ...]):
    days, aside = _judged(*events)
    assert len(days) == len(events) and aside == []


TWICE = event("2022-01-04", "retool", cause="wear"), event("2022-01-25", "retool", cause="wear")


@pytest.mark.parametrize(
    ("between", "one"),
    [
        (run("2022-01-10", "2022-01-12", "2900"), True),
        (run("2022-01-10", "2022-01-14", "5000"), False),
        (run("2022-01-02", "2022-01-31", "6000"), True),  # a month's row does not tell on which side its shots were made
        (run("2021-12-30", "2022-01-04", "5000"), True),  # its last day is that of the event, which comes after it
        (run("2022-01-25", "2022-01-29", "5000"), True),
        (run("2022-01-04", "2022-01-08", "5000"), False),
    ],
)
def test_next_to_no_use_between_them_makes_them_one(between: Cells, one: bool):
    assert len(_judged(*TWICE, between=(between,))[1]) == one


def test_a_life_as_short_as_the_one_before_is_a_life():
    # A soft tool: 2,000 shots, renewed, 1,500, renewed.
    events = [event("2020-02-08", "retool", cause="wear"), event("2020-02-20", "retool", cause="wear")]
    runs = [run("2020-02-03", "2020-02-04", "2000"), run("2020-02-13", "2020-02-14", "1500"), run("2020-03-03", "2020-03-04", "1800")]
    assert len(records_of(fleet(events=events, runs=runs)).tables["events"]) == 2


def test_counts_at_the_events_tell_of_use_that_no_run_shows():
    assert len(_judged(*(dict(row, shots_at=at) for row, at in zip(TWICE, ("100000", "100050"), strict=True)))[1]) == 1
    assert _judged(*(dict(row, shots_at=at) for row, at in zip(TWICE, ("100000", "130000"), strict=True)))[1] == []


def test_what_comes_after_the_second_has_no_say():
    later = [run(f"2022-{month:02}-05", f"2022-{month:02}-06", "9000") for month in range(5, 12)]
    runs = [*BEFORE, run("2022-01-10", "2022-01-14", "5000"), *later]
    records = records_of(fleet(events=list(TWICE), runs=runs))
    assert len(records.tables["events"]) == 2
    # A run under way at the second is judged alike before and after it has ended.
    for end, shots in (("2022-01-25", "6000"), ("2022-02-03", "15000")):
        records = records_of(fleet(events=list(TWICE), runs=[*BEFORE, run("2022-01-20", end, shots)]))
        assert len(records.tables["events"]) == 2
