"""Write the demo scenario: ``python -m wearfit.demo.build [FOLDER]``, by default the checkout's data folder."""

import json
import sys
from pathlib import Path

from wearfit.demo.faults import add_faults
from wearfit.demo.plan import QUESTION_COLUMNS, next_run_questions, plan_rows, question_rows, question_truth
from wearfit.demo.scenario import OWNER, SCENARIO
from wearfit.demo.simulate import simulate_fleet
from wearfit.demo.tables import csv_bytes, write_tables
from wearfit.demo.truth import rounded

DATA = Path(__file__).resolve().parents[2] / "data"
PLANNED_TOOLS, PLANNED_DESIGNS = 24, 6
QUESTIONS = 12


def build(folder: Path) -> dict[str, int]:
    """Write the scenario's records and truth to `folder`/demo and its questions beside; the same bytes every time.

    Returns
    -------
    dict of str to int
        Rows by table.
    """
    fleet = simulate_fleet(SCENARIO)
    plan = plan_rows(fleet, PLANNED_TOOLS, PLANNED_DESIGNS, SCENARIO.seed + 1)
    questions = next_run_questions(fleet, QUESTIONS, SCENARIO.seed + 2)
    # Notes come last, and faults are slipped in before them: with notes or without, the rest is the same.
    written = len(fleet.tables["events"]) - fleet.services_noted
    events, notes = fleet.tables["events"][:written], fleet.tables["events"][written:]
    tables, faults = add_faults({**fleet.tables, "plan": plan, "events": events}, SCENARIO.as_of, SCENARIO.seed + 3)
    tables["events"] += notes
    truth = {
        "owner": OWNER,
        **fleet.truth,
        "next_runs": rounded(question_truth(fleet, questions)),
        "faults": [fault.as_dict() for fault in faults],
    }
    write_tables(tables, folder / "demo")
    text = json.dumps(truth, indent=1, ensure_ascii=False, allow_nan=False)
    (folder / "demo" / "truth.json").write_bytes((text + "\n").encode())
    (folder / "demo_next_runs.csv").write_bytes(csv_bytes(QUESTION_COLUMNS, question_rows(questions)))
    return {name: len(rows) for name, rows in tables.items()}


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else DATA
    for name, count in build(target).items():
        print(f"{name:9s} {count:6d}")
