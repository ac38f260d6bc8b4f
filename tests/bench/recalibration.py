"""How long an owner waits on the demo: `uv run python tests/bench/recalibration.py [--runs 3] [--empty] [--out FILE.json]`.

Every figure but the last is of a new process, from the command's start to its end, disk caches warm: recalibration cold, by a command
that leaves a worker behind, and by the commands after it, which find it; a preview of a month's records, and the answers. Then, in one
process as in the app: a second calibration in the same worker, and previews after the first, by stage. `--empty` also times a
recalibration with nothing compiled yet. Medians go to standard output. Wants an idle machine.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from statistics import median
from typing import Any

from wearfit.demo.shipped import scenario_folder
from wearfit.workflow.preview import preview
from wearfit.workflow.progress import Progress
from wearfit.workflow.recalibrate import Order, recalibrate
from wearfit.workflow.worker import Worker

COMMAND = [sys.executable, "-c", "import sys; from wearfit.cli.main import main; sys.exit(main())"]
ANSWERS = (
    ("forecast",),
    ("plants",),
    ("next-run", "--tool", "T-049", "--plant", "salt-quay", "--resin", "pp-natural", "--month", "2026-10", "--shots", "88000"),
)
NEW_RECORDS = {
    "runs": (
        "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
        "T-003,delta,abs-white,2026-07-01,2026-07-06,24000\n"
        "T-049,salt-quay,pp-natural,2026-07-02,2026-07-09,31000\n"
    ),
    "events": "tool_id,date,event\nT-003,2026-07-06,worn\n",
}


def timed(*arguments: str, **environment: str) -> tuple[float, dict[str, Any]]:
    """Wall time of a command, and its answer."""
    start = time.perf_counter()
    done = subprocess.run([*COMMAND, *arguments, "--json"], check=True, capture_output=True, env=os.environ | environment)
    return time.perf_counter() - start, json.loads(done.stdout)


def told(name: str, seconds: Sequence[float], stages: Sequence[Mapping[str, float]] = ()) -> dict[str, Any]:
    """Print a line: the median, and of each stage."""
    parts = {stage: median(each[stage] for each in stages) for stage in stages[0]} if stages else {}
    by_stage = ", ".join(f"{stage} {value:.2f}" for stage, value in parts.items())
    print(f"{name:44} {median(seconds):7.2f} s   {by_stage}", flush=True)
    return {"what": name, "seconds": list(seconds), "stages": parts}


def recalibrations(name: str, store: str, runs: int, *options: str, **environment: str) -> dict[str, Any]:
    """Commands one after another, each with a seed of its own."""
    done = [timed("recalibrate", "--store", store, "--seed", str(seed), *options, **environment) for seed in range(2, 2 + runs)]
    return told(name, [wall for wall, _ in done], [answer["seconds"] for _, answer in done])


def previews(store: str, runs: int) -> dict[str, Any]:
    """Previews in this process after a first one, by stage; "weigh" is weighing and forecasting."""
    stages: list[dict[str, float]] = []
    for _ in range(1 + runs):
        marks: list[tuple[str, float]] = []

        def mark(progress: Progress, marks: list[tuple[str, float]] = marks) -> None:
            marks.append((progress.stage, time.perf_counter()))

        weighing = preview(store, mark).seconds
        marks.append(("end", time.perf_counter()))
        before = marks[1][1] - marks[0][1]
        stages.append({"records": before, "weigh": weighing, "total": marks[-1][1] - marks[0][1]})
    return told("preview, in a warm process", [each["total"] for each in stages[1:]], stages[1:])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--empty", action="store_true")
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    figures = []
    # A worker kept warm by somebody else is left alone.
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_RUNTIME_DIR"] = folder
        store, empty = str(Path(folder) / "bench.db"), f"base_compiledir={Path(folder) / 'empty'}"
        timed("recalibrate", str(scenario_folder()), "--store", store)
        if asked.empty:
            figures.append(recalibrations("recalibrate, nothing compiled yet", store, 1, PYTENSOR_FLAGS=empty))
        figures.append(recalibrations("recalibrate, cold", store, asked.runs))
        figures.append(recalibrations("recalibrate, cold, leaves a worker behind", store, 1, "--keep-warm", "60"))
        figures.append(recalibrations("recalibrate, a worker is there", store, asked.runs))
        timed("worker", "stop")
        for answer in ANSWERS:
            figures.append(told(f"{answer[0]}, cold", [timed(*answer, "--store", store)[0] for _ in range(asked.runs)]))
        with Worker() as worker:
            recalibrate(store, Order(), worker)
            done = [recalibrate(store, Order(seed=seed), worker) for seed in range(2, 2 + asked.runs)]
            figures.append(told("a second calibration in one process", [d.seconds["total"] for d in done], [d.seconds for d in done]))
        new = Path(folder) / "new"
        new.mkdir()
        for table, text in NEW_RECORDS.items():
            (new / f"{table}.csv").write_text(text, encoding="utf-8")
        store_records(store, new)
        figures.append(told("preview, cold", [timed("preview", "--store", store)[0] for _ in range(asked.runs)]))
        figures.append(previews(store, asked.runs))
    if asked.out is not None:
        asked.out.write_text(json.dumps({"processors": os.cpu_count(), "figures": figures}, indent=1), encoding="utf-8")


def store_records(store_url: str, folder: Path) -> None:
    """Store records without calibrating on them."""
    from wearfit.records.readers.read import read
    from wearfit.store.store import Store

    with Store.open(store_url, must_exist=True) as store:
        store.add_uploads((read(folder, store.choices(), None),), store.choices())


if __name__ == "__main__":
    main()
