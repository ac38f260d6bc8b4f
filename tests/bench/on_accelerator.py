"""Gradients and NUTS in JAX on whatever it finds: `python on_accelerator.py OUT.json --fleets FLEET.npz ... [--nuts FLEET.npz]`.

Fleets are files of `plain_arrays`, as `samplers.py --arrays` writes them; nothing of the package is needed. JAX_PLATFORMS=cpu holds an
accelerator out. A gradient is timed as a sampler meets it, in a loop that the device runs by itself, and called one at a time; for one
chain, and for four side by side. What is measured is written after every step, so that a run that is cut off loses nothing but that.
"""

import argparse
import json
import os
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median
from typing import Any

import jax
import numpy as np
from in_numpyro import Arrays, arranged, log_density
from nuts_in_numpyro import CHAINS, run

LOOP, REPEATS = 20, 5
TINY = 1e-12  # moves the point from step to step, so that no step can be left out


def point(plain: Arrays) -> Arrays:
    """A place near the origin, the same everywhere."""
    rng = np.random.default_rng(1)
    sizes = {"share": 3, "w": plain["group_prior"].shape[1], "slot": len(plain["slot_told"]), "z": len(plain["root"])}
    return {name: 0.3 * rng.standard_normal(size) for name, size in sizes.items()}


def timed(call: Callable[[], Any]) -> float:
    """Median seconds of a call, after one that warms up."""
    jax.block_until_ready(call())
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        jax.block_until_ready(call())
        times.append(time.perf_counter() - start)
    return median(times)


def gradient(plain: Arrays, chains: int, scatter: bool) -> dict[str, Any]:
    d, at = jax.device_put(arranged(plain, scatter)), point(plain)
    one = jax.value_and_grad(log_density)
    if chains > 1:
        at = {name: np.stack([value * (1.0 + 0.01 * i) for i in range(chains)]) for name, value in at.items()}
        one = jax.vmap(one, in_axes=(0, None))
    at = jax.device_put(at)

    def loop(at: Arrays, d: Arrays) -> Any:
        def step(at: Arrays, _: None) -> Any:
            value, slope = one(at, d)
            return jax.tree.map(lambda x, g: x + TINY * g, at, slope), value

        return jax.lax.scan(step, at, None, length=LOOP)

    start = time.perf_counter()
    looped = jax.jit(loop).lower(at, d).compile()
    compiling = time.perf_counter() - start
    found = {
        "tools": int(plain["candidate_tool"].max()) + 1,
        "cells": len(plain["cell_place"]),
        "chains": chains,
        "sums": "scatter" if scatter else "gather",
        "ms": round(1e3 * timed(lambda: looped(at, d)) / LOOP, 4),
        "compile_s": round(compiling, 1),
    }
    if chains > 1:
        return found
    called = jax.jit(one)
    value, slope = called(at, d)
    norm = float(np.sqrt(sum(np.sum(np.asarray(s) ** 2) for s in slope.values())))
    return {**found, "ms_called": round(1e3 * timed(lambda: called(at, d)), 4), "log_density": float(value), "gradient_norm": norm}


def nuts(plain: Arrays, given: argparse.Namespace, out: Path, scatter: bool) -> dict[str, Any]:
    d = jax.device_put(arranged(plain, scatter))
    say = partial(print, flush=True)
    done = run(d, 1, given.tune, given.draws, depth=given.depth, together=True, limit=given.limit, report=say)
    if done.coordinates["z"].shape[1]:
        small = {name: value for name, value in done.coordinates.items() if value.nbytes < 3e7}
        np.savez_compressed(out.with_suffix(".draws.npz"), **{name: value.astype(np.float32) for name, value in small.items()})
    return {
        "tools": int(plain["candidate_tool"].max()) + 1,
        "chains": CHAINS,
        "sums": "scatter" if scatter else "gather",
        "tuned": done.tuned,
        "drawn": int(done.coordinates["z"].shape[1]),
        "depth": given.depth,
        "mean_steps": [round(float(done.steps[:, part].mean()), 1) for part in (slice(done.tuned), slice(done.tuned, None))],
        "gradients": int(done.steps.sum()),
        "diverging": int(done.diverging.sum()),
        "seconds": {name: round(value, 2) for name, value in done.seconds.items()},
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--fleets", type=Path, nargs="*", default=[])
    parser.add_argument("--scatter", type=Path, nargs="*", default=[], help="fleets whose sums are also tried as scatters")
    parser.add_argument("--nuts", type=Path)
    parser.add_argument("--tune", type=int, default=300)
    parser.add_argument("--draws", type=int, default=400)
    parser.add_argument("--depth", type=int, default=5)
    parser.add_argument("--limit", type=float, default=240.0, help="seconds of sampling after which no block is begun")
    given = parser.parse_args()
    device = jax.devices()[0]
    result: dict[str, Any] = {"platform": device.platform, "cores": os.cpu_count(), "jax": jax.__version__, "gradients": []}

    def keep() -> None:
        given.out.write_text(json.dumps(result, indent=1) + "\n")

    for path, scatter in [*((f, False) for f in given.fleets), *((f, True) for f in given.scatter)]:
        plain = dict(np.load(path))
        for chains in (1, CHAINS):
            result["gradients"].append(gradient(plain, chains, scatter))
            print(result["gradients"][-1], flush=True)
            keep()
    if given.nuts:
        # The sums that were the faster for the largest fleet timed, side by side.
        tried = [g for g in result["gradients"] if g["chains"] == CHAINS]
        fastest = min(tried, key=lambda g: (-g["tools"], g["ms"]), default={"sums": "gather"})
        result["nuts"] = nuts(dict(np.load(given.nuts)), given, given.out, fastest["sums"] == "scatter")
        print(result["nuts"], flush=True)
        keep()


if __name__ == "__main__":
    main()
