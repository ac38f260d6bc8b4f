"""The inside of the worker process: waits for requests, calibrates, and keeps the compiled model for the next one."""

import contextlib
import os
import signal
import sys
import threading
import time
import traceback
from dataclasses import dataclass
from multiprocessing import parent_process
from multiprocessing.connection import Connection, wait
from typing import TYPE_CHECKING, Any, Final

from wearfit.calibration import STACKED, Identity
from wearfit.errors import Refusal
from wearfit.law import LAWS, WEIBULL

if TYPE_CHECKING:
    from wearfit.exposures.live import LiveTools
    from wearfit.exposures.table import Exposures
    from wearfit.model.layout import Layout
    from wearfit.model.sampler import Compiled

TELL_EVERY_SECONDS: Final = 0.1
LOW_PRIORITY: Final = 10  # steps of POSIX, of 19


@dataclass(frozen=True)
class Request:
    """One history to calibrate on.

    Parameters
    ----------
    exposures, live
        Of the same records.
    fingerprint : str
        Of those records.
    priors : str
        Text of the priors file.
    seed : int
    layout : Layout, optional
        As for `model.calibrate`.
    law : str
        One of `law.LAWS`, or `calibration.STACKED`: all of them, weighed by how well each forecasts lives.
    law_chosen : str
        Why that law; of laws stacked the comparison says so itself.
    """

    exposures: "Exposures"
    live: "LiveTools"
    fingerprint: str
    priors: str
    seed: int
    layout: "Layout | None" = None
    law: str = LAWS[WEIBULL]
    law_chosen: str = ""


@dataclass(frozen=True)
class Ready:
    """The model is loaded."""


@dataclass(frozen=True)
class Told:
    """How far a calibration is: its stage, and the share of it that is done."""

    stage: str
    share: float


@dataclass(frozen=True)
class Fitted:
    """A calibration, whether or not it passed the gate.

    Parameters
    ----------
    blob : bytes
        The saved posterior.
    identity : Identity
        What it says of itself, diagnostics among it.
    seconds : dict of str to float
        By stage. [s]
    """

    blob: bytes
    identity: Identity
    seconds: dict[str, float]


@dataclass(frozen=True)
class Failed:
    """A fault in the program: its last line, and where it happened."""

    summary: str
    trace: str


Message = Ready | Told | Fitted | Failed | Refusal


class NobodyWaits(Exception):
    """The one who asked has gone: what was asked for is given up."""


class Teller:
    """Sends messages, from whichever thread, one at a time; raises `NobodyWaits` where nobody takes them any more."""

    def __init__(self, connection: "Connection[Any, Any]") -> None:
        self._connection = connection
        self._lock = threading.Lock()
        self._last = ("", 0.0)

    def send(self, message: Message) -> None:
        with self._lock:
            try:
                self._connection.send(message)
            except OSError:
                raise NobodyWaits from None

    def tell(self, stage: str, share: float) -> None:
        """Send progress, a stage's first and last words at once and the others every so often."""
        last_stage, last_time = self._last
        now = time.perf_counter()
        if stage == last_stage and share < 1.0 and now - last_time < TELL_EVERY_SECONDS:
            return
        self._last = (stage, now)
        self.send(Told(stage, share))


def serve(connection: "Connection[Any, Any]", gives_way: bool = False) -> None:
    """Answer requests until the connection or the parent process ends.

    Parameters
    ----------
    connection : Connection
        Takes `Request`, gives `Ready` once; for each request `Told` any number of times, then `Fitted`, `Refusal` or
        `Failed`.
    gives_way : bool
        As `Worker` takes it.
    """
    if gives_way and hasattr(os, "nice"):
        os.nice(LOW_PRIORITY)
    # Ctrl-C reaches the whole group of processes; the parent alone decides what becomes of this one.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    # Standard output belongs to the parent's answer, whatever a library here may want to say.
    os.dup2(2, 1)
    sys.stdout = sys.stderr
    with contextlib.suppress(NobodyWaits):
        teller = Teller(connection)
        fault = load_model()
        teller.send(Ready() if fault is None else fault)
        if fault is None:
            answer(connection, teller, {})


def load_model() -> Failed | None:
    """Load the model, which takes seconds; what went wrong, where something did."""
    try:
        from wearfit.model.calibrate import calibrate  # noqa: F401
    except Exception as error:
        return _failed(error)
    return None


def answer(connection: "Connection[Any, Any]", teller: Teller, compiled: "dict[bool, Compiled]") -> None:
    """Answer requests until the connection ends.

    Parameters
    ----------
    compiled : dict of bool to Compiled
        Models compiled so far, by whether it is the Weibull law's; those that are compiled here are added.

    Raises
    ------
    NobodyWaits
        Where the connection ends in the middle of a calibration, which is given up.
    """
    while True:
        try:
            request: Request = connection.recv()
        except (EOFError, OSError):
            return
        try:
            teller.send(_calibrate(request, compiled, teller))
        except NobodyWaits:
            raise
        except Refusal as refusal:
            teller.send(refusal)
        except Exception as error:
            teller.send(_failed(error))


def _calibrate(request: Request, compiled: "dict[bool, Compiled]", teller: Teller) -> Fitted:
    """Calibrate; models that were compiled are kept in `compiled`."""
    from wearfit.calibration import to_bytes
    from wearfit.model.calibrate import calibrate
    from wearfit.model.priors import parse_priors

    priors = parse_priors(request.priors)
    history = (request.exposures, request.live, request.fingerprint, priors, request.seed)
    if request.law == STACKED:
        from wearfit.evidence.laws import compare_laws, scores_report
        from wearfit.workflow.laws_in_words import reason

        compared = compare_laws(*history, lambda law, stage, share: teller.tell(stage, share), request.layout, compiled)
        compiled |= compared.compiled
        stacked = compared.stacked(reason(scores_report(compared)))
        return Fitted(to_bytes(stacked), stacked.identity, compared.seconds)
    wear_law = LAWS.index(request.law)
    model = compiled.get(wear_law == WEIBULL)
    outcome = calibrate(*history, model, teller.tell, layout=request.layout, wear_law=wear_law, law_chosen=request.law_chosen)
    compiled[wear_law == WEIBULL] = outcome.compiled
    return Fitted(to_bytes(outcome.calibration), outcome.calibration.identity, dict(outcome.seconds))


def _failed(error: Exception) -> Failed:
    return Failed("".join(traceback.format_exception_only(error)).strip(), "".join(traceback.format_exception(error)))


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)
