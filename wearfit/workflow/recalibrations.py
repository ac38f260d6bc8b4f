"""Recalibrations under way in this process: one at a time for each store, whoever began it, to be watched and cancelled by all."""

import contextvars
import datetime as dt
import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, Literal

from wearfit.errors import Refusal
from wearfit.workflow.progress import Progress
from wearfit.workflow.recalibrate import Order, Recalibration, recalibrate
from wearfit.workflow.worker import Worker

_log: Final = logging.getLogger(__name__)

BEFORE_THE_MODEL: Final = ("read", "assemble")  # stages that this process does, short ones
State = Literal["under way", "stopping", "done", "cancelled", "refused"]


@dataclass(frozen=True)
class Undertaking:
    """One recalibration as it stands at a moment.

    Parameters
    ----------
    began_at : datetime
        In UTC.
    state : str
        "stopping" while a cancel is under way.
    progress : Progress
        The last that the work told of itself.
    seconds : float
        Since it began, to its end. [s]
    outcome : Recalibration or None
        Where it is done.
    refusal : Refusal or None
        Why it was refused or failed.
    why : str
        What began it, in sentences, where nobody asked for it; "" else.
    """

    began_at: dt.datetime
    state: State
    progress: Progress
    seconds: float
    outcome: Recalibration | None = None
    refusal: Refusal | None = None
    why: str = ""

    @property
    def under_way(self) -> bool:
        return self.state in ("under way", "stopping")


class _Cancelled(Exception):
    """The user wants no calibration after all."""


class _Work:
    """What is written by the thread at work and read by the pages; every access holds the lock."""

    def __init__(self, why: str) -> None:
        self.lock = threading.Lock()
        self.began = time.monotonic()
        self.stands = Undertaking(dt.datetime.now(dt.UTC), "under way", Progress("read"), 0.0, why=why)
        self.thread: threading.Thread | None = None

    def seen(self) -> Undertaking:
        with self.lock:
            return replace(self.stands, seconds=time.monotonic() - self.began) if self.stands.under_way else self.stands

    def told(self, progress: Progress) -> None:
        with self.lock:
            if self.stands.state == "stopping":
                raise _Cancelled
            self.stands = replace(self.stands, progress=progress)

    def stopping(self) -> bool:
        """Ask it to stop; whether it was under way."""
        with self.lock:
            was = self.stands.under_way
            if was:
                self.stands = replace(self.stands, state="stopping")
            return was

    def ended(self, state: State, outcome: Recalibration | None = None, refusal: Refusal | None = None) -> None:
        with self.lock:
            cancelled = self.stands.state == "stopping" and outcome is None
            self.stands = replace(
                self.stands,
                state="cancelled" if cancelled else state,
                seconds=time.monotonic() - self.began,
                outcome=outcome,
                refusal=None if cancelled else refusal,
            )


def _giving_way() -> Worker:
    return Worker(gives_way=True)


class Recalibrations:
    """Begins recalibrations in threads of their own; the model runs in one worker process, which is kept for the next one.

    Parameters
    ----------
    worker : callable
        Makes the worker; by default one that gives way to the pages.
    """

    def __init__(self, worker: Callable[[], Worker] = _giving_way) -> None:
        self._worker = worker()
        self._turn = threading.Lock()  # the worker calibrates once at a time, whatever the store
        self._lock = threading.Lock()
        self._works: dict[str, _Work] = {}
        self._at_work: _Work | None = None

    def begin(self, store_url: str, order: Order, why: str = "") -> bool:
        """Begin a recalibration; False where one of this store is under way, which is left alone.

        `why` says what began it where nobody asked for it.
        """
        with self._lock:
            before = self._works.get(store_url)
            if before is not None and before.seen().under_way:
                return False
            work = self._works[store_url] = _Work(why)
            # A daemon: it ends with the process, and holds nothing that could be lost.
            # In the context of the one who began it: the history names them.
            run = contextvars.copy_context().run
            work.thread = threading.Thread(target=run, args=(self._run, work, store_url, order), name="wearfit-recalibration", daemon=True)
            work.thread.start()
        return True

    def seen(self, store_url: str) -> Undertaking | None:
        """How the last recalibration of a store stands; None before the first one in this process."""
        with self._lock:
            work = self._works.get(store_url)
        return None if work is None else work.seen()

    def cancel(self, store_url: str) -> None:
        """Stop the recalibration of a store where one is under way: the records and the calibrations stay as they are."""
        with self._lock:
            work = self._works.get(store_url)
            # What is told next ends it; only the model would go on for long, and only this one's may be stopped.
            if work is not None and work.stopping() and self._at_work is work and work.seen().progress.stage not in BEFORE_THE_MODEL:
                self._worker.stop()

    def wait(self, store_url: str) -> Undertaking | None:
        """Wait until the recalibration of a store has ended; how it ended."""
        with self._lock:
            work = self._works.get(store_url)
        if work is None or work.thread is None:
            return None
        work.thread.join()
        return work.seen()

    def _run(self, work: _Work, store_url: str, order: Order) -> None:
        with self._turn:
            self._point(work)
            try:
                work.told(Progress("read"))
                work.ended("done", outcome=recalibrate(store_url, order, self._worker, work.told))
            except _Cancelled:
                work.ended("cancelled")
            except Refusal as refusal:
                work.ended("refused", refusal=refusal)
            except Exception as error:
                _log.exception("A fault of the program, in a recalibration:")
                work.ended("refused", refusal=_fault(error))
            finally:
                self._point(None)

    def _point(self, work: _Work | None) -> None:
        with self._lock:
            self._at_work = work


def _fault(error: Exception) -> Refusal:
    return Refusal(
        f"The recalibration failed by a fault of the program: {type(error).__name__}.",
        "The records and calibrations are as they were. Report it with the lines that `wearfit serve` printed.",
    )
