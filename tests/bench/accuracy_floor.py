"""The least regret that the benchmark's fleets leave: `uv run python tests/bench/accuracy_floor.py RESULT.json --out FILE.json`.

Of the fleets in a result of `accuracy.py`, beside wearfit's own regret and the best peer's there: that of one who knows every parameter
and group effect, and of each tool's own effect what its own lives tell. Nothing is fitted; a few minutes.
"""

import argparse
import json
from pathlib import Path

import numpy as np
from accuracy_parts.all_but_tools import chance_without_tool
from accuracy_parts.kinds import OF_EACH, cases, simulated
from accuracy_parts.scores import OURS, regret
from accuracy_parts.truth import asked_runs, true_chance


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("result", type=Path)
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    result = json.loads(given.result.read_text())
    measured = {f["name"]: f for f in result["fleets"]}
    best = min((name for name in measured[next(iter(measured))]["regret"] if name != OURS), key=lambda peer: _pooled(measured, peer))
    rows = []
    for case in (c for c in cases(OF_EACH) if c.name in measured):
        fleet = simulated(case)
        runs = asked_runs(fleet, case.seed)
        truth, told = (np.array([of(fleet, run) for run in runs]) for of in (true_chance, chance_without_tool))
        rows.append({"name": case.name, "kind": case.kind, "runs": len(runs), "floor": float(regret(truth, told).mean()),
                     "truth": float(truth.mean()), "told": float(told.mean())})  # fmt: skip
    out = {"model": result["model"], "best_peer": best, "fleets": rows}
    print(f"{'kind':16} fleets   floor  wearfit  {best}  (thousandths of a nat a run)   told / true")
    for kind in (*dict.fromkeys(r["kind"] for r in rows), ""):
        of = [r for r in rows if kind in (r["kind"], "")]
        runs = np.array([r["runs"] for r in of], dtype=float)
        means = [1e3 * float(np.average(values, weights=runs)) for values in (
            [r["floor"] for r in of], [measured[r["name"]]["regret"][OURS] for r in of], [measured[r["name"]]["regret"][best] for r in of],
        )]  # fmt: skip
        bias = float(np.average([r["told"] for r in of], weights=runs) / np.average([r["truth"] for r in of], weights=runs))
        print(f"{kind or 'all':16} {len(of):6} {means[0]:7.1f} {means[1]:8.1f} {means[2]:7.1f} {bias:31.3f}")
    if given.out:
        given.out.write_text(json.dumps(out, indent=1) + "\n")


def _pooled(measured: dict[str, dict[str, object]], peer: str) -> float:
    rows = [(f["runs"], f["regret"][peer]) for f in measured.values()]  # type: ignore[index]
    return float(np.average([r for _, r in rows], weights=[n for n, _ in rows]))


if __name__ == "__main__":
    main()
