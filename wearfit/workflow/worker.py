"""The killable worker: one process beside this one that holds the compiled model and calibrates on request."""

import logging
import multiprocessing
import time
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from types import TracebackType
from typing import Any, Self

from wearfit.errors import Refusal
from wearfit.workflow.child_process import Failed, Told
from wearfit.workflow.progress import Pace, Progress, Report, silent
from wearfit.workflow.worker_process import Fitted, Message, Ready, Request, serve

_log = logging.getLogger(__name__)

_TRY_AGAIN = "Run it again; the records in the store are as they were."


class Worker:
    """A process for calibrations, in which a crash or a stop harms nothing else.

    It loads the model as soon as it is started, keeps the compiled model from one calibration to the next, and ends with
    this process. One calibration at a time; `stop` may be called from any thread.

    Notes
    -----
    The process is spawned, not forked: this works on every platform, and the sampler's threads never meet a fork.

    Parameters
    ----------
    gives_way : bool
        Whether its process gets the processor after all others, where the platform knows such (POSIX).
    """

    def __init__(self, gives_way: bool = False) -> None:
        self._gives_way = gives_way
        self._process: SpawnProcess | None = None
        self._connection: Connection[Any, Any] | None = None
        self._ready = False
        self._stopped = False

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.stop()

    @property
    def process_id(self) -> int | None:
        """Of the process, None where it does not run."""
        process = self._process
        return process.pid if process is not None and process.is_alive() else None

    def start(self) -> None:
        """Start the process, unless it runs, and return at once: it loads the model while others go on."""
        if self.process_id is not None:
            return
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        # A daemon is ended with this process even where nobody calls `stop`.
        process = context.Process(target=serve, args=(theirs, self._gives_way), name="wearfit-calibration", daemon=True)
        process.start()
        theirs.close()  # so that the connection ends when the process does
        self._process, self._connection, self._ready, self._stopped = process, ours, False, False

    def stop(self) -> None:
        """End the process at once, whatever it does; it holds nothing that could be lost."""
        process, self._stopped = self._process, True
        if process is not None:
            process.kill()
            process.join()

    def calibrate(self, request: Request, report: Report = silent) -> Fitted:
        """Calibrate on a history; starts the process where it does not run.

        Parameters
        ----------
        request : Request
        report : callable
            Told the progress, in this thread.

        Returns
        -------
        Fitted
            Its `seconds` have the stages of `model.calibrate` and "start", the wait for a process that is not ready yet.

        Raises
        ------
        Refusal
            Where the model refuses the history, or the process was stopped, died or failed.
        """
        self.start()
        try:
            return self._converse(request, report)
        except Refusal:
            raise
        except BaseException:
            # Half a conversation cannot be taken up again.
            self.stop()
            raise

    def _converse(self, request: Request, report: Report) -> Fitted:
        assert self._connection is not None
        began = time.perf_counter()
        if not self._ready:
            report(Progress("start"))
            self._expect_ready()
        waited = time.perf_counter() - began
        try:
            self._connection.send(request)
        except OSError:
            raise self._ended() from None
        pace = Pace()
        while True:
            match self._receive():
                case Told(stage, share):
                    report(pace.progress(stage, share))
                case Fitted(blob, identity, seconds):
                    return Fitted(blob, identity, {"start": waited, **seconds})
                case message:
                    raise _as_refusal(message)

    def _expect_ready(self) -> None:
        message = self._receive()
        if not isinstance(message, Ready):
            raise _as_refusal(message)
        self._ready = True

    def _receive(self) -> Message:
        assert self._connection is not None
        assert self._process is not None
        wait([self._connection, self._process.sentinel])
        try:
            # What the process said before it ended still counts.
            if self._connection.poll():
                message: Message = self._connection.recv()
                return message
        except (EOFError, OSError):
            pass
        raise self._ended()

    def _ended(self) -> Refusal:
        """What to say of a process that is there no longer."""
        assert self._process is not None
        if self._stopped:
            return Refusal("The calibration was stopped before it was done.", _TRY_AGAIN)
        self._process.join(timeout=5.0)
        code = self._process.exitcode
        how = f" by signal {-code}" if code is not None and code < 0 else f" with status {code}"
        return Refusal(
            f"The calibration process was ended{how} before it was done, perhaps for want of memory.",
            f"Close other programs or use a machine with more memory. {_TRY_AGAIN}",
        )


def _as_refusal(message: Message) -> Refusal:
    if isinstance(message, Refusal):
        return message
    if isinstance(message, Failed):
        _log.error("%s", message.trace)
        return Refusal(
            f"The calibration failed by a fault of the program: {message.summary.rstrip('.')}.",
            f"Report it with the lines above. {_TRY_AGAIN}",
        )
    return Refusal("The calibration process gave an answer that nobody asked for.", _TRY_AGAIN)
