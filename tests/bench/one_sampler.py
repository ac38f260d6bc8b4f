"""One sampler on one fleet in a process of its own, so that its imports and its memory are its own: started by `samplers.py`.

`python one_sampler.py NAME FOLDER`: the folder holds `exposures.pickle`, `laid.pickle` (layout and arrays, the coordinates laid along
what the history tells) and `effort.json`; `NAME.json` and `NAME.npz` come into it. wearfit lays the coordinates itself, which counts;
others are given them.
"""

import json
import os
import pickle
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from processes import OF_MAXRSS

Array = np.ndarray
Draws = dict[str, Array]

TARGET_ACCEPT = 0.8
CHAINS = 4
CORES = min(CHAINS, os.cpu_count() or 1)


class Stages:
    """Seconds by stage: each `done` ends one."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self._since = time.perf_counter()

    def done(self, stage: str) -> None:
        self.seconds[stage] = time.perf_counter() - self._since
        self._since = time.perf_counter()


def with_wearfit(exposures: Any, effort: dict[str, int], stages: Stages) -> tuple[dict[str, Any], Draws]:
    from wearfit.model.prepare import layout_of, prepare
    from wearfit.model.priors import read_priors
    from wearfit.model.sampler import compile_model, sample

    stages.done("import")
    layout = layout_of(exposures)
    data = prepare(exposures, read_priors(), layout)
    stages.done("prepare")
    compiled = compile_model(data, layout)
    stages.done("compile")
    data = compiled.laid(data)
    stages.done("lay")
    chains = sample(compiled, data, effort["seed"], effort["draws"])
    stages.done("sample")
    told = {"gradients": chains.tuned.gradients, "steps": float(chains.steps.mean()), "diverging": int(chains.diverging.sum())}
    return told, {name: chains.coordinates[name] for name in ("z", "share", "w", "slot")}


def with_pymc(laid: tuple[Any, Any], effort: dict[str, int], stages: Stages) -> tuple[dict[str, Any], Draws]:
    import pymc as pm

    from wearfit.model.graph import build_graph

    stages.done("import")
    layout, data = laid
    with build_graph(data, layout).model:
        trace = pm.sample(
            draws=effort["draws"],
            tune=effort["tune"],
            chains=CHAINS,
            cores=CORES,
            target_accept=TARGET_ACCEPT,
            random_seed=effort["seed"],
            nuts_sampler="pymc",
            discard_tuned_samples=False,
            compute_convergence_checks=False,
            progressbar=False,
        )
    stages.done("sample")
    sampling = float(trace["posterior"].attrs["sampling_time"])  # the rest of it went into compiling and starting the chains
    stages.seconds |= {"compile": stages.seconds["sample"] - sampling, "sample": sampling}
    told, coordinates = _told(trace)
    return told | {"processes": CORES}, coordinates


def _told(trace: Any) -> tuple[dict[str, Any], Draws]:
    gradients = sum(int(trace[part]["n_steps"].values.sum()) for part in ("warmup_sample_stats", "sample_stats"))
    draws = {name: np.asarray(trace["posterior"][name].values) for name in ("z", "share", "w", "slot")}
    stats = trace["sample_stats"]
    told = {"gradients": gradients, "steps": float(stats["n_steps"].values.mean()), "diverging": int(stats["diverging"].values.sum())}
    return told, draws


def with_numpyro(laid: tuple[Any, Any], effort: dict[str, int], stages: Stages) -> tuple[dict[str, Any], Draws]:
    import jax
    from in_numpyro import arranged
    from nuts_in_numpyro import run
    from plain_arrays import plain_arrays

    stages.done("import")
    layout, data = laid
    d = jax.device_put(arranged(plain_arrays(data, layout), scatter=True))
    stages.done("prepare")
    done = run(d, effort["seed"], effort["tune"], effort["draws"], target_accept=TARGET_ACCEPT, report=lambda line: None)
    stages.done("sample")
    stages.seconds |= {"compile": done.seconds["compile"], "sample": done.seconds["sample"]}
    told = {
        "gradients": int(done.steps.sum()),
        "steps": float(done.steps[:, done.tuned :].mean()),
        "diverging": int(done.diverging.sum()),
    }
    return told, done.coordinates


def with_weibull_aft(exposures: Any, effort: dict[str, int], stages: Stages) -> tuple[dict[str, Any], Draws]:
    from wearfit.evidence.baselines import RIDGE
    from wearfit.evidence.life_table import life_table, unstated_wear
    from wearfit.evidence.weibull import Lives, fit_weibull
    from wearfit.model.priors import read_priors

    stages.done("import")
    priors = read_priors()
    table = life_table(exposures, priors)
    lives = Lives(table.entry, table.good, table.end, table.interval, table.worn, table.unstated, unstated_wear(exposures, priors))
    stages.done("prepare")
    fit_weibull(lives, table.covariates, table.log_band, ridge=RIDGE)
    stages.done("fit")
    return {"lives": len(table.end)}, {}


Sampler = Callable[[Any, dict[str, int], Stages], tuple[dict[str, Any], Draws]]
SAMPLERS: dict[str, Sampler] = {
    "wearfit": with_wearfit,
    "pymc": with_pymc,
    "numpyro": with_numpyro,
    "weibull_aft": with_weibull_aft,
}
GIVEN_LAID = ("pymc", "numpyro")


def peak_mb(processes: int) -> float:
    """Most memory held at a time, processes started for chains counted as if all peaked at once and shared nothing. [MB]"""
    own, largest = (resource.getrusage(who).ru_maxrss / OF_MAXRSS for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return own + largest * processes


def main() -> None:
    name, folder = sys.argv[1], Path(sys.argv[2])
    given = pickle.loads((folder / ("laid.pickle" if name in GIVEN_LAID else "exposures.pickle")).read_bytes())
    effort = json.loads((folder / "effort.json").read_text())
    stages = Stages()
    told, draws = SAMPLERS[name](given, effort, stages)
    np.savez(folder / f"{name}.npz", **draws)
    seconds = {
        stage: round(stages.seconds[stage], 3)
        for stage in ("import", "prepare", "compile", "lay", "sample", "fit")
        if stage in stages.seconds
    }
    (folder / f"{name}.json").write_text(
        json.dumps({"sampler": name, "seconds": seconds, **told, "peak_mb": round(peak_mb(told.get("processes", 0)))})
    )


if __name__ == "__main__":
    main()
