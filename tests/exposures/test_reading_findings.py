"""Readings and events that contradict each other are told, and honest histories are left in peace."""

from collections.abc import Sequence

import numpy as np
import pytest
from histories import Cells, event, exposures_of, run, tool

from wearfit.records.findings import Finding

RUNS = [run(f"202{year}-{month:02}-03", f"202{year}-{month:02}-12") for year in (0, 1) for month in range(1, 13)]
DAYS = [f"202{year}-{month:02}-20" for year in (0, 1) for month in range(1, 13)]
PIN = {"feature": "pin", "limit": "7.94", "new_value": "8"}


def readings(values: Sequence[float | str], feature: str = "flash", first: int = 0, **cells: str) -> list[Cells]:
    """One a month, from the twentieth of some month of 2020 on, counted from 0."""
    given = zip(DAYS[first:], values, strict=False)
    return [
        {"tool_id": "T1", "date": day, "feature": feature, "value": str(value), "limit": "0.13", "new_value": "0", **cells}
        for day, value in given
    ]


def noticed(given: Sequence[Cells], events: Sequence[Cells] = (), **others: str) -> list[Finding]:
    tools = [tool(**others)]
    found = [f for f in exposures_of(RUNS, events, tools, readings=given).findings if f.table == "readings"]
    assert {f.severity for f in found} <= {"note"}
    return found


RISE = [0.02, 0.04, 0.06, 0.08, 0.10]
FALLEN = [*RISE, 0.01, 0.02, 0.03]


def test_a_fall_with_no_renewal_on_record():
    (found,) = noticed(readings(FALLEN))
    assert (found.row, found.column, found.value) == (7, "value", "0.01")
    assert "flash of T1 fall from 0.1 on 2020-05-20 to 0.01 on 2020-06-20 and stay low" in found.problem
    assert "a renewal may be missing from the events" in found.problem
    assert "Add the retool, refurbish or modify" in found.repair


@pytest.mark.parametrize("share", ["", "0.3"])
def test_a_fall_that_the_events_explain(share: str):
    kind = event("2020-06-01", "modify", renewed_share=share) if share else event("2020-06-01", "refurbish", cause="planned")
    assert not noticed(readings(FALLEN), [kind])


@pytest.mark.parametrize(
    "values",
    [
        [*RISE, 0.01, 0.11, 0.12],  # one reading far off
        [0.02, 0.03, 0.04, 0.3, 0.05, 0.06, 0.07],  # a fault of the process
        [0.02, 0.03, 0.3, 0.25, 0.04, 0.05, 0.06],  # two of them
        [*RISE, 0.08, 0.07, 0.09],  # a gauge that scatters
        [0.10, 0.10, 0.01, 0.01],  # two before do not tell
        [*RISE, 0.01],  # nor does one after
    ],
)
def test_what_is_no_fall(values: Sequence[float]):
    assert not noticed(readings(values))


def test_a_fall_is_much_where_the_gauge_is_fine_and_little_where_it_is_coarse():
    halved = [0.08, 0.08, 0.08, 0.09, 0.04, 0.04, 0.04]
    assert noticed(readings(halved, resolution="0.001"))
    assert not noticed(readings(halved, resolution="0.04"))


def test_a_dimension_that_comes_back():
    values = [7.97, 7.965, 7.96, 7.955, 7.995, 7.99, 7.985]
    (found,) = noticed(readings(values, **PIN))
    assert "pin of T1 fall from 7.955" in found.problem


def test_what_lies_below_the_gauge_has_fallen_at_least_so_far():
    (found,) = noticed(readings([*RISE, "<0.01", "<0.01", 0.01]))
    assert found.value == "<0.01"
    assert not noticed(readings(["<0.3", "<0.3", "<0.3", 0.01, 0.02, 0.02]))


def test_renewals_from_before_they_were_written_down_are_not_missed():
    assert not noticed(readings(FALLEN), history_from="2021-01-01")
    assert noticed(readings(FALLEN), history_from="2020-03-01")


UNFELT = [*RISE, 0.10, 0.11, 0.11, 0.12, 0.11, 0.12, 0.12]


def test_a_renewal_that_nothing_shows():
    retool = event("2020-11-01", "retool", cause="planned")
    (found,) = noticed(readings([*UNFELT[:10], 0.11, 0.12, 0.12]), [retool])
    assert (found.row, found.value) == (12, "0.11")
    assert "go on after the retool of 2020-11-01 as if nothing had been renewed: 0.11 on 2020-10-20, 0.11 on 2020-11-20" in found.problem
    assert "correct the retool in the events" in found.repair


def test_a_modification_of_all_the_surface_is_a_renewal_too():
    (found,) = noticed(readings([*UNFELT[:10], 0.11, 0.12, 0.12]), [event("2020-11-01", "modify", renewed_share="1")])
    assert "after the modify of 2020-11-01" in found.problem


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        ("retool", [0.01, 0.02, 0.02]),  # renewed
        ("retool", [0.11, 0.02, 0.03]),  # one fault
        ("retool", [0.04, 0.11, 0.12]),  # a life soon spent: the first reading was low
        ("retool", [0.11]),
        ("refurbish", [0.09, 0.10, 0.10]),  # little comes back
    ],
)
def test_a_renewal_that_shows_or_need_not(kind: str, values: Sequence[float]):
    assert not noticed(readings([*UNFELT[:10], *values]), [event("2020-11-01", kind, cause="planned")])


def test_a_life_that_went_on_long_after_its_renewal_may_well_be_there_again():
    retool = event("2020-06-01", "retool", cause="planned")
    assert not noticed([*readings(RISE), *readings([0.1, 0.11, 0.11], first=14)], [retool])


@pytest.mark.parametrize(
    ("events", "says"),
    [
        ([event("2020-06-01", "worn")], "T1 was found worn on 2020-06-01"),
        ([event("2020-06-01", "worn"), event("2020-07-01", "retool", cause="wear")], "found worn on 2020-06-01"),
        ([event("2020-06-01", "retool", cause="wear")], "renewed for wear on 2020-06-01"),
        ([event("2020-06-01", "retire", cause="wear")], "retired for wear on 2020-06-01"),
    ],
)
def test_worn_while_far_from_every_limit(events: Sequence[Cells], says: str):
    (found,) = noticed([*readings([0.01, 0.01, 0.02, 0.02, 0.02]), *readings([7.995, 7.993, 7.99, 7.99, 7.985], **PIN)], events)
    assert says in found.problem
    assert "pin was 7.985 on 2020-05-20, its limit 7.94" in found.problem  # the one that has come furthest
    assert "correct the cause" in found.repair


@pytest.mark.parametrize("cause", ["damage", "planned", "obsolete", "design_change", ""])
def test_another_cause_explains_it(cause: str):
    assert not noticed(readings([0.01, 0.01, 0.02, 0.02]), [event("2020-06-01", "retool", cause=cause)])


def test_rust_in_store_explains_it_too():
    stay = [event("2020-05-25", "store"), event("2021-05-25", "take_out"), event("2021-05-25", "worn")]
    runs = [r for r in RUNS if r["started_on"] < "2020-05-25"]
    found = exposures_of(runs, stay, readings=readings([0.01, 0.01, 0.02, 0.02, 0.02])).findings
    assert not [f for f in found if f.table == "readings"]
    stay[0] = event("2020-03-25", "store")  # read again since: it had come out
    assert noticed(readings([0.01, 0.01, 0.02, 0.02, 0.02]), [stay[0], event("2020-04-25", "take_out"), event("2020-06-01", "worn")])


def test_one_feature_near_its_limit_explains_it():
    assert not noticed([*readings([0.01, 0.01, 0.02, 0.02]), *readings(RISE, "vestige")], [event("2020-06-01", "worn")])


def test_readings_of_a_lifes_youth_say_nothing_of_its_end():
    assert not noticed(readings([0.01, 0.01, 0.02]), [event("2020-12-20", "worn")])
    assert not noticed(readings([0.02]), [event("2020-02-01", "worn")])


def test_features_that_disagree():
    (over, found) = noticed([*readings([*RISE, 0.14, 0.15, 0.16, 0.17]), *readings([0.01] * 9, "vestige")])
    assert "taken to have worn out" in over.problem
    assert "flash is past its limit of 0.13 since 2020-07-20 at least, vestige was 0.01 on 2020-09-20, its limit 0.13" in found.problem


def test_features_that_do_not_disagree_grossly():
    assert len(noticed([*readings([*RISE, 0.14, 0.15, 0.16, 0.17]), *readings([0.05] * 9, "vestige")])) == 1
    assert len(noticed([*readings([*RISE, 0.14, 0.15, 0.16, 0.17]), *readings([0.01] * 5, "vestige")])) == 1
    assert not noticed([*readings([*RISE, 0.14]), *readings([0.01] * 6, "vestige")])


def test_a_limit_that_changes_within_a_life():
    given = [*readings(RISE[:3]), *readings(RISE[3:], first=3, limit="0.2")]
    (found,) = noticed(given)
    assert (found.row, found.column, found.value) == (5, "limit", "0.2")
    assert "change their limit from 0.13 to 0.2 on 2020-04-20; each reading is held against those of its own row" in found.problem
    exposures = exposures_of(RUNS, readings=given)
    assert np.exp(exposures.readings.log_way) == pytest.approx([0.02 / 0.13, 0.04 / 0.13, 0.06 / 0.13, 0.08 / 0.2, 0.1 / 0.2])


def test_a_new_value_that_changes_and_both_are_told_once():
    given = [*readings(RISE[:3]), *readings(RISE[3:], first=3, limit="0.2", new_value="0.01")]
    (found,) = noticed(given)
    assert "change their limit from 0.13 to 0.2 and new_value from 0 to 0.01 on" in found.problem


def test_a_limit_may_change_with_a_renewal_and_a_blank_new_value_is_nought():
    given = [*readings(RISE[:3]), *readings([0.01, 0.02], first=3, limit="0.2")]
    assert not noticed(given, [event("2020-04-01", "retool", cause="design_change")])
    assert not noticed([*readings(RISE[:3]), *readings(RISE[3:], first=3, new_value="")])
