"""How long a recalibration of the demo takes, cold and warm: `uv run python tests/bench/recalibration.py`.

Cold is a new process with warm disk caches, from the command's start to its end; warm a second calibration in the same
worker. Answers are timed as new processes too. Medians of five (cold recalibration: of three) go to standard output.
"""

import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from wearfit.demo.shipped import scenario_folder
from wearfit.workflow.recalibrate import Order, recalibrate
from wearfit.workflow.worker import Worker

COMMAND = [sys.executable, "-c", "import sys; from wearfit.cli.main import main; sys.exit(main())"]


def timed(*arguments: str) -> float:
    start = time.perf_counter()
    subprocess.run([*COMMAND, *arguments], check=True, capture_output=True)
    return time.perf_counter() - start


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = str(Path(folder) / "bench.db")
        timed("recalibrate", str(scenario_folder()), "--store", store)
        print(f"cold recalibration  {median(timed('recalibrate', '--store', store) for _ in range(3)):6.2f} s")
        for answer in (
            ("forecast",),
            ("plants",),
            ("next-run", "--tool", "T-049", "--plant", "salt-quay", "--resin", "pp-natural", "--month", "2026-10", "--shots", "88000"),
        ):
            print(f"{answer[0]:18}  {median(timed(*answer, '--store', store, '--json') for _ in range(5)):6.2f} s")
        with Worker() as worker:
            recalibrate(store, Order(), worker)
            for seed in range(2, 5):
                done = recalibrate(store, Order(seed=seed), worker)
                stages = ", ".join(f"{stage} {seconds:.2f}" for stage, seconds in done.seconds.items())
                print(f"warm recalibration  {done.seconds['total']:6.2f} s   {stages}; passed: {done.identity.diagnostics['passed']}")


if __name__ == "__main__":
    main()
