"""Laws fitted wherever that is done: what is sent there, and what is kept of each calibration and of each posterior without some lives."""

import io
import os
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from wearfit import __version__
from wearfit.calibration import MODEL_VERSION, from_bytes, to_bytes
from wearfit.evidence.law_scores import Scores, without_together
from wearfit.evidence.laws import Asked, Comparison, LawFit, compared, fit_law, forecast_anew, repaired
from wearfit.law import LAWS
from wearfit.workflow.fanout import Job, fan_out
from wearfit.workflow.kept_results import Kept, KeptFiles, job_key
from wearfit.workflow.lanes import tell
from wearfit.workflow.laws_in_words import of_law
from wearfit.workflow.progress import Pace, Report
from wearfit.workflow.refits import report_jobs
from wearfit.workflow.ways import Here, Processes, Way

if TYPE_CHECKING:
    from wearfit.model.sampler import Compiled

Array = np.ndarray

# Of this process, from one job to the next; compiling is not for two threads at once, which a worker of a cluster may have.
_compiled: "Final[dict[bool, Compiled]]" = {}
_one_at_a_time: Final = threading.Lock()


@dataclass(frozen=True)
class FitLaw:
    """Calibrates under a law, and weighs what each life adds."""

    asked: Asked

    def __call__(self, law: str) -> LawFit:
        with _one_at_a_time:
            return fit_law(self.asked, law, _compiled, tell)


@dataclass(frozen=True)
class ForecastAnew:
    """Forecasts some lives, given by their places, under a law from a posterior without them."""

    asked: Asked

    def __call__(self, given: tuple[str, Array]) -> Array:
        with _one_at_a_time:
            return forecast_anew(self.asked, *given, _compiled)


def over_laws(asked: Asked, spread: Way, folder: Path | None, report: Report) -> Comparison:
    """All laws held against each other, each calibration and each posterior without some lives a job of its own.

    Parameters
    ----------
    asked : Asked
        Its `cores` are for this to say.
    folder : Path, optional
        Where the result of each job is kept as it comes, and found again.

    Raises
    ------
    Refusal, KeyboardInterrupt
        As `fan_out`.
    """
    priors = sha256(asked.priors.text.encode()).hexdigest()
    facts = ("law", __version__, MODEL_VERSION, asked.fingerprint, priors, asked.seed)
    fits = _spread(
        FitLaw, asked, [Job(job_key(*facts, law), of_law(law), law) for law in LAWS], spread, _kept(folder, pack_fit, unpack_fit), report
    )
    groups = [without_together(fit.scores) for fit in fits]
    jobs = [
        Job(
            job_key(*facts, fit.name, lives.tolist()), f"{of_law(fit.name)} without some lives, {i + 1} of {len(of_fit)}", (fit.name, lives)
        )
        for fit, of_fit in zip(fits, groups, strict=True)
        for i, lives in enumerate(of_fit)
    ]
    anew = iter(_spread(ForecastAnew, asked, jobs, spread, _kept(folder, pack_array, unpack_array), report))
    whole = [repaired(fit, of_fit, [next(anew) for _ in of_fit], 0.0) for fit, of_fit in zip(fits, groups, strict=True)]
    return compared(asked.exposures, whole, {})


def _without(law: str, number: int, total: int) -> str:
    return f"{of_law(law)} without some lives, {number} of {total}"


def _spread[J, R](
    work: Callable[[Asked], Callable[[J], R]], asked: Asked, jobs: list[Job[J]], spread: Way, kept: Kept[R] | None, report: Report
) -> list[R]:
    cores = None if isinstance(spread, Here) else 1
    if isinstance(spread, Processes) and jobs:  # fewer jobs than cores have several each: the draws are the same
        cores = max(1, (os.cpu_count() or 1) // min(spread.number, len(jobs)))
    return fan_out(work(replace(asked, cores=cores)), jobs, spread, kept, partial(report_jobs, report, Pace()))


def _kept[R](folder: Path | None, pack: Callable[[R], bytes], unpack: Callable[[bytes], R]) -> Kept[R] | None:
    return None if folder is None else KeptFiles(folder, pack, unpack, ".npz")


def pack_fit(fit: LawFit) -> bytes:
    """A law's calibration and scores as bytes."""
    scores = fit.scores
    return _packed(
        name=fit.name, calibration=np.frombuffer(to_bytes(fit.calibration), dtype=np.uint8), elpd=scores.elpd, khat=scores.khat,
        repaired=scores.repaired, together=scores.together, stages=list(fit.seconds), seconds=list(fit.seconds.values()),
    )  # fmt: skip


def unpack_fit(content: bytes) -> LawFit:
    """What `pack_fit` wrote; nothing in the file is run."""
    with np.load(io.BytesIO(content), allow_pickle=False) as file:
        scores = Scores(file["elpd"], file["khat"], file["repaired"], int(file["together"]))
        seconds = dict(zip(map(str, file["stages"]), map(float, file["seconds"]), strict=True))
        return LawFit(str(file["name"]), from_bytes(file["calibration"].tobytes()), scores, seconds)


def pack_array(values: Array) -> bytes:
    """An array as bytes."""
    return _packed(values=values)


def unpack_array(content: bytes) -> Array:
    """What `pack_array` wrote; nothing in the file is run."""
    with np.load(io.BytesIO(content), allow_pickle=False) as file:
        return np.asarray(file["values"])


def _packed(**arrays: Any) -> bytes:
    file = io.BytesIO()
    np.savez_compressed(file, **arrays)
    return file.getvalue()
