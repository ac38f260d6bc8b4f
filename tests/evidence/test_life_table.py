"""Lives as a library for survival analysis wants them, on histories written by hand."""

import numpy as np
import pytest
from histories import event, exposures_of, records_of, run, state_of, tool

from wearfit.errors import Refusal
from wearfit.evidence.baselines import baselines
from wearfit.evidence.life_table import KINDS, life_table
from wearfit.model.priors import read_priors

PRIORS = read_priors()
RUNS = [run(f"2020-{month:02d}-01", f"2020-{month:02d}-10") for month in (3, 5, 7, 9)]


def test_a_row_a_life_with_shots_from_its_renewal() -> None:
    table = life_table(
        exposures_of(RUNS, [event("2020-05-10", "retool", cause="wear"), event("2020-07-10", "refurbish", cause="planned")]), PRIORS
    )
    assert list(table.end) == [2000, 1000, 1000]
    assert list(table.worn) == [True, False, False]
    assert list(table.entry) == [0, 0, 0]
    assert list(table.covariates[:, KINDS.index("refurbished")]) == [0, 0, 1]


def test_shots_before_the_records_are_an_entry_where_they_are_known() -> None:
    known = tool(opening_life_shots="5000", commissioned_on="2015-01-01")
    table = life_table(exposures_of(RUNS, tools=[known]), PRIORS)
    assert (list(table.entry), list(table.end)) == ([5000], [9000])
    unknown = life_table(exposures_of(RUNS, [event("2020-05-10", "retool", cause="wear")], [tool(commissioned_on="2015-01-01")]), PRIORS)
    assert list(unknown.end) == [2000]  # the life after the renewal alone


def test_a_wear_out_found_late_lies_between_two_counts() -> None:
    table = life_table(exposures_of(RUNS, [event("2020-09-20", "worn", cause="wear", last_good_on="2020-05-20")]), PRIORS)
    assert (table.good[0], table.end[0], table.interval[0], table.worn[0]) == (2000, 4000, True, True)


def test_a_partial_renewal_ends_no_life() -> None:
    table = life_table(exposures_of(RUNS, [event("2020-06-01", "modify", renewed_share="0.3")]), PRIORS)
    assert list(table.entry) == [0, 2000]
    assert list(table.end) == [2000, 4000]


def test_covariates_are_averaged_over_the_shots() -> None:
    filled = run("2020-05-01", "2020-05-10", 3000, resin_id="R2")  # 30 % glass on prehard steel
    table = life_table(exposures_of([RUNS[0], filled]), PRIORS)
    assert table.covariates[0, KINDS.index("filler_soft")] == pytest.approx(3.0 * 3000 / 4000)
    assert table.covariates[0, KINDS.index("filler_hard")] == 0.0


def test_too_few_wear_outs_to_fit_a_law_are_refused() -> None:
    exposures, live = state_of(records_of(RUNS, [event("2020-05-10", "retool", cause="wear")]))
    with pytest.raises(Refusal, match="know of 1 wear-outs at a known count of shots"):
        baselines(exposures, live, PRIORS)


def test_the_band_of_a_new_tool_holds_what_the_priors_say_of_it() -> None:
    """The cap of class 103 is 500,000 shots, and half of its tools are to last .8 of that at least."""
    runs = [run(f"2020-{month:02d}-01", f"2020-{month:02d}-10", 10_000 + 1000 * i, f"T{i}") for i in range(4) for month in (3, 5)]
    events = [event("2020-03-10", "retool", f"T{i}", cause="wear") for i in range(4)]
    exposures, live = state_of(
        records_of(runs, [*events, event("2020-05-10", "retool", "T0", cause="planned")], [tool(f"T{i}") for i in range(4)])
    )
    within = baselines(exposures, live, PRIORS)["class_band"].within["T0"]
    assert within(np.array([0.0, 400_000.0])) == pytest.approx([0.0, 0.5], abs=0.005)
