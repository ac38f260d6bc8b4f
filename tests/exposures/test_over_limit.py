"""Wear-outs that readings show: two inspections over the limit in a row, with no renewal after."""

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pytest
from histories import Cells, event, exposures_of, live_of, run, tool

from wearfit.exposures.live import STATUSES
from wearfit.exposures.lives import CENSORED, EXACT, INTERVAL
from wearfit.exposures.table import Exposures
from wearfit.records.findings import Finding

RUNS = [run(f"2020-{month:02}-03", f"2020-{month:02}-12") for month in range(1, 13)]


def reading(date: str, value: str, feature: str = "flash", tool_id: str = "T1", **cells: str) -> Cells:
    return {"tool_id": tool_id, "date": date, "feature": feature, "value": value, "limit": "0.13", "new_value": "0", **cells}


def _exposures(readings: Sequence[Cells], events: Sequence[Cells] = (), **others: str) -> Exposures:
    return exposures_of(RUNS, events, readings=readings, **others)


def _noticed(exposures: Exposures) -> list[Finding]:
    return [finding for finding in exposures.findings if finding.table == "readings"]


def _day(date: str) -> float:
    return float((dt.date.fromisoformat(date) - dt.date(1970, 1, 1)).days)


def _is_seen(*readings: Cells, events: Sequence[Cells] = ()) -> bool:
    exposures = _exposures(readings, events)
    assert bool(_noticed(exposures)) == (exposures.episodes.ending == INTERVAL).any()
    return bool(_noticed(exposures))


def test_two_inspections_over_the_limit_are_a_wear_out_since_the_one_before():
    exposures = _exposures([reading("2020-03-20", "0.10"), reading("2020-05-20", "0.14"), reading("2020-07-20", "0.16")])
    assert exposures.episodes.ending.tolist() == [INTERVAL]
    assert exposures.episodes.last_good.tolist() == [_day("2020-03-20")]
    assert exposures.episodes.worn_at.tolist() == [_day("2020-05-20")]
    (finding,) = _noticed(exposures)
    assert (finding.row, finding.value, finding.severity, finding.source) == (3, "0.14", "note", "readings.csv")
    assert "limit of 0.13 from 2020-05-20 (0.14) to 2020-07-20, with no renewal since" in finding.problem
    assert "after 2020-03-20 and by 2020-05-20" in finding.problem


def test_the_tool_waits_for_its_renewal():
    live = live_of(RUNS, readings=[reading("2020-05-20", "0.14"), reading("2020-07-20", "0.16")])
    assert [STATUSES[status] for status in live.status] == ["worn"]


@pytest.mark.parametrize(
    "values",
    [("0.14",), ("0.14", "0.12"), ("0.14", "0.16", "0.12"), ("0.16", "0.12", "0.14"), ("0.13", "0.13"), ("<0.20", "<0.20"), ()],
)
def test_what_is_no_wear_out(values: Sequence[str]):
    assert not _is_seen(*(reading(f"2020-0{i}-20", value) for i, value in enumerate(values, start=3)))


def test_a_fault_of_the_process_before_does_not_count():
    exposures = _exposures([reading(f"2020-0{i}-20", value) for i, value in enumerate(("0.2", "0.05", "0.14", "0.15"), start=3)])
    assert exposures.episodes.last_good.tolist() == [_day("2020-04-20")]


def test_readings_of_one_day_are_one_inspection_and_their_median_counts():
    assert not _is_seen(reading("2020-05-20", "0.14"), reading("2020-05-20", "0.15"))
    one_cavity = [reading(f"2020-0{month}-20", value) for month in (5, 6) for value in ("0.12", "0.11", "0.30")]
    assert not _is_seen(*one_cavity)


def test_features_are_looked_at_apart_and_the_first_that_fails_counts():
    assert not _is_seen(reading("2020-05-20", "0.14"), reading("2020-06-20", "0.3", "vestige"))
    months = {"vestige": (7, 8), "flash": (5, 6)}
    exposures = _exposures([reading(f"2020-0{month}-20", "0.2", feature) for feature in months for month in months[feature]])
    assert exposures.episodes.worn_at.tolist() == [_day("2020-05-20")]


@pytest.mark.parametrize(("values", "seen"), [(("7.933", "7.937"), True), (("7.95", "7.96"), False), (("<7.93", "<7.92"), True)])
def test_a_dimension_that_falls(values: Sequence[str], seen: bool):
    falling = {"feature": "pin", "limit": "7.94", "new_value": "8"}
    assert _is_seen(*(reading(f"2020-0{i}-20", value, **falling) for i, value in enumerate(values, start=3))) == seen


def test_a_limit_that_is_the_new_value_says_nothing():
    assert not _is_seen(*(reading(f"2020-0{i}-20", "1", limit="0.5", new_value="0.5") for i in (3, 4)))


def test_each_life_has_its_own_readings():
    over = [reading("2020-05-20", "0.14"), reading("2020-07-20", "0.16")]
    assert not _is_seen(*over, events=[event("2020-06-01", "retool", cause="planned")])
    assert not _is_seen(*over, events=[event("2020-06-01", "modify", renewed_share="1")])
    exposures = _exposures(over, [event("2020-07-20", "retool", cause="planned")])  # read, then renewed
    assert exposures.episodes.ending.tolist() == [INTERVAL, CENSORED]
    second = _exposures(over, [event("2020-04-01", "retool", cause="planned")])
    assert second.episodes.ending.tolist() == [CENSORED, INTERVAL]
    assert second.episodes.last_good[1] == _day("2020-04-01")
    assert "after 2020-04-01" in _noticed(second)[0].problem


def test_a_partial_renewal_ends_no_life_and_what_it_mended_was_not_worn():
    cut = event("2020-08-01", "modify", renewed_share="0.4")
    over = [reading("2020-03-20", "0.05"), reading("2020-05-20", "0.14"), reading("2020-07-20", "0.16")]
    assert not _is_seen(*over, reading("2020-09-20", "0.05"), events=[cut])
    still = _exposures([*over, reading("2020-09-20", "0.17")], [cut])
    assert still.episodes.ending.tolist() == [INTERVAL, CENSORED]
    assert still.episodes.worn_at.tolist() == [_day("2020-05-20")] * 2


def test_readings_outside_the_tools_time_are_left_out():
    for first in ("2019-12-20", "2020-01-01"):
        assert not _is_seen(reading(first, "0.14"), reading("2020-07-20", "0.16"))
    retired = [event("2020-06-01", "retire", cause="obsolete")]
    for first in ("2020-06-01", "2020-07-20"):
        assert not _is_seen(reading(first, "0.14"), reading("2020-09-20", "0.16"), events=retired)
    exposures = _exposures([reading("2020-04-20", "0.14"), reading("2020-06-01", "0.16")], retired)
    assert exposures.episodes.ending.tolist() == [INTERVAL]
    assert "before it was retired on 2020-06-01" in _noticed(exposures)[0].problem


def test_a_renewal_that_its_count_puts_elsewhere_ends_the_life_there():
    retool = event("2020-06-01", "retool", cause="planned", shots_at="7000")  # by the runs it was in July
    exposures = _exposures([reading("2020-06-25", "0.14"), reading("2020-07-10", "0.16")], [retool])
    assert exposures.episodes.ending.tolist() == [INTERVAL, CENSORED]
    assert exposures.episodes.opens[1] > _day("2020-07-10")
    assert "before it was renewed on 2020-07-1" in _noticed(exposures)[0].problem


def test_a_feature_that_the_events_contradict_hides_no_other():
    events = [event("2020-12-20", "worn", last_good_on="2020-06-01")]
    flash, vestige = (("flash", "2020-05-20", "2020-07-20"), ("vestige", "2020-08-20", "2020-10-20"))
    exposures = _exposures([reading(date, "0.2", name) for name, *dates in (flash, vestige) for date in dates], events)
    assert exposures.episodes.worn_at.tolist() == [_day("2020-08-20")]
    assert exposures.episodes.last_good.tolist() == [_day("2020-06-01")]
    assert ["are believed" in finding.problem for finding in _noticed(exposures)] == [False, True]


def test_no_good_day_lies_before_the_life():
    events = [event("2020-08-01", "retool"), event("2020-12-20", "worn", last_good_on="2020-06-01")]
    exposures = _exposures([reading("2020-09-20", "0.2"), reading("2020-11-20", "0.2")], events)
    assert exposures.episodes.last_good[1] == _day("2020-08-01")


def test_from_which_side_is_not_guessed():
    falling = {"feature": "pin", "limit": "7.94", "new_value": ""}
    exposures = _exposures([reading("2020-05-20", "7.99", **falling), reading("2020-07-20", "7.98", **falling)])
    assert exposures.episodes.ending.tolist() == [CENSORED]
    (finding,) = _noticed(exposures)
    assert "as new_value is blank, nothing is made of it" in finding.problem
    rising = _exposures([reading(f"2020-0{m}-20", value, new_value="") for m, value in ((3, "0.1"), (5, "0.14"), (7, "0.15"))])
    assert rising.episodes.ending.tolist() == [INTERVAL]


def test_a_value_that_it_lies_somewhere_below_says_nothing_past_the_limit():
    falling = {"feature": "pin", "limit": "7.94", "new_value": "8"}
    values = zip(("03", "05", "07"), ("<7.99", "7.93", "7.92"), strict=True)
    exposures = _exposures([reading(f"2020-{month}-20", value, **falling) for month, value in values])
    assert exposures.episodes.last_good.tolist() == [_day("2020-01-01")]


def test_without_an_inspection_before_it_was_good_when_commissioned():
    exposures = _exposures([reading("2020-05-20", "0.14"), reading("2020-07-20", "0.16")])
    assert exposures.episodes.last_good.tolist() == [_day("2020-01-01")]


def test_found_worn_later_it_wore_out_before_and_found_worn_earlier_nothing_is_added():
    over = [reading("2020-03-20", "0.05"), reading("2020-05-20", "0.14"), reading("2020-07-20", "0.16")]
    later = _exposures(over, [event("2020-08-20", "worn")])
    assert (later.episodes.ending.tolist(), later.episodes.worn_at.tolist()) == ([INTERVAL], [_day("2020-05-20")])
    assert "before it was found worn on 2020-08-20" in _noticed(later)[0].problem
    earlier = _exposures(over, [event("2020-04-20", "worn")])
    assert (earlier.episodes.ending.tolist(), earlier.episodes.worn_at.tolist()) == ([EXACT], [_day("2020-04-20")])
    assert not _noticed(earlier)


def test_a_day_on_which_parts_were_good_is_believed():
    over = [reading("2020-03-20", "0.05"), reading("2020-05-20", "0.14"), reading("2020-07-20", "0.16")]
    exposures = _exposures(over, [event("2020-08-20", "worn", last_good_on="2020-08-01")])
    assert exposures.episodes.last_good.tolist() == [_day("2020-08-01")]
    (finding,) = _noticed(exposures)
    assert "good on 2020-08-01 by the events, which are believed" in finding.problem
    sharper = _exposures(over, [event("2020-08-20", "worn", last_good_on="2020-04-10")])
    assert sharper.episodes.last_good.tolist() == [_day("2020-04-10")]


def test_what_is_read_after_the_as_of_day_is_not_known():
    over = [reading("2020-05-20", "0.14"), reading("2020-07-20", "0.16")]
    assert exposures_of(RUNS, readings=over, as_of="2020-07-19").episodes.ending.tolist() == [CENSORED]


def test_on_simulated_paths_the_interval_holds_the_wear_out():
    """Paths of known truth: a reading grows with a power of the shots made, and passes its limit where the tool wears out."""
    rng = np.random.default_rng(11)
    tools, runs, readings, truth = [], [], [], {}
    for i in range(60):
        name, capacity, growth = f"T{i}", rng.uniform(4_000, 30_000), rng.uniform(0.7, 2.0)
        tools.append(tool(name))
        for month in range(24):
            start = dt.date(2020 + month // 12, month % 12 + 1, 2)
            runs.append(run(str(start), str(start + dt.timedelta(9)), 1000, name))
            if rng.random() < 0.5:
                z = (1000 * (month + 1) / capacity) ** growth
                readings.append(reading(str(start + dt.timedelta(12)), f"{0.13 * z:.5f}", tool_id=name))
        truth[name] = capacity
    exposures = exposures_of(runs, tools=tools, readings=readings, as_of="2021-12-31")
    marked = 0
    for i, name in enumerate(exposures.tools.tool_id):
        ending, low, high = (float(a[i]) for a in (exposures.episodes.ending, exposures.episodes.last_good, exposures.episodes.worn_at))
        mine = sorted((row for row in readings if row["tool_id"] == name), key=lambda row: row["date"])
        over = [row for row in mine if float(row["value"]) > 0.13]
        assert (ending == INTERVAL) == (len(over) >= 2)
        if ending == INTERVAL:
            made = [1000.0 * np.sum([_day(r["ended_on"]) < day for r in runs if r["tool_id"] == name]) for day in (low, high)]
            assert made[0] <= truth[name] <= made[1]
            marked += 1
    assert marked > 20
