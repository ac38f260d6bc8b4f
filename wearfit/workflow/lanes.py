"""Processes beside this one, each of which does one job after another; one that dies takes nothing with it."""

import multiprocessing
import os
from collections import Counter, deque
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnContext
from typing import Any, Final, cast

from wearfit.errors import Refusal
from wearfit.workflow.child_process import Failed, NobodyWaits, Teller, Told, failed, send, settle_in

MOST_DEATHS: Final = 3  # of processes at one job; then it is the job's own doing
ONE_THREAD: Final = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")

Outcome = tuple[Any] | Refusal | Failed
"""A result in a tuple of one, or why there is none."""
Coming = Generator[tuple[int, Outcome | Told], None, None]
"""Messages as they come, each with the place of its job: any number of `Told`, then the outcome."""

_teller: Teller | None = None  # in a lane's process, what its parent hears


def tell(stage: str, share: float, part: str = "") -> None:
    """Say how far a job is, from wherever it is done; nobody hears it where it is not done in a lane."""
    if _teller is not None:
        _teller.tell(stage, share, part)


def outcome_of(work: Callable[[Any], Any], one: Any) -> Outcome:
    """Do one job, whatever comes of it but an interrupt."""
    try:
        return (work(one),)
    except Refusal as refusal:
        return refusal
    except Exception as error:
        return failed(error)


class Lane:
    """A process, and this end of the line to it."""

    def __init__(self, context: SpawnContext, work: Callable[[Any], Any]) -> None:
        ours, theirs = context.Pipe()
        with _one_thread_each():
            # A daemon is ended with this process even where nobody calls `stop`.
            self._process = context.Process(target=_serve, args=(theirs, work), name="wearfit-job", daemon=True)
            self._process.start()
        theirs.close()  # so that the line ends when the process does
        self.line: Connection[Any, Any] = ours

    def give(self, one: Any) -> None:
        """Hand it a job. That it is dead shows where its answer is read."""
        with suppress(OSError):
            send(self.line, one)

    def stop(self) -> None:
        """End it at once, whatever it does."""
        self._process.kill()
        self._process.join()
        self.line.close()


def in_processes(work: Callable[[Any], Any], given: Sequence[Any], number: int) -> Coming:
    """Do jobs in processes, as many at a time as asked.

    Parameters
    ----------
    work : callable
        Can be pickled.
    given : sequence
        What it is done on, job by job.
    number : int
        Processes, at most.

    Yields
    ------
    int, (result,) or Refusal or Failed or Told
        A job whose process dies is done again in a new one, and given up after the third.

    Notes
    -----
    The processes are spawned, as the worker's is, and each works with one thread: they are as many as the cores. Closing the
    generator ends them.
    """
    context = multiprocessing.get_context("spawn")
    waiting, deaths = deque(range(len(given))), Counter[int]()
    busy: dict[Lane, int] = {}

    def send(lane: Lane) -> None:
        busy[lane] = waiting.popleft()
        lane.give(given[busy[lane]])

    try:
        for _ in range(min(number, len(given))):
            send(Lane(context, work))
        while busy:
            by_line = {lane.line: lane for lane in busy}
            for line in wait(list(by_line)):
                lane = by_line[cast("Connection[Any, Any]", line)]
                place = busy[lane]
                try:
                    message: Outcome | Told = lane.line.recv()
                except (EOFError, OSError):
                    del busy[lane]
                    lane.stop()
                    deaths[place] += 1
                    if deaths[place] < MOST_DEATHS:
                        waiting.appendleft(place)
                    if waiting:
                        send(Lane(context, work))
                    if deaths[place] == MOST_DEATHS:
                        yield place, _given_up()
                    continue
                if not isinstance(message, Told):
                    del busy[lane]
                    if waiting:
                        send(lane)
                    else:
                        lane.stop()
                yield place, message
    finally:
        for lane in busy:
            lane.stop()


def _given_up() -> Refusal:
    return Refusal(
        f"Its process died {MOST_DEATHS} times, perhaps for want of memory.", "Close other programs, or have fewer processes at once."
    )


def _serve(line: "Connection[Any, Any]", work: Callable[[Any], Any]) -> None:
    global _teller  # noqa: PLW0603  (a process is one lane)
    settle_in()
    teller = _teller = Teller(line)
    while True:
        try:
            one = line.recv()
        except EOFError:
            return
        except Exception as error:  # it cannot be unpickled here
            teller.send(failed(error))
            continue
        outcome = outcome_of(work, one)
        try:
            teller.send(outcome)
        except NobodyWaits:
            return
        except Exception as error:  # it cannot be pickled
            teller.send(failed(error))


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """What the libraries of a process read when they are loaded, set while it is started."""
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
