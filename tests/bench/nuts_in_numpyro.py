"""NumPyro's own NUTS on `in_numpyro.model`, in blocks of draws, so that a long run can be stopped."""

import os
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import jax
import numpy as np
from in_numpyro import Arrays, model
from numpyro.infer import NUTS, init_to_uniform

Array = np.ndarray

CHAINS = 4
RADIUS = 1.0  # chains start within so much of the origin, shares on the log-odds scale


@dataclass(frozen=True)
class Run:
    """Draws (chain, draw, dimension), leapfrog steps (chain, tuning and draw), and seconds by stage."""

    coordinates: dict[str, Array]
    steps: Array
    diverging: Array
    tuned: int
    seconds: dict[str, float]


def run(
    d: Arrays,
    seed: int,
    tune: int,
    draws: int,
    depth: int = 10,
    target_accept: float = 0.8,
    together: bool = False,
    block: int = 50,
    limit: float = np.inf,
    report: Callable[[str], None] = print,
) -> Run:
    """Sample CHAINS chains.

    Parameters
    ----------
    tune, draws
        Multiples of `block`.
    together
        All chains in one program, as suits an accelerator; else each by itself, as many at a time as there are cores.
    limit
        Seconds of sampling after which no block is begun.
    """
    start = time.perf_counter()
    kernel = NUTS(model, target_accept_prob=target_accept, max_tree_depth=depth, init_strategy=init_to_uniform(radius=RADIUS))
    keys = jax.random.split(jax.random.PRNGKey(seed), CHAINS)
    states = [kernel.init(key, tune, None, (d,), {}) for key in ([keys] if together else keys)]

    def some(state: Any, d: Arrays) -> Any:
        def one(state: Any, _: None) -> Any:
            state = kernel.sample(state, (d,), {})
            return state, (state.z, state.num_steps, state.diverging)

        return jax.lax.scan(one, state, None, length=block)

    compiled = jax.jit(some).lower(states[0], d).compile()
    begun = time.perf_counter()

    def walk(state: Any) -> Any:
        """Draws of one state, (draw, [chain,] ...)."""
        parts: list[Any] = []
        while block * len(parts) < tune + draws and time.perf_counter() - begun < limit:
            state, out = jax.block_until_ready(compiled(state, d))
            parts.append(jax.tree.map(np.asarray, out))
            mean, wild = parts[-1][1].mean(), parts[-1][2].sum()
            report(f"  {block * len(parts)} of {tune + draws}: {time.perf_counter() - begun:.1f} s, steps {mean:.1f}, diverging {wild}")
        return jax.tree.map(lambda *p: np.concatenate(p), *parts)

    with ThreadPoolExecutor(min(CHAINS, os.cpu_count() or 1)) as threads:
        walks = list(threads.map(walk, states))
    shortest = min(len(walk[1]) for walk in walks)
    z, steps, diverging = jax.tree.map(lambda *w: np.moveaxis(w[0], 0, 1) if together else np.stack([x[:shortest] for x in w]), *walks)
    coordinates = {name: value[:, tune:] for name, value in z.items()}
    coordinates["share"] = 1.0 / (1.0 + np.exp(-coordinates["share"]))
    seconds = {"compile": begun - start, "sample": time.perf_counter() - begun}
    return Run(coordinates, steps, diverging[:, tune:], min(tune, steps.shape[1]), seconds)
