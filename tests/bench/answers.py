"""What answers cost on fleets of any size: `uv run python tests/bench/answers.py --out FILE.json`.

Fleets are the demo's live tools stretched to as many as --tools names (`stretched`; what is answered of them means nothing). A process
of its own for each takes, one after another: reading the calibration, when each tool will wear out and by when to order its
replacement, the risk of each tool's usual run with the largest runs at three risks, and the table of the screen. Told are wall
time, processor time and the most memory held during each, the libraries and the calibration in it, then the same commands cold (a
new process, median of five) on the demo. Linux alone tells the memory of a stage; elsewhere it is that of the process so far.
Wants an idle machine.
"""

import argparse
import datetime as dt
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

from processes import OF_MAXRSS
from stretched import stretched

from wearfit.calibration import Calibration, from_bytes, to_bytes
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.forecasts.next_run import answer_runs
from wearfit.forecasts.run_question import RunQuestion
from wearfit.store.calibrations import CalibrationSummary
from wearfit.store.store import Store
from wearfit.workflow.answers import Accepted, current_for, forecast_of
from wearfit.workflow.fleet_table import fleet_table
from wearfit.workflow.usual_run import usual_run

COMMAND = [sys.executable, "-c", "import sys; from wearfit.cli.main import main; sys.exit(main())"]
STAGES = ("read", "forecast", "next_run", "table")
PEAK, FORGET = Path("/proc/self/status"), Path("/proc/self/clear_refs")


def peak_mb() -> float:
    """The most memory held since `forget_peak`, and by any copy of this process so far: what both share is counted twice."""
    return _own_peak_mb() + resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / OF_MAXRSS


def _own_peak_mb() -> float:
    if PEAK.exists():
        line = next(line for line in PEAK.read_text().splitlines() if line.startswith("VmHWM"))
        return int(line.split()[1]) / 1024.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / OF_MAXRSS


def cpu_s() -> float:
    """Processor time so far, of copies of this process that have ended too."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def forget_peak() -> None:
    if FORGET.exists():
        FORGET.write_text("5")


def staged(costs: dict[str, Any], name: str, work: Callable[[], Any]) -> Any:
    forget_peak()
    wall, cpu = time.perf_counter(), cpu_s()
    done = work()
    costs[name] = {"wall_s": time.perf_counter() - wall, "cpu_s": cpu_s() - cpu, "peak_mb": peak_mb()}
    return done


def usual_questions(calibration: Calibration) -> list[RunQuestion]:
    """The usual run of each live tool in the month after the calibration's day."""
    day = dt.date.fromisoformat(calibration.identity.as_of)
    month = (day.replace(day=1) + dt.timedelta(days=32)).strftime("%Y-%m")
    questions = []
    for tool in calibration.levels.tool[calibration.live.tool]:
        run = usual_run(calibration, str(tool))
        plant, resin = run.plant_id or str(calibration.levels.plant[0]), run.resin_id or str(calibration.levels.resin[0])
        questions.append(RunQuestion(str(tool), plant, resin, month, run.shots))
    return questions


def one(path: Path) -> dict[str, Any]:
    """Costs of each stage for the calibration in a file."""
    costs: dict[str, Any] = {}
    calibration = staged(costs, "read", lambda: from_bytes(path.read_bytes(), draws_later=True))
    current = current_for(1, calibration, None)
    document = staged(costs, "forecast", lambda: forecast_of(current, Accepted(10.0, 0.10)))
    questions = usual_questions(calibration)
    runs = staged(costs, "next_run", lambda: answer_runs(calibration, questions))
    rows = staged(costs, "table", lambda: fleet_table(document["tools"], {}))
    told = {"tools": len(rows), "dated": sum(tool["p_within_12_months"] is not None for tool in document["tools"])}
    return {**told, "runs_answered": sum(run["problem"] is None for run in runs.runs), "draws": calibration.samples, "stages": costs}


def cold(folder: Path) -> dict[str, float]:
    """Seconds of the answer commands on the demo, new processes with warm disk caches, medians of five."""
    store, blob = str(folder / "demo.db"), shipped_calibration_bytes()
    calibration = from_bytes(blob)
    identity, question = calibration.identity, usual_questions(calibration)[0]
    summary = CalibrationSummary(
        dt.date.fromisoformat(identity.as_of), identity.fingerprint, True, (), identity.lives, identity.wear_outs, identity.seed,
        identity.model_version, identity.format_version,
    )  # fmt: skip
    with Store.open(store) as opened:
        opened.add_calibration(blob, summary, make_current=True)
    options = {"--tool": question.tool_id, "--plant": question.plant_id, "--resin": question.resin_id, "--month": question.month}
    asked = [*(word for pair in options.items() for word in pair), "--shots", str(question.shots)]
    return {
        name: median(_timed(name, *more, "--store", store, "--json") for _ in range(5))
        for name, more in (("forecast", ()), ("next-run", asked))
    }


def _timed(*arguments: str) -> float:
    start = time.perf_counter()
    subprocess.run([*COMMAND, *arguments], check=True, capture_output=True)
    return time.perf_counter() - start


def table(costs: dict[str, Any]) -> str:
    head = f"{'tools':>7} {'file MB':>8}" + "".join(f"  {stage:>9} wall   cpu s    MB" for stage in STAGES)
    lines = [head]
    for of in costs["fleets"]:
        cells = "".join(f"  {s['wall_s']:14.2f} {s['cpu_s']:7.2f} {s['peak_mb']:5.0f}" for s in (of["stages"][stage] for stage in STAGES))
        lines.append(f"{of['tools']:7} {of['file_mb']:8.1f}{cells}")
    lines += [f"cold `wearfit {name}` on the demo: {seconds:.2f} s" for name, seconds in costs["cold_s"].items()]
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tools", type=int, nargs="+", default=[88, 1_000, 10_000])
    parser.add_argument("--out", type=Path)
    parser.add_argument("--one", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--keep", type=Path, help="a folder that keeps the stretched calibrations for the next time")
    given = parser.parse_args()
    if given.one is not None:
        print(json.dumps(one(given.one)))
        return
    with tempfile.TemporaryDirectory() as folder:
        demo = from_bytes(shipped_calibration_bytes())
        costs: dict[str, Any] = {"fleets": [], "cold_s": cold(Path(folder))}
        for tools in given.tools:
            path = (given.keep or Path(folder)) / f"{tools}.nc"
            path.parent.mkdir(parents=True, exist_ok=True)
            if not path.exists():
                path.write_bytes(to_bytes(stretched(demo, tools)))
            done = subprocess.run([sys.executable, __file__, "--one", str(path)], check=True, stdout=subprocess.PIPE)
            costs["fleets"].append({"file_mb": path.stat().st_size / 1e6, **json.loads(done.stdout)})
    print(table(costs))
    if given.out is not None:
        given.out.write_text(json.dumps(costs, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
