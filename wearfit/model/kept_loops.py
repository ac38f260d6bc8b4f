"""Loops compiled once for each version of the program, and run by as many threads as there are processors."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Final

from numba import njit
from pytensor import config
from pytensor.link.numba.cache import CACHED_SRC_FUNCTIONS

from wearfit.model.code_version import program_digest
from wearfit.processors import processors

FEWEST: Final = 64  # draws for which another thread is worth its start


def kept(function: Callable[..., Any]) -> Any:
    """A loop compiled where it is first called, its machine code kept on disk; other threads go on while it runs.

    Divisions by zero are as in `op_loops.compiled`.

    Numba's own cache would know it by its file alone, and go on with old code where another file, whose functions it calls, has
    changed; here it is kept under the digest of the whole program, beside the compiled graphs.
    """
    CACHED_SRC_FUNCTIONS[function] = program_digest()
    return njit(function, cache=config.numba__cache, nogil=True, error_model="numpy")


def by_draws(draws: int, fill: Callable[[slice], None]) -> None:
    """Call `fill` for parts that make up all draws, at once where there are several processors; draws are filled each by itself."""
    parts = max(1, min(processors(), draws // FEWEST))
    spans = [slice(draws * i // parts, draws * (i + 1) // parts) for i in range(parts)]
    if parts == 1:
        fill(spans[0])
        return
    with ThreadPoolExecutor(parts) as threads:
        list(threads.map(fill, spans))
