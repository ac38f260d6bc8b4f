"""How far a recalibration, or a row of them, has come, and what is left of it by the pace measured so far."""

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

STAGES: Final = {
    "read": "reading the records",
    "assemble": "putting the records together",
    "start": "starting the sampler, usually some seconds",
    "prepare": "preparing the data",
    "compile": "compiling the model, usually 15-30 s the first time",
    "sample": "sampling",
    "summarise": "summing up",
    "save": "saving the calibration",
    "score": "setting forecasts against what happened",
    "jobs": "pieces of work",
}
"""Every stage in its order, and what it is called; the last is that of work spread over processes or machines."""

TELL_SHARE: Final = ("sample", "score")
"""Those that tell how much of them is done, where a pace is kept."""

OF_SEVERAL: Final = ("score", "jobs")
"""Those that only work in several parts has."""

WINDOW_SECONDS: Final = 5.0  # the pace is that of the last seconds: tuning is slower than what comes after it
LEAST_SHARE: Final = 0.02  # less than this done is no measure of a pace


@dataclass(frozen=True)
class Progress:
    """Where the work stands.

    Parameters
    ----------
    stage : str
        A key of STAGES.
    share : float or None
        Share of the stage that is done, None where the stage cannot tell.
    seconds_left : float or None
        Of the stage, from its measured pace; None where there is no pace yet. [s]
    again : bool
        The draws were not good enough yet, and the chains go on for longer.
    part : str
        Of several pieces of work one after another, which this is; "" where there is one.
    """

    stage: str
    share: float | None = None
    seconds_left: float | None = None
    again: bool = False
    part: str = ""

    @property
    def sentence(self) -> str:
        """The stage in words, without share and time."""
        stage = "sampling for longer, as the draws are not good enough yet" if self.again else STAGES[self.stage]
        return f"{self.part}: {stage}" if self.part else stage


def parts_done(done: int, total: int) -> Progress:
    """Where work in parts that are done side by side stands."""
    return Progress("jobs", done / total if total else 1.0, part=f"{done:,} of {total:,}")


Report = Callable[[Progress], None]


def silent(progress: Progress) -> None:
    """A report for those who do not want one."""


class Pace:
    """Turns what the sampler tells of itself into progress with the time left.

    Parameters
    ----------
    clock : callable
        Gives the time. [s]
    """

    def __init__(self, clock: Callable[[], float] = time.perf_counter) -> None:
        self._clock = clock
        self._at = ("", "")
        self._again = False
        self._told: deque[tuple[float, float]] = deque()

    def progress(self, stage: str, share: float, part: str = "") -> Progress:
        """Progress at this moment.

        Parameters
        ----------
        stage : str
            A key of STAGES.
        share : float
            Share of it done, 0 to 1; a share that falls says that the stage begins again.
        part : str
            As `Progress` has it.
        """
        goes_on, self._at = self._at == (stage, part), (stage, part)
        if stage not in TELL_SHARE:
            return Progress(stage, part=part)
        fell = goes_on and bool(self._told) and share < self._told[-1][1]
        self._again = stage == "sample" and (fell or (self._again and goes_on))
        if fell or not goes_on:
            self._told.clear()
        now = self._clock()
        self._told.append((now, share))
        # One mark older than the window stays, so that slow work still has two marks to measure between.
        while len(self._told) > 2 and now - self._told[1][0] >= WINDOW_SECONDS:
            self._told.popleft()
        since, before = self._told[0]
        done = share - before
        left = (1.0 - share) * (now - since) / done if share >= LEAST_SHARE and done > 0 else None
        return Progress(stage, share, left, self._again, part)
