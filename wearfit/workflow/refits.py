"""Refits at past days, wherever they are done: what is sent there, and what is kept of each."""

import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import astuple, dataclass, replace
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Final

from wearfit import __version__
from wearfit.calibration import MODEL_VERSION, Calibration, from_bytes
from wearfit.evidence.backtest import Known, Marks
from wearfit.model.layout import Layout
from wearfit.workflow.fanout import Job, Standing, fan_out
from wearfit.workflow.kept_results import Kept, KeptFiles, job_key, pack_arrays, unpack_arrays
from wearfit.workflow.lanes import tell
from wearfit.workflow.progress import Pace, Report, parts_done
from wearfit.workflow.ways import Way
from wearfit.workflow.worker_process import Request, calibrated

if TYPE_CHECKING:
    from wearfit.model.sampler import Compiled

# Of this process, from one past day to the next; compiling is not for two threads at once, which a worker of a cluster may have.
_compiled: "Final[dict[bool, Compiled]]" = {}
_one_at_a_time: Final = threading.Lock()


@dataclass(frozen=True)
class Refit:
    """Calibrates on what was known at a past day, on one core.

    Parameters
    ----------
    priors : str
        Text of the priors file.
    seed : int
    law : str
        As `Request` has it.
    layout : Layout
        Holds every one of the past days, so that a process compiles once.
    """

    priors: str
    seed: int
    law: str
    layout: Layout

    def __call__(self, known: Known) -> Calibration:
        request = Request(known.exposures, known.live, known.fingerprint, self.priors, self.seed, self.layout, self.law, cores=1)
        with _one_at_a_time:
            fitted = calibrated(request, _compiled, tell)
        tell("score", 0.0)
        return from_bytes(fitted.blob)


def over_past_days(
    refit: Refit, history: str, horizon_months: int, spread: Way, folder: Path | None, report: Report
) -> Callable[[Callable[[Known], Marks], Iterable[Known]], list[Marks]]:
    """The mapping that `evidence.backtest` goes over past days by.

    Parameters
    ----------
    history : str
        Fingerprint of the records that say what happened.
    folder : Path, optional
        Where the marks of each past day are kept as they come.
    """
    priors = sha256(refit.priors.encode()).hexdigest()
    facts = ("backtest", __version__, MODEL_VERSION, history, horizon_months, priors, refit.seed, refit.law, astuple(refit.layout))
    kept: Kept[Marks] | None = None if folder is None else KeptFiles(folder, pack_arrays, partial(unpack_arrays, Marks), ".npz")

    def go_over(work: Callable[[Known], Marks], days: Iterable[Known]) -> list[Marks]:
        known = list(days)
        jobs = [Job(job_key(*facts, day.day, day.fingerprint), name, day) for name, day in zip(names(known), known, strict=True)]
        return fan_out(work, jobs, spread, kept, partial(report_jobs, report, Pace()))

    return go_over


def names(known: Sequence[Known]) -> list[str]:
    """What each past day is called while it is worked on."""
    return [f"past day {place + 1} of {len(known)} ({day.day})" for place, day in enumerate(known)]


def report_jobs(report: Report, pace: Pace, standing: Standing) -> None:
    """Tell how far jobs are, and the first of them that is not done."""
    told = standing.told
    if told is None:
        report(parts_done(standing.done, standing.total))
        return
    part = ", ".join(filter(None, (standing.job, told.part)))
    report(replace(pace.progress(told.stage, told.share, told.part), part=part))
