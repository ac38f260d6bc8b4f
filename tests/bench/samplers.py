"""Several samplers of the model on the same fleets in the same run: `uv run --group bench python tests/bench/samplers.py --out FILE.json`.

Simulated fleets without readings, as many tools in each as --tools names. wearfit's own sampler (trajectories of one length, numba), PyMC's
no-U-turn sampler on the same graph, NumPyro's on the same density written in JAX (`in_numpyro`), both with acceptance .8, each 4 chains
with as many draws and, but for wearfit's, as much tuning, on all cores, in a process of its own; and a penalised Weibull AFT fit of the
lives. Told are seconds by stage, gradients a second of sampling, effective draws a second of it (bulk; the least and the middle of
coefficients, shares, scales and effects of plants, resins, designs and makers), peak memory with the libraries and the history, and how a
gradient's time grows with the cells of a history.
Wants an idle machine. --arrays FOLDER writes the fleets for `on_accelerator.py` instead.
"""

import argparse
import datetime as dt
import json
import pickle
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from fleets import history
from one_sampler import SAMPLERS
from plain_arrays import plain_arrays

from wearfit.exposures.table import Exposures
from wearfit.model.agreement import agreement
from wearfit.model.data import ModelData
from wearfit.model.layout import COEFFICIENTS, Layout
from wearfit.model.parameters import build_parameters, group_scales
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.sampler import compile_model

Array = np.ndarray

AT_ONCE = 500  # levels whose effective draws are counted at a time


def laid(exposures: Exposures) -> tuple[Layout, ModelData]:
    """Arrays of a history, the sampler's coordinates laid along what it tells."""
    layout = layout_of(exposures)
    plain = prepare(exposures, read_priors(), layout)
    return layout, compile_model(plain, layout).laid(plain)


def judged(path: Path, data: ModelData, layout: Layout) -> dict[str, float]:
    """Effective draws and R-hat of what is believed, the same for every sampler."""
    draws = np.load(path)
    share, w = draws["share"].astype(float), draws["w"].astype(float)
    p = build_parameters(draws["z"].astype(float), share, w, draws["slot"].astype(float), data, layout)
    wanted = p.all[..., : len(COEFFICIENTS) + layout.contrasted]
    values = np.concatenate([wanted, share, group_scales(w, data)], axis=-1)
    values = values[..., values.std(axis=(0, 1)) > 0.0]
    found = [agreement(values[..., low : low + AT_ONCE]) for low in range(0, values.shape[-1], AT_ONCE)]
    bulk, rhat = np.concatenate([f.bulk for f in found]), np.concatenate([f.rhat for f in found])
    return {"ess_least": float(bulk.min()), "ess_middle": float(np.median(bulk)), "rhat_most": round(float(rhat.max()), 4)}


def compared(tools: int, effort: dict[str, int], names: list[str]) -> dict[str, Any]:
    """One fleet under each sampler."""
    exposures = history(tools).exposures
    layout, data = laid(exposures)
    results = []
    with TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "exposures.pickle").write_bytes(pickle.dumps(exposures))
        (folder / "laid.pickle").write_bytes(pickle.dumps((layout, data)))
        (folder / "effort.json").write_text(json.dumps(effort))
        for sampler in names:
            subprocess.run([sys.executable, str(Path(__file__).with_name("one_sampler.py")), sampler, name], check=True)
            one: dict[str, Any] = json.loads((folder / f"{sampler}.json").read_text())
            if "gradients" in one:
                one |= judged(folder / f"{sampler}.npz", data, layout)
                per_second = {k: one[k] / one["seconds"]["sample"] for k in ("gradients", "ess_least", "ess_middle")}
                one |= {f"{k}_per_s": round(v, 2) for k, v in per_second.items()}
            results.append(one)
            print(told(tools, one), flush=True)
    return {"tools": tools, "rows": len(data.row), "cells": len(data.cell), "results": results}


def told(tools: int, one: dict[str, Any]) -> str:
    stages = "  ".join(f"{stage} {seconds:.1f}" for stage, seconds in one["seconds"].items())
    line = f"{tools:6} {one['sampler']:12} {one['peak_mb']:6} MB   {stages} s"
    if "gradients" not in one:
        return line
    return line + (
        f"   {one['gradients_per_s']:.0f} gradients/s, {one['steps']:.0f} a draw"
        f"   effective {one['ess_least']:.0f} ({one['ess_least_per_s']:.1f}/s) to {one['ess_middle']:.0f} ({one['ess_middle_per_s']:.1f}/s)"
        f"   R-hat {one['rhat_most']:.3f}   diverging {one['diverging']}"
    )


def growth(fleets: list[dict[str, Any]]) -> dict[str, float]:
    """Exponent of a gradient's time over the number of cells, by sampler, from the smallest fleet to the largest."""
    first, last = (min(fleets, key=lambda f: f["cells"]), max(fleets, key=lambda f: f["cells"]))
    found = {}
    for a in first["results"]:
        for b in last["results"]:
            if a["sampler"] == b["sampler"] and "gradients" in a and first is not last:
                slower = a["gradients_per_s"] / b["gradients_per_s"]
                found[a["sampler"]] = round(float(np.log(slower) / np.log(last["cells"] / first["cells"])), 3)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tools", type=int, nargs="+", default=[120, 2500])
    parser.add_argument("--samplers", nargs="+", choices=list(SAMPLERS), default=list(SAMPLERS))
    parser.add_argument("--tune", type=int, default=100)
    parser.add_argument("--draws", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--machine", default="", help="the machine in general terms, for the file")
    parser.add_argument("--out", type=Path)
    parser.add_argument("--arrays", type=Path)
    given = parser.parse_args()
    if given.arrays:
        for tools in given.tools:
            layout, data = laid(history(tools).exposures)
            np.savez_compressed(given.arrays / f"fleet_{tools}.npz", **plain_arrays(data, layout))
        return
    effort = {"tune": given.tune, "draws": given.draws, "seed": given.seed}
    fleets = []
    for tools in given.tools:
        fleets.append(compared(tools, effort, given.samplers))
        if given.out:
            result = {"date": str(dt.datetime.now(dt.UTC).date()), "machine": given.machine, **effort, "growth": growth(fleets)}
            given.out.write_text(json.dumps(result | {"fleets": fleets}, indent=1) + "\n")
    for sampler, exponent in growth(fleets).items():
        print(f"{sampler}: a gradient's time grows with the cells to the power of {exponent:.2f}")


if __name__ == "__main__":
    main()
