"""The killable worker: one process beside this one that holds the compiled model and calibrates on request."""

import logging
import multiprocessing
import time
from collections.abc import Callable
from dataclasses import replace
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from types import TracebackType
from typing import Any, Self

from wearfit.errors import Refusal
from wearfit.workflow.child_process import Failed, Told, send
from wearfit.workflow.progress import Pace, Progress, Report, silent
from wearfit.workflow.worker_process import Fitted, Message, Ready, Request, serve

_log = logging.getLogger(__name__)

TRY_AGAIN = "Run it again; the records in the store are as they were."


class Line:
    """The connection to a process that calibrates.

    Parameters
    ----------
    connection : Connection
        As `worker_process.serve` takes its other end.
    ended : callable
        What to say of a process that is there no longer.
    sentinel : int, optional
        Of the process, where it is a child of this one.
    """

    def __init__(self, connection: "Connection[Any, Any]", ended: Callable[[], Refusal], sentinel: int | None = None) -> None:
        self._connection, self._ended = connection, ended
        self._watched: list[Connection[Any, Any] | int] = [connection] if sentinel is None else [connection, sentinel]
        self._ready = False

    def calibrate(self, request: Request, report: Report = silent) -> Fitted:
        """As `Worker.calibrate`."""
        began = time.perf_counter()
        if not self._ready:
            report(Progress("start"))
            self._expect_ready()
        waited = time.perf_counter() - began
        try:
            send(self._connection, request)
        except OSError:
            raise self._ended() from None
        pace = Pace()
        while True:
            match self._receive():
                case Told(stage, share, part):
                    report(pace.progress(stage, share, part))
                case Fitted() as fitted:
                    return replace(fitted, seconds={"start": waited, **fitted.seconds})
                case message:
                    raise _as_refusal(message)

    def close(self) -> None:
        """End the connection, and with it what is under way at its other end."""
        self._connection.close()

    def _expect_ready(self) -> None:
        message = self._receive()
        if not isinstance(message, Ready):
            raise _as_refusal(message)
        self._ready = True

    def _receive(self) -> Message:
        wait(self._watched)
        try:
            # What the process said before it ended still counts.
            if self._connection.poll():
                message: Message = self._connection.recv()
                return message
        except (EOFError, OSError):
            pass
        raise self._ended()


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
        self._line: Line | None = None
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
        self._process, self._line, self._stopped = process, Line(ours, self._ended, process.sentinel), False

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
            assert self._line is not None
            return self._line.calibrate(request, report)
        except Refusal:
            raise
        except BaseException:
            # Half a conversation cannot be taken up again.
            self.stop()
            raise

    def _ended(self) -> Refusal:
        """What to say of a process that is there no longer."""
        assert self._process is not None
        if self._stopped:
            return Refusal("The calibration was stopped before it was done.", TRY_AGAIN)
        self._process.join(timeout=5.0)
        code = self._process.exitcode
        how = f" by signal {-code}" if code is not None and code < 0 else f" with status {code}"
        return Refusal(
            f"The calibration process was ended{how} before it was done, perhaps for want of memory.",
            f"Close other programs or use a machine with more memory. {TRY_AGAIN}",
        )


def _as_refusal(message: Message) -> Refusal:
    if isinstance(message, Refusal):
        return message
    if isinstance(message, Failed):
        _log.error("%s", message.trace)
        return Refusal(
            f"The calibration failed by a fault of the program: {message.summary.rstrip('.')}.",
            f"Report it with the lines above. {TRY_AGAIN}",
        )
    return Refusal("The calibration process gave an answer that nobody asked for.", TRY_AGAIN)
