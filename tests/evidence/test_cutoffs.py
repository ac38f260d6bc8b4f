"""Past days: ends of months with enough wear-outs before and a whole horizon after."""

import datetime as dt
from functools import cache

import numpy as np
import pytest
from histories import event, exposures_of, run, tool
from hypothesis import assume, given
from hypothesis import strategies as st

from wearfit.errors import Refusal
from wearfit.evidence.cutoffs import LEAST_BEFORE, check_cutoffs, choose_cutoffs, horizon_end, month_end, wear_out_days
from wearfit.exposures.table import Exposures


@cache
def fleet() -> Exposures:
    """Fourteen tools, one of which wears out on the 20th of each month from January 2020 on; records up to the end of 2023."""
    days = [f"{2020 + i // 12}-{i % 12 + 1:02d}-20" for i in range(14)]
    return exposures_of(
        [run(day[:8] + "01", day, tool_id=f"T{i}") for i, day in enumerate(days)],
        [event(day, "retool", f"T{i}", cause="wear") for i, day in enumerate(days)],
        [tool(f"T{i}") for i in range(14)],
        as_of="2023-12-31",
    )


def test_wear_outs_are_counted_on_the_day_they_were_found() -> None:
    days = wear_out_days(fleet()).astype("datetime64[D]")
    assert str(days[0]) == "2020-01-20"
    assert len(days) == 14


def test_the_usual_days_reach_from_the_tenth_wear_out_to_a_horizon_before_the_end() -> None:
    assert choose_cutoffs(fleet(), 12) == (dt.date(2020, 10, 31), dt.date(2021, 11, 30), dt.date(2022, 12, 31))
    assert choose_cutoffs(fleet(), 12, 1) == (dt.date(2022, 12, 31),)
    assert choose_cutoffs(fleet(), 26) == (dt.date(2021, 10, 31),)


@given(st.integers(1, 26), st.integers(1, 26))
def test_every_day_has_its_past_and_its_future(months: int, number: int) -> None:
    room = 27 - months  # ends of months from October 2020 to a horizon before the end of 2023
    assume(number <= room)
    days = choose_cutoffs(fleet(), months, number)
    assert len(days) == len(set(days)) == number
    assert list(days) == sorted(days)
    worn = wear_out_days(fleet()).astype("datetime64[D]")
    for day in days:
        assert month_end(day) == day
        assert (worn <= np.datetime64(day)).sum() >= LEAST_BEFORE
        assert horizon_end(day, months) <= dt.date(2023, 12, 31)


def test_no_room_is_refused_with_what_would_make_some() -> None:
    with pytest.raises(Refusal, match="No past day") as refused:
        choose_cutoffs(fleet(), 60)
    assert "--horizon 30" in refused.value.repair
    with pytest.raises(Refusal, match="know of 1 wear-outs"):
        choose_cutoffs(exposures_of([run("2020-02-01", "2020-02-10")], [event("2020-02-10", "retool", cause="wear")]), 12)


def test_named_days_are_put_in_order_and_looked_at() -> None:
    named = [dt.date(2022, 6, 15), dt.date(2021, 6, 15), dt.date(2022, 6, 15)]
    assert check_cutoffs(fleet(), named) == (dt.date(2021, 6, 15), dt.date(2022, 6, 15))
    for day, said in ((dt.date(2023, 12, 31), "nothing is known of what came after"), (dt.date(2020, 4, 30), "know of 4 wear-outs")):
        with pytest.raises(Refusal, match=said) as refused:
            check_cutoffs(fleet(), [day])
        assert refused.value.status == 2


@pytest.mark.parametrize(
    ("day", "months", "end"),
    [
        ("2021-06-30", 12, "2022-06-30"), ("2023-02-28", 12, "2024-02-29"), ("2020-11-30", 3, "2021-02-28"),
        ("2021-01-30", 1, "2021-02-28"), ("2021-12-15", 1, "2022-01-15"),
    ],
)  # fmt: skip
def test_a_horizon_ends_on_the_same_day_of_a_later_month(day: str, months: int, end: str) -> None:
    assert str(horizon_end(dt.date.fromisoformat(day), months)) == end
