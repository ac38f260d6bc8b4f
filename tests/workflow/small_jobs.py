"""Jobs for fan-outs in tests, importable by other processes: each leaves a mark where it was begun."""

import os
import signal
from dataclasses import dataclass
from pathlib import Path

from wearfit.errors import Refusal


@dataclass(frozen=True)
class Squared:
    """A number's square, with what befalls the process on the way.

    Parameters
    ----------
    marks : Path
        A folder; every beginning of a job makes a file there.
    dies : mapping of int to int
        How many times the process is killed in the middle of which job.
    """

    marks: Path
    dies: tuple[tuple[int, int], ...] = ()
    refuses: tuple[int, ...] = ()
    breaks: tuple[int, ...] = ()

    def __call__(self, number: int) -> int:
        begun = len(list(self.marks.glob(f"{number}-*")))
        (self.marks / f"{number}-{begun}").touch()
        if begun < dict(self.dies).get(number, 0):
            os.kill(os.getpid(), signal.SIGKILL)
        if number in self.refuses:
            raise Refusal(f"{number} has no square.", "Give another number.")
        if number in self.breaks:
            raise ArithmeticError(f"{number} is odd")
        return number * number


def settings(_: int) -> tuple[str | None, int]:
    """What a process was told of threads, and its id."""
    return os.environ.get("OMP_NUM_THREADS"), os.getpid()
