"""How many things can be done at once."""

import os


def processors() -> int:
    """Processors that this process may use, at most as many as the environment allows each process threads (OMP_NUM_THREADS)."""
    there = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    allowed = os.environ.get("OMP_NUM_THREADS", "")
    return min(there, int(allowed)) if allowed.isdecimal() and int(allowed) > 0 else there
