"""What readings are worth on fleets of known truth: `uv run python tests/bench/readings.py [fleets]`.

Each fleet is calibrated twice, with its readings and without. The gauge's noise has log-sd .25 (t with four degrees of freedom),
paths drift from life to life, and one reading in twenty is a fault of the process, two to ten times too large. Scored are live
tools that were measured in the life under way: the log loss of "it wears out within so much more wear", for a tenth, a fifth and
two fifths of its characteristic life, against what happened; and whether the 80 % interval of what is left holds the truth. The
last figures are how far the median of what is left of a dozen tools moves when a reading ten times as large as their latest comes
the day before that one, and when the latest itself is made ten times too large, so that what it told is lost besides.
"""

import copy
import datetime as dt
import sys
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from wearfit.calibration import Calibration
from wearfit.demo import readings as simulated_readings
from wearfit.demo.scenario import RESINS, SITES
from wearfit.demo.settings import Fleet
from wearfit.demo.simulate import SimulatedFleet, simulate_fleet
from wearfit.demo.tables import write_tables
from wearfit.forecasts.clock import Clocks, read_clocks
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.own_luck import exponential_draws
from wearfit.forecasts.use_ahead import UseAhead
from wearfit.model import calibrate as fitting
from wearfit.model.priors import read_priors
from wearfit.model.sampler import Compiled
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.workflow.history import history_of

LOG_SD = 0.25
FAULTS = 0.05
SPOILED = 12  # tools of a fleet
STEPS = (0.1, 0.2, 0.4)  # of the characteristic life


def noisy_features() -> None:
    """The simulator's features at the noise of this benchmark."""
    scale = LOG_SD / np.sqrt(2.0)  # standard deviation of t with four degrees of freedom is sqrt 2
    first, second, third = (replace(f, noise=float(scale)) for f in simulated_readings.FEATURES)
    simulated_readings.FEATURES = (first, second, third)


def with_faults(fleet: SimulatedFleet, rng: np.random.Generator) -> dict[str, Any]:
    tables: dict[str, Any] = copy.deepcopy(dict(fleet.tables))
    for row in tables["readings"]:
        if rng.random() < FAULTS and not row["value"].startswith("<"):
            new = float(row.get("new_value", 0.0))
            row["value"] = f"{new + (float(row['value']) - new) * np.exp(rng.uniform(np.log(2.0), np.log(10.0))):.4g}"
    return tables


def calibrated(tables: dict[str, Any], compiled: Compiled | None) -> tuple[Calibration, Compiled, bool]:
    with TemporaryDirectory() as folder:
        write_tables(tables, Path(folder))
        history = history_of(assemble(read(Path(folder)).rows))
    outcome = fitting.calibrate(history.exposures, history.live, history.fingerprint, read_priors(), 1, compiled)
    return outcome.calibration, outcome.compiled, outcome.diagnostics.passed


def clocks_of(calibration: Calibration, rows: np.ndarray) -> Clocks:
    day = dt.date.fromisoformat(calibration.identity.as_of)
    return read_clocks(calibration, rows, UseAhead(calibration, read_outlook(calibration), rows), day)


def scored(calibration: Calibration, fleet: SimulatedFleet, wanted: list[str]) -> tuple[list[float], list[bool], dict[str, float]]:
    """Log losses, whether intervals hold, and the median left by tool."""
    of_tool = {str(calibration.levels.tool[t]): i for i, t in enumerate(calibration.live.tool)}
    rows = np.array([of_tool[t] for t in wanted])
    clocks = clocks_of(calibration, rows)
    losses: list[float] = []
    left = clocks.capacity(exponential_draws(calibration, rows, "wear")) / clocks.spent
    covered = []
    for i, tool_id in enumerate(wanted):
        career = fleet.live[tool_id]
        ratio = career.capacity / career.spent
        low, high = np.quantile(left[:, i], [0.1, 0.9])
        covered.append(bool(low <= ratio <= high))
        for step in STEPS:
            # In terms of the wear that the model believes spent, so that its own units do not count.
            more = 1.0 + step * np.exp(career.tool.log_life) / career.spent
            p = float(np.clip(clocks.ends_before(clocks.spent * more)[:, i].mean(), 1e-6, 1 - 1e-6))
            losses.append(-np.log(p if ratio < more else 1.0 - p))
    return losses, covered, {t: float(np.median(left[:, i] - 1.0)) for i, t in enumerate(wanted)}


def spoiled(tables: dict[str, Any], tools: list[str], added: bool) -> dict[str, Any]:
    """Records in which each tool has a reading ten times as large as its latest, the day before, or in the latest's place."""
    changed = copy.deepcopy(tables)
    for tool in tools:
        last = max((r for r in changed["readings"] if r["tool_id"] == tool), key=lambda r: str(r["date"]))
        new = float(last.get("new_value") or 0.0)
        row = last
        if added:
            row = {**last, "date": str(dt.date.fromisoformat(str(last["date"])) - dt.timedelta(days=1))}
            changed["readings"].append(row)
        row["value"] = f"{new + 10.0 * (float(last['value'].lstrip('<')) - new):.6g}"
    return changed


def main() -> None:
    noisy_features()
    fleets = int(sys.argv[1]) if len(sys.argv) > 1 else 4
    compiled: Compiled | None = None
    with_, without, held, held_without = [], [], [], []
    moves: dict[bool, list[float]] = {True: [], False: []}
    for seed in range(1, fleets + 1):
        fleet = simulate_fleet(Fleet(sites=SITES, resins=RESINS, n_tools=120, seed=500 + seed, readings_share=0.6))
        tables = with_faults(fleet, np.random.default_rng(seed))
        plain = {**tables, "readings": []}
        best, compiled, passed = calibrated(tables, compiled)
        wanted = [
            str(best.levels.tool[best.live.tool[i]])
            for i in best.reads.live
            if best.live.status[i] != "worn" and not fleet.live[str(best.levels.tool[best.live.tool[i]])].worn
        ]
        losses, covered, median = scored(best, fleet, wanted)
        bare, _, _ = calibrated(plain, compiled)
        losses_without, covered_without, _ = scored(bare, fleet, wanted)
        with_ += losses
        without += losses_without
        held += covered
        held_without += covered_without
        some = wanted[:SPOILED]
        for added, so_far in moves.items():
            worse, _, _ = calibrated(spoiled(tables, some, added), compiled)
            still = [t for t in some if t in {str(worse.levels.tool[i]) for i in worse.live.tool}]
            after = scored(worse, fleet, still)[2]
            so_far += [after[t] / median[t] - 1.0 for t in still]
        print(
            f"fleet {seed}: {len(wanted)} tools, gate {'passed' if passed else 'not passed'}, log loss {np.mean(losses):.3f} "
            f"({np.mean(losses_without):.3f} without), 80 % holds {np.mean(covered):.0%} ({np.mean(covered_without):.0%})",
            flush=True,
        )
    print(
        f"all: log loss {np.mean(with_):.3f}, {np.mean(without):.3f} without, ratio {np.mean(with_) / np.mean(without):.3f}; "
        f"80 % holds {np.mean(held):.1%} of {len(held)} ({np.mean(held_without):.1%} without)"
    )
    for added, so_far in moves.items():
        low, middle, high = np.quantile(so_far, [0.1, 0.5, 0.9])
        print(
            f"a reading ten times too large {'beside' if added else 'in place of'} the latest, {len(so_far)} tools: what is left moves by "
            f"{middle:+.0%} ({low:+.0%} to {high:+.0%} in eight of ten), by less than 15 % in {np.mean(np.abs(so_far) < 0.15):.0%}"
        )


if __name__ == "__main__":
    main()
