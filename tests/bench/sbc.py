"""Simulation-based calibration: `uv run python tests/bench/sbc.py FITS --seed N --out FILE.json`.

Draws a truth from the model's own priors, lets a fleet live by it, samples the posterior of its records by the one compiled model,
and ranks the truth among the draws: FITS times, with the seeds from N on. Ranks of every quantity ought to be uniform (Talts et
al. 2018); a quantity fails where they leave the simultaneous band of their distribution (Saeilynoja et al. 2022) at a level of five
per cent over all quantities (Bonferroni). Fits whose chains mix too badly are told apart. A file that is there goes on: its seeds
are not fitted again. Fits are spread over processes by `--processes`, or over a Dask cluster by `--cluster ADDRESS`, whose workers find
tests/bench and tests/model by PYTHONPATH; each process compiles the model for itself.
"""

import argparse
import datetime as dt
import sys
from dataclasses import asdict, dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "model"))

from rank_fits import Effort, Fit, Mixing
from ranked_fleet import RankedFleet, row_of
from resumable import begun, written
from uniform_ranks import judge

from wearfit.calibration import MODEL_VERSION
from wearfit.model.priors_file import own_priors_text
from wearfit.workflow.fanout import Job, fan_out
from wearfit.workflow.ways import Cluster, Here, Processes

EFFORT = Effort(tools=16, months=24, tune=60, draws=150, kept=40)
LEVEL = 0.05  # over all quantities
SHOWN = 15


def judged(result: dict[str, Any], only_passed: bool) -> list[dict[str, Any]]:
    """A row for each quantity, the worst first."""
    fits = [f for f in result["fits"] if f["passed"] or not only_passed]
    rows = []
    for i, name in enumerate(result["quantities"]):
        ranks = np.array([f["ranks"][i] for f in fits if f["ranks"][i] is not None])
        if len(ranks):
            u = judge(ranks, EFFORT.kept)
            rows.append({"quantity": name, "fits": len(ranks), "p": u.p_value, "mean": u.mean, "spread": u.spread})
    return sorted(rows, key=lambda row: float(row["p"]))


def told(result: dict[str, Any]) -> str:
    passed = judged(result, True)
    limit = LEVEL / max(len(passed), 1)
    failed = [row["quantity"] for row in passed if row["p"] < limit]
    lines = [
        f"{len(result['fits'])} fits, {sum(f['passed'] for f in result['fits'])} with chains that mix; {len(passed)} quantities, "
        f"band at p = {limit:.2g} each: {', '.join(failed) or 'none'} outside"
    ]
    lines += [f"  {r['quantity']:40} p {r['p']:.2g}  mean {r['mean']:.3f}  spread {r['spread']:.2f}  ({r['fits']})" for r in passed[:SHOWN]]
    all_fits = judged(result, False)
    worst = ", ".join(f"{row['quantity']} {row['p']:.2g}" for row in all_fits[:3])
    return "\n".join([*lines, f"  of all fits, those that do not mix too: {worst}"])


@dataclass
class KeptFits:
    """Fits in the file of results, by seed."""

    path: Path
    result: dict[str, Any]

    @property
    def place(self) -> str:
        return str(self.path)

    def find(self, key: str) -> Fit | None:
        return None  # seeds that are there are not asked for

    def keep(self, key: str, result: Fit) -> None:
        whole = self.result
        whole["quantities"] += [name for name in result.ranks if name not in whole["quantities"]]
        whole["fits"].append({**row_of(result), "ranks": [result.ranks.get(name) for name in whole["quantities"]]})
        whole["fits"].sort(key=lambda f: int(f["seed"]))
        whole["date"] = str(dt.datetime.now(dt.UTC).date())
        for f in whole["fits"]:
            f["ranks"] += [None] * (len(whole["quantities"]) - len(f["ranks"]))
        written(self.path, whole, "fits")
        print(f"seed {key}: {'mixes' if result.passed else 'does not mix'}, {result.wear_outs} wear-outs", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("fits", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--cores", type=int, default=None, help="of one fit, where fits are not spread")
    parser.add_argument("--processes", type=int, default=None)
    parser.add_argument("--cluster", default=None)
    given = parser.parse_args()
    setting = {"version": version("wearfit"), "model": MODEL_VERSION, "effort": asdict(EFFORT)}
    result = begun(given.out, setting, {"quantities": [], "fits": []})
    for f in result["fits"]:
        f["passed"] = Mixing(f["rhat"], f["effective"], f["divergences"]).passed(EFFORT)
    done = {f["seed"] for f in result["fits"]}
    seeds = [s for s in range(given.seed, given.seed + given.fits) if s not in done]
    spread = Cluster(given.cluster) if given.cluster else Processes(given.processes) if given.processes else Here()
    work = RankedFleet(own_priors_text(), EFFORT, given.cores if isinstance(spread, Here) else 1)
    fan_out(work, [Job(str(seed), f"seed {seed}", seed) for seed in seeds], spread, KeptFits(given.out, result))
    if result["fits"]:
        result["worst"] = judged(result, True)[:SHOWN]
        written(given.out, result, "fits")
        print(told(result))


if __name__ == "__main__":
    main()
