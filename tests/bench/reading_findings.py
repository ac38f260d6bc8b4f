"""How often readings are told to contradict events, and how often they do: `uv run python tests/bench/reading_findings.py [fleets]`.

Simulated fleets are honest but for what is put in. All tools are measured; the gauge's noise has log-sd .25 (t with four degrees
of freedom), and one reading in twenty is a fault of the process, two to ten times too large. Put in, fleet by fleet: retools that
nobody wrote down, retools that never were, wear-outs of lives not yet a quarter spent, and one feature twice and another a fifth
of what it was.
"""

import copy
import datetime as dt
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from readings import noisy_features, with_faults

from wearfit.demo.scenario import RESINS, SITES
from wearfit.demo.settings import Fleet
from wearfit.demo.simulate import SimulatedFleet, simulate_fleet
from wearfit.demo.tables import write_tables
from wearfit.exposures.build import build_exposures
from wearfit.exposures.table import Exposures
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read

Tables = dict[str, Any]
TOLD = {
    "fall": "stay low, and no renewal",
    "unfelt": "as if nothing had been renewed",
    "far": "far from every limit",
    "disagree": "readings disagree",
}
RENEWALS = ("retool", "refurbish")


def exposures_of(tables: Tables) -> Exposures:
    with TemporaryDirectory() as folder:
        write_tables(tables, Path(folder))
        records = assemble(read(Path(folder)).rows)
    return build_exposures(records.as_of(records.latest_day))


def told(exposures: Exposures) -> list[tuple[str, str]]:
    """Kind and sentence of each finding of the kinds looked for."""
    return [(kind, f.problem) for f in exposures.findings for kind, words in TOLD.items() if words in f.problem]


def of_tool(tables: Tables, table: str, tool: str) -> list[dict[str, str]]:
    return [row for row in tables[table] if row["tool_id"] == tool]


def unwritten_retools(tables: Tables, fleet: SimulatedFleet) -> list[str]:
    """Of each tool the first retool with three readings of a feature in the lives before and after it is lost, with its `worn`."""
    touched = []
    for tool in [c.tool.tool_id for c in fleet.careers]:
        renewals = [row for row in of_tool(tables, "events", tool) if row["event"] in RENEWALS]
        days = ["0", *(row["date"] for row in renewals), "9"]
        for i, row in enumerate(renewals):
            lives = Counter(
                (r["feature"], r["date"] <= row["date"]) for r in of_tool(tables, "readings", tool) if days[i] < r["date"] <= days[i + 2]
            )
            if row["event"] == "retool" and any(lives[f, True] >= 3 and lives[f, False] >= 3 for f, _ in list(lives)):
                lost = [e for e in of_tool(tables, "events", tool) if e["event"] == "worn" and days[i] < e["date"] <= row["date"]]
                tables["events"] = [e for e in tables["events"] if e is not row and e not in lost]
                touched.append(tool)
                break
    return touched


def unmade_retools(tables: Tables, fleet: SimulatedFleet) -> list[str]:
    """Tools that were never renewed have a retool two thirds of the way through their readings."""
    touched = []
    for tool in [c.tool.tool_id for c in fleet.careers]:
        days = sorted({row["date"] for row in of_tool(tables, "readings", tool)})
        if len(days) < 6 or any(row["event"] in RENEWALS for row in of_tool(tables, "events", tool)):
            continue
        day = dt.date.fromisoformat(days[len(days) * 2 // 3]) + dt.timedelta(2)
        tables["events"].append({"tool_id": tool, "date": str(day), "event": "retool", "cause": "planned"})
        touched.append(tool)
    return touched


def early_wear_outs(tables: Tables, fleet: SimulatedFleet) -> list[str]:
    """Live tools that have spent less than a quarter of their capacity and were read twice are found worn."""
    touched = []
    for tool, career in fleet.live.items():
        since = max((e["date"] for e in of_tool(tables, "events", tool) if e["event"] in RENEWALS), default="0")
        read_ = Counter(r["feature"] for r in of_tool(tables, "readings", tool) if r["date"] > since)
        if not (career.worn or career.stored) and career.spent < 0.25 * career.capacity and max(read_.values(), default=0) >= 2:
            tables["events"].append({"tool_id": tool, "date": str(fleet.settings.as_of), "event": "worn", "cause": "wear"})
            touched.append(tool)
    return touched


def swapped_features(tables: Tables, fleet: SimulatedFleet) -> list[str]:
    """Of tools with two features and a wear-out the one reads twice as much, the other a fifth."""
    touched = []
    for tool in [c.tool.tool_id for c in fleet.careers if any(life.ending == "wear" for life in c.lives)]:
        rows = of_tool(tables, "readings", tool)
        features = sorted({row["feature"] for row in rows})
        for row in rows if len(features) > 1 else ():
            if not row["value"].startswith("<"):
                new = float(row["new_value"])
                row["value"] = f"{new + (float(row['value']) - new) * (2.0 if row['feature'] == features[0] else 0.2):.6g}"
        touched += [tool] if len(features) > 1 else []
    return touched


PUT_IN: dict[str, Callable[[Tables, SimulatedFleet], list[str]]] = {
    "fall": unwritten_retools, "unfelt": unmade_retools, "far": early_wear_outs, "disagree": swapped_features,
}  # fmt: skip


def main() -> None:
    noisy_features()
    lives, alarms, tried, found = 0, Counter[str](), Counter[str](), Counter[str]()
    for seed in range(1, (int(sys.argv[1]) if len(sys.argv) > 1 else 4) + 1):
        fleet = simulate_fleet(Fleet(sites=SITES, resins=RESINS, n_tools=150, seed=700 + seed, readings_share=1.0, unknown_entry_share=0.2))
        honest = with_faults(fleet, np.random.default_rng(seed))
        exposures = exposures_of(honest)
        lives += len(np.unique(exposures.episodes.life[exposures.history.source[exposures.readings.row]]))
        alarms.update(kind for kind, _ in told(exposures))
        for kind, put_in in PUT_IN.items():
            tables = copy.deepcopy(honest)
            touched = put_in(tables, fleet)
            said = [problem for of, problem in told(exposures_of(tables)) if of == kind]
            tried[kind] += len(touched)
            found[kind] += sum(any(f"{tool} " in problem or f"{tool}:" in problem for problem in said) for tool in touched)
        print(f"fleet {seed}: {lives} lives, told of honest ones {dict(alarms)}; put in {dict(tried)}, told {dict(found)}", flush=True)


if __name__ == "__main__":
    main()
