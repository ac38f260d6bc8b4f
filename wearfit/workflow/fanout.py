"""Independent jobs spread: one after another, over processes of this machine, or over a Dask cluster. Dask is known here alone."""

import logging
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from typing import Any, Final

from wearfit import __version__
from wearfit.errors import Refusal
from wearfit.workflow.child_process import Failed, Told, failed
from wearfit.workflow.kept_results import Kept
from wearfit.workflow.lanes import Coming, Outcome, in_processes, outcome_of
from wearfit.workflow.ways import Cluster, Here, Processes, Way

_log = logging.getLogger(__name__)

AHEAD: Final = 2  # jobs sent to a cluster for each of its workers: one to do, one to go on with
CONNECT_SECONDS: Final = 10


@dataclass(frozen=True)
class Job[J]:
    """One of several pieces of work that do not depend on each other.

    Parameters
    ----------
    key : str
        Of its inputs, by `kept_results.job_key`; a result is known by it.
    name : str
        For the user.
    given : object
        What the work is done on.
    """

    key: str
    name: str
    given: J


@dataclass(frozen=True)
class Standing:
    """How far a fan-out has come.

    Parameters
    ----------
    done, total : int
        Jobs.
    job : str
        Name of the first job that is not done, "" where all are.
    told : Told or None
        What that job says of itself, where it can.
    """

    done: int
    total: int
    job: str = ""
    told: Told | None = None


def fan_out[J, R](
    work: Callable[[J], R],
    jobs: Sequence[Job[J]],
    spread: Way,
    kept: Kept[R] | None = None,
    tell: Callable[[Standing], None] = lambda standing: None,
) -> list[R]:
    """Do some work on each of several inputs.

    Parameters
    ----------
    work : callable
        Can be sent to other processes, and does no harm where it is done again; it may call `lanes.tell`.
    jobs : sequence of Job
        No two of one key.
    spread : Way
    kept : Kept, optional
        Results found there are not worked out anew; each other is put there as it comes.
    tell : callable
        Told the standing as it changes, in this thread.

    Returns
    -------
    list
        Of each job its result, in the order of the jobs, each once, however often a job was begun.

    Raises
    ------
    Refusal
        Where a job fails: at once where nothing is kept, else when all others are done, whose results are kept.
    KeyboardInterrupt
        As it came; what was at work is ended, and results that were kept stay.
    """
    if len({job.key for job in jobs}) < len(jobs):
        raise ValueError("two jobs have one key")
    results: dict[int, R] = {}
    for place, job in enumerate(jobs):
        found = None if kept is None else kept.find(job.key)
        if found is not None:
            results[place] = found
    places = [place for place in range(len(jobs)) if place not in results]
    failures: dict[int, Refusal] = {}

    def standing(told: Told | None = None) -> Standing:
        first = next((p for p in places if p not in results and p not in failures), None)
        return Standing(len(results), len(jobs), "" if first is None else jobs[first].name, told)

    tell(standing())
    with closing(_coming(work, [jobs[place].given for place in places], spread)) as coming:
        for number, message in coming:
            place = places[number]
            if isinstance(message, Told):
                if jobs[place].name == standing().job:  # of several at work one is told
                    tell(standing(message))
                continue
            if isinstance(message, Refusal | Failed):
                failures[place] = _as_refusal(message)
                if kept is None:
                    break
            else:
                (results[place],) = message
                if kept is not None:
                    kept.keep(jobs[place].key, results[place])
            tell(standing())
    if failures:
        raise _refusal({jobs[place].name: failures[place] for place in sorted(failures)}, len(jobs), kept)
    return [results[place] for place in range(len(jobs))]


def _as_refusal(message: Refusal | Failed) -> Refusal:
    if isinstance(message, Refusal):
        return message
    _log.error("%s", message.trace)
    return Refusal(f"It failed by a fault of the program: {message.summary.rstrip('.')}.", "Report it with the lines above.")


def _refusal(failures: dict[str, Refusal], total: int, kept: Kept[Any] | None) -> Refusal:
    name, first = next(iter(failures.items()))
    others = f"; {len(failures)} of {total} failed" if len(failures) > 1 else ""
    stay = "" if kept is None else f" The results of the others are kept in '{kept.place}', and the same command goes on from there."
    return Refusal(f"{name[:1].upper()}{name[1:]}: {first.problem.rstrip('.')}{others}.", f"{first.repair}{stay}", first.status)


def _coming(work: Callable[[Any], Any], given: Sequence[Any], spread: Way) -> Coming:
    match spread:
        case Here():
            return _here(work, given)
        case Processes(number):
            return in_processes(work, given, number)
        case Cluster(address):
            return _on_cluster(work, given, address)


def _here(work: Callable[[Any], Any], given: Sequence[Any]) -> Coming:
    for place, one in enumerate(given):
        yield place, outcome_of(work, one)


@dataclass(frozen=True)
class _ByTheSame:
    """Work that is done only by the version of wearfit that asks for it: another may answer otherwise."""

    work: Callable[[Any], Any]
    version: str

    def __call__(self, given: Any) -> Any:
        if __version__ != self.version:
            raise Refusal(
                f"A worker of the cluster has wearfit {__version__}, and this machine {self.version}.", "Install the same on all of them."
            )
        return self.work(given)


def _on_cluster(work: Callable[[Any], Any], given: Sequence[Any], address: str) -> Coming:
    """As `in_processes`; a job whose worker dies is given to another by the scheduler, until it gives the job up."""
    if not given:
        return
    client, as_completed = _client(address)
    futures: dict[Any, int] = {}
    try:
        at_once = AHEAD * len(client.scheduler_info(n_workers=-1)["workers"])
        if not at_once:
            raise Refusal(f"The cluster at '{address}' has no worker.", f"Start some: `dask worker {address} --nthreads 1`.", 2)
        waiting, done = list(enumerate(given)), as_completed(loop=client.loop)
        waiting.reverse()

        def send() -> None:
            if waiting:
                place, one = waiting.pop()
                # Not by what it depends on: one client's failure must not be another's answer.
                future = client.submit(_ByTheSame(work, __version__), one, pure=False)
                futures[future] = place
                done.add(future)

        for _ in range(at_once):
            send()
        while futures:
            future = next(done)
            place = futures.pop(future)
            try:
                outcome: Outcome = (future.result(),)
            except Refusal as refusal:
                outcome = refusal
            except Exception as error:
                outcome = _failed_there(error)
            future.release()
            send()
            yield place, outcome
    finally:
        if futures:
            client.cancel(list(futures), force=True)
        client.close()


def _client(address: str) -> tuple[Any, Any]:
    try:
        from distributed import Client, as_completed
    except ImportError:
        raise Refusal("Work on a cluster needs Dask, which is not installed.", "Install it: `pip install 'wearfit[cluster]'`.", 2) from None
    try:
        return Client(address, timeout=CONNECT_SECONDS, set_as_default=False), as_completed
    except (OSError, ValueError, TimeoutError):
        raise Refusal(
            f"No Dask scheduler answers at '{address}'.", "Start one with `dask scheduler`, and give the address that it prints.", 2
        ) from None


def _failed_there(error: Exception) -> Refusal | Failed:
    if isinstance(error, ModuleNotFoundError):
        return Refusal(f"The workers of the cluster have no '{error.name}'.", "Install wearfit there, in the same version as here.")
    if type(error).__name__ == "KilledWorker":
        return Refusal(
            "Its workers died each time, perhaps for want of memory.", "Give the workers more memory, or fewer of them to a machine."
        )
    return failed(error)
