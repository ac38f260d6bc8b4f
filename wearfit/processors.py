"""How many things can be done at once, and doing them."""

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor


def processors() -> int:
    """Processors that this process may use, at most as many as the environment allows each process threads (OMP_NUM_THREADS)."""
    there = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    allowed = os.environ.get("OMP_NUM_THREADS", "")
    return min(there, int(allowed)) if allowed.isdecimal() and int(allowed) > 0 else there


def at_a_time(things: int, least: int, most: int) -> int:
    """How many of some things to work on together in threads.

    A thread waits for the interpreter after each sum over arrays, for as long as a sum over those of a few things takes; so as many as
    leave each processor several pieces, within bounds.
    """
    return min(max(things // (4 * processors()), least), most)


def at_once[P, R](work: Callable[[P], R], pieces: Sequence[P]) -> list[R]:
    """What `work` makes of each piece, in their order: the same whoever works on which.

    Arrays of some size are reckoned without the interpreter, so that threads are enough; what `work` reads must not change.
    """
    workers = min(processors(), len(pieces))
    if workers < 2:
        return [work(piece) for piece in pieces]
    told: dict[int, R] = {}
    left = iter(range(len(pieces)))

    def take() -> None:
        try:
            for place in left:
                told[place] = work(pieces[place])
        except BaseException:
            for _ in left:  # what is left need not be begun
                pass
            raise

    # Who asks works too: what a thread of its own frees goes back to the system at once, and is fetched again.
    with ThreadPoolExecutor(workers - 1) as threads:
        others = [threads.submit(take) for _ in range(workers - 1)]
        take()
        for other in others:
            other.result()
    return [told[place] for place in range(len(pieces))]
