"""How many things can be done at once, and doing them."""

import os
import pickle
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from typing import Final

ENOUGH: Final = 4  # pieces for each processor
MOST_TURNS: Final = 1000  # at pieces: they are written before anybody reads, and a pipe holds 4,096 bytes at least
THREADS: Final = Path("/proc/self/task")  # of this process; Linux alone tells


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


def parts(things: int, together: int) -> list[slice]:
    """Slices of so many things, one after the other, each of `together` at most; of none, one of none."""
    return [slice(start, min(start + together, things)) for start in range(0, max(things, 1), together)]


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


def shared_out[P, R](work: Callable[[P], R], pieces: Sequence[P], enough: int = ENOUGH) -> list[R]:
    """The same as `at_once`, for results that can be pickled.

    Threads take the interpreter in turns after each sum over arrays, and where sums are small two do hardly more than one. So many
    pieces are shared out among copies of the process where it has one thread alone: of one with several a copy may wait for ever for
    what another thread held.

    Parameters
    ----------
    enough : int
        Pieces for each processor, from which on it is worth while to copy the process. The first piece is worked on in the process
        itself, where it may leave something behind.
    """
    workers = min(processors(), len(pieces))
    if workers < 2 or len(pieces) < enough * workers or not one_thread():
        return at_once(work, pieces)
    with ExitStack() as ends:
        left = _Left(len(pieces))
        ends.callback(left.close)
        copies = [_Copy(lambda: {place: work(pieces[place]) for place in left}) for _ in range(workers - 1)]
        for copy in copies:
            ends.callback(copy.end)
        told = {0: work(pieces[0])} | {place: work(pieces[place]) for place in left}
        for copy in copies:
            told |= copy.told()
    # What a copy took that died or failed is done here, where whoever asks meets what there is to meet.
    return [told[place] if place in told else work(piece) for place, piece in enumerate(pieces)]


def one_thread() -> bool:
    """Whether this process is known to have one thread alone, those of libraries counted."""
    return THREADS.is_dir() and len(list(THREADS.iterdir())) == 1


class _Left:
    """Places of pieces but the first, each of which one alone of this process and its copies gets: a processor may be slowed by others."""

    def __init__(self, pieces: int) -> None:
        self._at_a_time = -(-pieces // MOST_TURNS)
        self._pieces, turns = pieces, -(-pieces // self._at_a_time)
        self._turns, begin = os.pipe()  # whose one reading end they share
        os.write(begin, b"".join(turn.to_bytes(2) for turn in range(turns)))
        os.close(begin)

    def __iter__(self) -> Iterator[int]:
        while turn := os.read(self._turns, 2):
            start = int.from_bytes(turn) * self._at_a_time
            yield from range(max(start, 1), min(start + self._at_a_time, self._pieces))

    def close(self) -> None:
        os.close(self._turns)


class _Copy[R]:
    """A copy of this process that does its share of the pieces."""

    def __init__(self, share: Callable[[], dict[int, R]]) -> None:
        told, answer = os.pipe()
        self._answer = os.fdopen(told, "rb")
        try:
            self._process = os.fork()
        except OSError:  # no room for another: as if it had died
            self._process = -1
        if self._process:
            os.close(answer)
            return
        try:
            with os.fdopen(answer, "wb") as pipe:
                pickle.dump(share(), pipe, pickle.HIGHEST_PROTOCOL)
        finally:
            os._exit(0)  # whatever happened: nothing of the asker's may be ended twice

    def told(self) -> dict[int, R]:
        """What it made of its share; nothing where it died or failed."""
        try:
            told: dict[int, R] = pickle.load(self._answer)
        except (EOFError, pickle.UnpicklingError):
            return {}
        return told

    def end(self) -> None:
        self._answer.close()
        if self._process > 0:
            os.kill(self._process, signal.SIGKILL)
            os.waitpid(self._process, 0)
