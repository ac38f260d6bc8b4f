"""Accuracy on fleets whose truth is known: `uv run python tests/bench/accuracy.py --out FILE.json`.

Each fleet of `accuracy_parts.kinds` is calibrated by the ordinary path and by the peers, all from the same records. One who knows every
parameter, group effect and tool effect gives each next run a true chance; regret is the Kullback-Leibler divergence from it. Whether an
interval of the shots left holds them is the chance of that by the true law. A file that is there goes on: its fleets are not fitted
again. `--table` prints what it holds. `--details FOLDER` keeps the chances of each run beside it.
"""

import argparse
import datetime as dt
import json
import time
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from accuracy_parts.kinds import OF_EACH, Case, cases, simulated
from accuracy_parts.ours import calibrated, history_as_recorded, our_forecasts
from accuracy_parts.peers import PEERS, Ahead, peers
from accuracy_parts.scores import OURS, held, interval, regret, summary
from accuracy_parts.table import told
from accuracy_parts.truth import asked_runs, remaining_of, true_chance
from resumable import begun, written

from wearfit.calibration import MODEL_VERSION
from wearfit.demo.future import NextRun
from wearfit.demo.simulate import SimulatedFleet
from wearfit.evidence.scores import LEVELS
from wearfit.model.calibrate import Outcome
from wearfit.model.priors import Priors, read_priors
from wearfit.model.sampler import Compiled
from wearfit.workflow.history import History

Array = np.ndarray

DIGITS = 5  # kept of each figure


def scored(case: Case, priors: Priors, compiled: Compiled | None, cores: int | None) -> tuple[dict[str, Any], dict[str, Any], Compiled]:
    """One fleet's figures, the chances behind them, and the compiled model for the next."""
    start = time.perf_counter()
    fleet = simulated(case)
    history = history_as_recorded(fleet)
    outcome = calibrated(history, priors, case.seed, compiled, cores)
    runs = asked_runs(fleet, case.seed)
    month = f"{runs[0].month:%Y-%m}"
    says = {
        OURS: our_forecasts(outcome.calibration, month, {run.tool_id: run.resin_id for run in runs}),
        **peers(history.exposures, history.live, priors),
    }
    placed = [run for run in runs if all(run.tool_id in of for of in says.values())]
    chances = {
        "truth": [true_chance(fleet, run) for run in placed],
        **{name: [_chance(fleet, run, of[run.tool_id]) for run in placed] for name, of in says.items()},
    }
    tools = list(dict.fromkeys(run.tool_id for run in placed))
    return (
        {
            "name": case.name,
            "kind": case.kind,
            "tools": fleet.settings.n_tools,
            "lives": history.exposures.lives,
            "wear_outs": history.exposures.wear_outs,
            "runs": len(placed),
            "left_out": len(runs) - len(placed),
            **_regrets(chances),
            **_intervals(fleet, history, priors, says, tools),
            "beyond": _beyond(fleet, runs, placed, says[OURS]),
            "gate": _gate(outcome),
            "seconds": round(time.perf_counter() - start, 1),
        },
        {"chances": chances, "tools": [run.tool_id for run in placed], "parameters": _parameters(fleet, outcome)},
        outcome.compiled,
    )


def _chance(fleet: SimulatedFleet, run: NextRun, ahead: Ahead) -> float:
    return ahead.run(float(run.shots), None if run.plant_id == fleet.live[run.tool_id].plant_id else run.plant_id)


def _regrets(chances: dict[str, list[float]]) -> dict[str, Any]:
    truth = np.array(chances["truth"])
    return {
        "regret": {name: _cut(regret(truth, np.array(p)).mean()) for name, p in chances.items() if name != "truth"},
        "chance": {name: _cut(np.mean(p)) for name, p in chances.items()},
    }


def _intervals(
    fleet: SimulatedFleet, history: History, priors: Priors, says: dict[str, dict[str, Ahead]], tools: list[str]
) -> dict[str, Any]:
    """Chance that the central intervals of the shots left hold them, and how wide the interval of 80 per cent is."""
    bands = band_lives(history, priors)
    true = {tool: remaining_of(fleet, fleet.live[tool]) for tool in tools}
    found: dict[str, dict[str, float]] = {}
    width: dict[str, float] = {}
    for name, of in says.items():
        by_level = {level: [interval(of[tool].gone_by, bands[tool], level) for tool in tools] for level in LEVELS}
        found[name] = {
            str(level): _cut(np.mean([held(true[tool].gone_by, *ends) for tool, ends in zip(tools, each, strict=True)]))
            for level, each in by_level.items()
        }
        width[name] = _cut(np.median([np.log(high / max(low, 1e-9)) for low, high in by_level[80]]))
    return {"tools_asked": len(tools), "held": found, "log_width": width}


def band_lives(history: History, priors: Priors) -> dict[str, float]:
    """Characteristic life by the band of each live tool. [shots]"""
    from wearfit.model.bands import band_offsets, log_band

    exposures, live = history.exposures, history.live
    first = np.searchsorted(exposures.candidates.tool, live.tool, side="left")
    lives = np.exp(log_band(exposures, priors, band_offsets(priors))[first])
    return {exposures.tools.tool_id[tool]: float(life) for tool, life in zip(live.tool, lives, strict=True)}


def _beyond(fleet: SimulatedFleet, runs: tuple[NextRun, ...], placed: list[NextRun], ours: dict[str, Ahead]) -> dict[str, Any]:
    """Our regret on runs of tools that the peers cannot place, and how many of those we cannot either."""
    rest = [run for run in runs if run not in placed]
    mine = [run for run in rest if run.tool_id in ours]
    truth, chance = [true_chance(fleet, run) for run in mine], [_chance(fleet, run, ours[run.tool_id]) for run in mine]
    return {"runs": len(mine), "regret": _cut(regret(np.array(truth), np.array(chance)).sum()), "unanswered": len(rest) - len(mine)}


def _gate(outcome: Outcome) -> dict[str, Any]:
    d = outcome.diagnostics
    return {"passed": d.passed, "draws": d.draws, "rhat": _cut(d.rhat_max), "divergences": d.divergences}


def _parameters(fleet: SimulatedFleet, outcome: Outcome) -> dict[str, list[float]]:
    """Truth, posterior mean and standard deviation of what may be wrong."""
    draws, truth = outcome.calibration.draws, fleet.settings.truth
    groups = list(outcome.calibration.levels.group)
    scales = {name: draws.scale[:, groups.index(name)] for name in ("plant", "resin", "design", "maker", "tool")}
    shape = outcome.calibration.coefficient("log_shape")
    of = {"log_shape": (np.log(truth.shape), shape), **{n: (getattr(truth, f"{n}_sd"), s) for n, s in scales.items()}}
    for name in ("sweating_between", "log_corrosivity", "filler_soft", "filler_hard"):
        of[name] = (getattr(truth, name.removesuffix("_between")), outcome.calibration.coefficient(f"slope.{name}"))
    of["log_storage"] = (np.log(truth.storage), outcome.calibration.coefficient("log_storage"))
    return {name: [float(true), float(np.mean(d)), float(np.std(d))] for name, (true, d) in of.items()}


def _cut(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--of-each", type=int, default=OF_EACH, help="fleets of each kind")
    parser.add_argument("--cores", type=int, default=None)
    parser.add_argument("--details", type=Path, default=None)
    parser.add_argument("--table", action="store_true", help="print what the file holds and stop")
    given = parser.parse_args()
    setting = {"version": version("wearfit"), "model": MODEL_VERSION}
    # What another model came to can be looked at, not gone on with.
    result = begun(given.out, {} if given.table else setting, {"fleets": []})
    done = {f["name"] for f in result["fleets"]}
    priors, compiled = read_priors(), None
    for case in [] if given.table else cases(given.of_each):
        if case.name in done:
            continue
        row, details, compiled = scored(case, priors, compiled, given.cores)
        result["fleets"].append(row)
        result["date"] = str(dt.datetime.now(dt.UTC).date())
        written(given.out, result, "fleets")
        if given.details is not None:
            given.details.mkdir(parents=True, exist_ok=True)
            (given.details / f"{case.name}.json").write_text(json.dumps(details))
        print(f"{case.name}: {row['runs']} runs, {row['wear_outs']} wear-outs, {row['seconds']} s", flush=True)
    result["summary"] = summary(result["fleets"], PEERS)
    written(given.out, result, "fleets")
    print(told(result))


if __name__ == "__main__":
    main()
