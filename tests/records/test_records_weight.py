"""What reading costs: processor seconds for a large history, and no frame library to read the files."""

import subprocess
import sys
import time
from datetime import date, timedelta

import pytest
from fleets import event, records_of, run, tool

TOOLS, RUNS = 2_500, 40_000
LIMIT_S = 3.0  # [s] of processor time, so that other work on the machine does not count


@pytest.mark.slow
def test_forty_thousand_runs_are_checked_within_the_limit():
    names = [f"T{i}" for i in range(TOOLS)]
    first = date(2020, 1, 5)
    made = [7919 * i % 9000 for i in range(RUNS)]  # a tool's runs up and down: those that only rise are a running total's, and set aside
    runs = [
        run(
            (first + timedelta(20 * (i // TOOLS))).isoformat(),
            (first + timedelta(20 * (i // TOOLS) + 9)).isoformat(),
            "" if i % 2 else str(1000 + made[i]),
            names[i % TOOLS],
            parts=str(4000 + made[i]) if i % 2 else "",
        )
        for i in range(RUNS)
    ]
    events = [event("2020-06-01", "retool", name) for name in names]
    start = time.process_time()
    records = records_of({"tools": [tool(name) for name in names], "runs": runs, "events": events})
    assert len(records.fingerprint) == 64
    assert time.process_time() - start < LIMIT_S
    assert len(records.tables["runs"]) == RUNS


def test_reading_and_identity_load_no_frame_library():
    modules = ("readers.read", "sheets.interpret", "identity", "tables", "upload", "findings")
    program = "import sys; " + "; ".join(f"import wearfit.records.{name}" for name in modules) + "; print('pandas' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout.strip() == "False"
