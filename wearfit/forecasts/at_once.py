"""Work in pieces, as many at once as there are processors."""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

from wearfit.processors import processors


def at_once[P, R](work: Callable[[P], R], pieces: Sequence[P]) -> list[R]:
    """What `work` makes of each piece, in their order: the same whoever works on which.

    Arrays of some size are reckoned without the interpreter, so that threads are enough; what `work` reads must not change.
    """
    workers = min(processors(), len(pieces))
    if workers < 2:
        return [work(piece) for piece in pieces]
    with ThreadPoolExecutor(workers) as threads:
        return list(threads.map(work, pieces))
