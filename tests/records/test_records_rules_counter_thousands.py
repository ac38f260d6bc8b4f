"""Counts typed in thousands: read so where another count of the same tool says so, else left as typed."""

import pytest
from fleets import Cells, about, event, run, tool
from shot_counters import Frames, frames_of

from wearfit.records.findings import Finding
from wearfit.records.rules.counter.thousands import judge_thousands

RUNS: list[Cells] = [run("2020-01-10", "2020-06-30", "200000"), run("2021-01-10", "2021-06-30", "150000")]


def _judged(*events: Cells, home: Cells | None = None, runs: list[Cells] = RUNS) -> tuple[Frames, list[Finding]]:
    return judge_thousands(frames_of(tools=[home or tool()], runs=runs, events=list(events)))


def test_shots_at_an_event_are_read_as_thousands_where_the_runs_say_so():
    used, findings = _judged(event("2021-07-15", "retool", shots_at="350"))
    assert used["events"]["shots_at"].tolist() == [350_000]
    (finding,) = findings
    assert (finding.table, finding.row, finding.column, finding.value, finding.severity) == ("events", 2, "shots_at", "350", "repaired")
    assert "350,000" in finding.problem


@pytest.mark.parametrize("typed", ["350000", "35", "3500", "290", "420", "0", ""])
def test_shots_at_an_event_that_the_runs_do_not_bear_out_stay(typed: str):
    used, findings = _judged(event("2021-07-15", "retool", shots_at=typed))
    assert used["events"]["shots_at"].fillna(-1).tolist() == [float(typed or -1)]
    assert findings == []


def test_the_opening_counts_towards_the_shots_at_an_event():
    old = {"commissioned_on": "2015-01-01"}
    used, _ = _judged(event("2021-07-15", "retool", shots_at="950"), home=tool(opening_shots="600000", **old))
    assert used["events"]["shots_at"].tolist() == [950_000]
    # Where the opening is not known, neither is what the count should be.
    used, findings = _judged(event("2021-07-15", "retool", shots_at="950"), home=tool(**old))
    assert used["events"]["shots_at"].tolist() == [950] and findings == []


def test_opening_shots_are_read_as_thousands_where_a_counted_event_says_so():
    counted = (event("2020-07-15", "service", shots_at="801000"), event("2021-07-15", "retool", shots_at="951000"))
    used, findings = _judged(*counted, home=tool(opening_shots="600", opening_life_shots="200"))
    assert used["tools"][["opening_shots", "opening_life_shots"]].iloc[0].tolist() == [600_000, 200_000]
    (finding,) = findings
    assert (finding.table, finding.column, finding.severity) == ("tools", "opening_shots", "repaired")
    assert "601,000" in finding.problem and "600,000" in finding.problem
    used, findings = _judged(*counted, home=tool(opening_shots="600", opening_life_shots="200000"))
    assert used["tools"][["opening_shots", "opening_life_shots"]].iloc[0].tolist() == [600_000, 200_000]


@pytest.mark.parametrize("opening", ["", "0", "600000", "60", "5000"])
def test_opening_shots_without_such_evidence_stay(opening: str):
    used, findings = _judged(event("2020-07-15", "service", shots_at="800000"), home=tool(opening_shots=opening))
    assert used["tools"]["opening_shots"].fillna(-1).tolist() == [float(opening or -1)]
    assert findings == []


@pytest.mark.parametrize(
    ("home", "column", "read_as"),
    [
        (tool(band_high="500"), "band_high", 500_000),
        (tool(service_class="101", band_low="1000"), "band_low", 1_000_000),
        (tool(service_class="104", band_high="100"), "band_high", 100_000),
        (tool(service_class="", band_high="400"), "band_high", 400_000),  # one life of 350,000 shots
    ],
)
def test_a_band_a_thousandth_of_class_or_use_is_read_as_thousands(home: Cells, column: str, read_as: float):
    used, findings = _judged(home=home)
    assert used["tools"][column].tolist() == [read_as]
    (finding,) = about(findings, "tools", column)
    assert (finding.value, finding.severity) == (home[column], "repaired") and f"{read_as:,.0f}" in finding.problem


@pytest.mark.parametrize(
    "home",
    [
        tool(band_high="500000"),
        tool(service_class="105", band_high="500"),
        tool(service_class="", band_high="10000"),  # outlived 35 times over: odd, but no proof
        tool(service_class="", band_high="300"),  # 300,000 would be outlived too
        tool(band_low="20", band_high="40"),
    ],
)
def test_other_bands_stay(home: Cells):
    used, findings = _judged(home=home)
    typed = [float(home[name]) for name in ("band_low", "band_high") if name in home]
    assert used["tools"][["band_low", "band_high"]].iloc[0].dropna().tolist() == typed
    assert findings == []


def test_a_prototype_band_of_a_tool_with_few_shots_stays():
    used, findings = _judged(home=tool(service_class="", band_high="500"), runs=[run("2020-01-10", "2020-01-19", "900")])
    assert used["tools"]["band_high"].tolist() == [500] and findings == []


def test_both_ends_of_a_band_are_read_alike():
    used, _ = _judged(home=tool(band_low="300", band_high="500"))
    assert used["tools"][["band_low", "band_high"]].iloc[0].tolist() == [300_000, 500_000]
