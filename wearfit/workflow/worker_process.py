"""The inside of the worker process: waits for requests, calibrates, and keeps the compiled model for the next one."""

import contextlib
import os
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any, Final

from wearfit.calibration import STACKED, Identity
from wearfit.errors import Refusal
from wearfit.law import LAWS, WEIBULL
from wearfit.workflow.child_process import Failed, NobodyWaits, Teller, Told, failed, settle_in

if TYPE_CHECKING:
    from wearfit.exposures.live import LiveTools
    from wearfit.exposures.table import Exposures
    from wearfit.model.layout import Layout
    from wearfit.model.sampler import Compiled
    from wearfit.workflow.answers import Accepted

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
    cores : int, optional
        At work at once; as many as there are, unless given. The draws are the same.
    within : Accepted, optional
        By which forecasts under laws stacked are compared, where the comparison is to be kept.
    """

    exposures: "Exposures"
    live: "LiveTools"
    fingerprint: str
    priors: str
    seed: int
    layout: "Layout | None" = None
    law: str = LAWS[WEIBULL]
    law_chosen: str = ""
    cores: int | None = None
    within: "Accepted | None" = None


@dataclass(frozen=True)
class Ready:
    """The model is loaded."""


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
    compared : dict or None
        Of laws stacked: the comparison that their weights are from, as `compared_laws.as_document` has it, where it is to be kept.
    """

    blob: bytes
    identity: Identity
    seconds: dict[str, float]
    compared: dict[str, Any] | None = None


Message = Ready | Told | Fitted | Failed | Refusal


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
    settle_in()
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
        return failed(error)
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
            teller.send(calibrated(request, compiled, teller.tell))
        except NobodyWaits:
            raise
        except Refusal as refusal:
            teller.send(refusal)
        except Exception as error:
            teller.send(failed(error))


def calibrated(request: Request, compiled: "dict[bool, Compiled]", tell: Callable[[str, float, str], None]) -> Fitted:
    """Calibrate; models that were compiled are kept in `compiled`.

    `tell` hears of each stage, the share of it that is done, and of which law it is where there are several.
    """
    from wearfit.calibration import to_bytes
    from wearfit.model.calibrate import calibrate
    from wearfit.model.priors import parse_priors

    priors = parse_priors(request.priors)
    history = (request.exposures, request.live, request.fingerprint, priors, request.seed)
    if request.law == STACKED:
        from wearfit.calibration import from_bytes
        from wearfit.evidence.laws import compare_laws, scores_report
        from wearfit.workflow.compared_laws import as_document
        from wearfit.workflow.laws_in_words import of_law, why_stacked

        def told(law: str, stage: str, share: float) -> None:
            tell(stage, share, of_law(law))

        compared = compare_laws(*history, told, request.layout, compiled, request.cores)
        compiled |= compared.compiled
        stacked = compared.stacked(why_stacked(scores_report(compared)))
        blob = to_bytes(stacked)
        # As the store will give it back, for it is asked for forecasts here.
        whole = from_bytes(blob)
        document = None if request.within is None else as_document(compared, whole, whole, request.within)
        return Fitted(blob, stacked.identity, compared.seconds, document)
    wear_law = LAWS.index(request.law)
    model = compiled.get(wear_law == WEIBULL)
    outcome = calibrate(
        *history, model, lambda stage, share: tell(stage, share, ""), request.cores, request.layout, wear_law, request.law_chosen
    )
    compiled[wear_law == WEIBULL] = outcome.compiled
    return Fitted(to_bytes(outcome.calibration), outcome.calibration.identity, dict(outcome.seconds))
