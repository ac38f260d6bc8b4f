"""How long a calibration takes by the size of the fleet, to the gate: `uv run python tests/bench/fleets.py --out FILE.json`.

Simulated fleets of as many tools as --tools names, each calibrated with each seed of --seeds in a process of its own, which reads
nothing and writes nothing: from the exposures to a calibration. --read takes readings of that share of the tools. Told are seconds
by stage, draws, whether the gate was passed and why not, the most memory held with the libraries and the history in it, and the
machine's `pace` before. `samplers.py` tells samplers apart; this tells whether an owner of such a fleet gets an answer in time.
Wants an idle machine.
"""

import argparse
import datetime as dt
import json
import pickle
import resource
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from pace import pace
from processes import OF_MAXRSS

from wearfit.demo.scenario import RESINS, SITES
from wearfit.demo.settings import Fleet
from wearfit.demo.simulate import simulate_fleet
from wearfit.demo.tables import write_tables
from wearfit.model.calibrate import calibrate
from wearfit.model.priors import read_priors
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.workflow.history import History, history_of

SEED = 3  # of the fleets
MAKERS = 20


def history(tools: int, readings_share: float = 0.0) -> History:
    """What a simulated fleet of some size went through, as its records tell it."""
    settings = Fleet(
        seed=SEED, n_tools=tools, sites=SITES, resins=RESINS, n_designs=tools // 3, n_makers=MAKERS, readings_share=readings_share
    )
    with TemporaryDirectory() as folder:
        write_tables(simulate_fleet(settings).tables, Path(folder))
        return history_of(assemble(read(Path(folder)).rows))


def one(path: Path, seed: int) -> dict[str, Any]:
    """A calibration of the history in a file."""
    of: History = pickle.loads(path.read_bytes())
    outcome = calibrate(of.exposures, of.live, of.fingerprint, read_priors(), seed)
    found = outcome.diagnostics
    return {
        "seed": seed,
        "seconds": {stage: round(seconds, 2) for stage, seconds in outcome.seconds.items()},
        "total_s": round(sum(outcome.seconds.values()), 2),
        "draws": outcome.flat.samples,
        "passed": found.passed,
        "reasons": list(found.reasons),
        "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // OF_MAXRSS,
    }


def told(tools: int, result: dict[str, Any]) -> str:
    stages = "  ".join(f"{stage} {seconds:.1f}" for stage, seconds in result["seconds"].items())
    gate = "gate passed" if result["passed"] else "gate not passed: " + "; ".join(result["reasons"])
    without = result["total_s"] - result["seconds"]["compile"]
    return (
        f"{tools:6} tools, seed {result['seed']}: {result['total_s']:6.1f} s ({without:.1f} but for compiling)   {stages}   "
        f"{result['peak_mb']} MB   {gate}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tools", type=int, nargs="+", default=[120, 2_500, 25_000])
    parser.add_argument("--seeds", type=int, nargs="+", default=[1])
    parser.add_argument("--read", type=float, default=0.0, metavar="SHARE", help="share of the tools of which readings are taken")
    parser.add_argument("--machine", default="", help="the machine in general terms, for the file")
    parser.add_argument("--out", type=Path)
    parser.add_argument("--one", nargs=2, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.one:
        print(json.dumps(one(Path(given.one[0]), int(given.one[1]))))
        return
    fleets: list[dict[str, Any]] = []
    for tools in given.tools:
        with TemporaryDirectory() as folder:
            path = Path(folder) / "history.pickle"
            of = history(tools, given.read)
            path.write_bytes(pickle.dumps(of))
            sizes = {"tools": tools, "lives": of.exposures.lives, "readings": len(of.exposures.readings.time)}
            fleets.append({**sizes, "pace_s": pace(), "calibrations": []})
            del of
            for seed in given.seeds:
                done = subprocess.run([sys.executable, __file__, "--one", str(path), str(seed)], check=True, stdout=subprocess.PIPE)
                fleets[-1]["calibrations"].append(json.loads(done.stdout))
                print(told(tools, fleets[-1]["calibrations"][-1]), flush=True)
                if given.out:
                    result = {"date": str(dt.datetime.now(dt.UTC).date()), "machine": given.machine, "read": given.read, "fleets": fleets}
                    given.out.write_text(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main()
