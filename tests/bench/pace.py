"""How quick a machine is at the moment: seconds of work that is the same each time, on each of its processors at once.

A machine that others share is up to twice as slow in one hour as in the next; figures of two hours compare only beside their paces.
"""

import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from statistics import median

import numpy as np

from wearfit.processors import processors

TURNS = 5


def pace() -> float:
    """Seconds that a loop of the interpreter, exponentials and sums over arrays take together, median over turns and processors. [s]"""
    workers = processors()
    with ProcessPoolExecutor(workers, get_context("spawn")) as pool:
        return round(median(pool.map(_turn, range(TURNS * workers))), 3)


def _turn(_: int) -> float:
    small, large = np.linspace(-1.0, 1.0, 10_000), np.linspace(-1.0, 1.0, 1_000_000)
    start = time.perf_counter()
    total = 0
    for i in range(1_000_000):
        total += i * i
    for _ in range(1_000):
        np.exp(small)
    for _ in range(20):
        large + large
    return time.perf_counter() - start


if __name__ == "__main__":
    print(f"{pace():.3f} s")
