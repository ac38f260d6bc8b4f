"""Files of counters that are kept in thousands."""

import pytest
from fleets import Cells, run, tool
from shot_counters import Frames, frames_of, reading

from wearfit.records.findings import Finding
from wearfit.records.rules.counter.whole_thousands import read_counters_in_thousands

RUNS: list[Cells] = [run("2020-02-10", "2020-06-30", "200000"), run("2020-02-10", "2020-06-30", "90000", "T2")]
TOOLS = [tool(), tool("T2"), tool("T3")]


def _judged(*counter: tuple[str, float, float], runs: list[Cells] = RUNS) -> tuple[Frames, list[Finding]]:
    readings = [reading(day, shots, name) for name, *both in counter for day, shots in zip(("2020-01-31", "2020-07-31"), both, strict=True)]
    return read_counters_in_thousands(frames_of(tools=TOOLS, runs=runs, counter=readings))


def test_all_counters_of_a_file_are_read_as_thousands_where_the_runs_say_so():
    used, (finding,) = _judged(("T1", 10, 260), ("T2", 0, 91), ("T3", 5, 70))
    assert used["counter"]["counter_shots"].tolist() == [10_000, 260_000, 0, 91_000, 5_000, 70_000]
    assert (finding.column, finding.row, finding.severity) == ("counter_shots", None, "repaired")
    assert "2 tools" in finding.problem and "6 readings" in finding.problem and "290,000" in finding.problem


def test_one_tool_tells_it_where_counter_and_runs_agree():
    used, _ = _judged(("T1", 0, 205), ("T3", 5, 70), runs=RUNS[:1])
    assert used["counter"]["counter_shots"].tolist() == [0, 205_000, 5_000, 70_000]
    used, findings = _judged(("T1", 0, 350), ("T3", 5, 70), runs=RUNS[:1])
    assert used["counter"]["counter_shots"].tolist() == [0, 350, 5, 70] and findings == []


@pytest.mark.parametrize(
    "counter",
    [
        (("T1", 0, 205), ("T2", 0, 91_000)),  # two ways in one file
        (("T1", 0, 205_000), ("T2", 0, 91_000)),
        (("T1", 0, 205), ("T2", 0, 91), ("T3", 0, 400_000)),
        (("T1", 0, 20), ("T2", 0, 9)),
        (("T3", 0, 70),),
    ],
)
def test_other_files_stay(counter: tuple[tuple[str, float, float], ...]):
    used, findings = _judged(*counter)
    assert used["counter"]["counter_shots"].tolist() == [shots for _, *both in counter for shots in both]
    assert findings == []


def test_runs_counted_in_parts_tell_it_too():
    runs = [{**run("2020-02-10", "2020-06-30", "", name), "parts": parts} for name, parts in (("T1", "200000"), ("T2", "90000"))]
    used, _ = _judged(("T1", 0, 205), ("T2", 0, 91), runs=runs)
    assert used["counter"]["counter_shots"].tolist() == [0, 205_000, 0, 91_000]
