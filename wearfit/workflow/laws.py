"""Which law of wear: the current calibration's records under each, held against one another."""

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from wearfit.calibration import STACKED, Identity
from wearfit.errors import Refusal
from wearfit.law import LAWS
from wearfit.store.store import Store
from wearfit.workflow.answers import accepted, read_current
from wearfit.workflow.compared_laws import as_document
from wearfit.workflow.kept_evidence import keep, keep_in, kept
from wearfit.workflow.laws_in_words import reason, sentences
from wearfit.workflow.progress import Progress, Report, silent
from wearfit.workflow.ways import Way

LAW: Final = "law"
CHOICES: Final = (*LAWS, STACKED)


def laws(store_url: str, spread: Way, folder: Path | None = None, report: Report = silent) -> dict[str, Any]:
    """Calibrate the current calibration's records under each law and hold the laws against one another; the store keeps the answer.

    Parameters
    ----------
    spread : Way
        Where calibrations, and posteriors without lives, are worked out.
    folder : Path, optional
        What each of them gave is kept there as it comes, and found there again.
    report : callable
        Told the progress.

    Returns
    -------
    dict
        As `compared_laws.as_document` has it; what every answer carries; `sentences`.

    Raises
    ------
    Refusal
        Where no calibration is current, the records have changed since, a law cannot be fitted, or the work is interrupted; the store
        keeps nothing then.
    """
    with Store.open(store_url, must_exist=True) as store:
        current, within = read_current(store, None), accepted(store)
    report(Progress("assemble"))
    identity = current.calibration.identity
    # The model's own arrays take a while to load.
    from wearfit.evidence.laws import Asked
    from wearfit.exposures.live import build_live
    from wearfit.model.priors import parse_priors
    from wearfit.workflow.law_jobs import over_laws
    from wearfit.workflow.recorded import read_recorded

    recorded = read_recorded(store_url, dt.date.fromisoformat(identity.as_of))
    if recorded.fingerprint != identity.fingerprint:
        raise Refusal("The records have changed since the calibration.", "Run `wearfit recalibrate`; then ask again.")
    live = build_live(recorded.records, recorded.exposures)
    asked = Asked(recorded.exposures, live, recorded.fingerprint, parse_priors(identity.priors), identity.seed)
    try:
        compared = over_laws(asked, spread, folder, report)
    except KeyboardInterrupt:
        kept_there = "nothing of it is kept" if folder is None else f"what was done is kept in '{folder}'"
        raise Refusal(f"Stopped before the laws were compared; {kept_there}.", "Run `wearfit law` again when it suits.") from None
    document = current.document(as_document(compared, current.calibration, compared.stacked(""), within))
    document["sentences"] = sentences(document)
    keep(store_url, LAW, current.number, document)
    return document


def keep_laws(store: Store, calibration: int, identity: Identity, compared: Mapping[str, Any]) -> None:
    """Keep the comparison with which a calibration of laws stacked came about, as that calibration's own."""
    rests = {"as_of": identity.as_of, "calibration": calibration, "fingerprint": identity.fingerprint}
    keep_in(store, LAW, calibration, {**rests, **compared, "sentences": sentences(compared)})


def kept_laws(store_url: str, calibration: int) -> dict[str, Any] | None:
    """The last answer about a calibration that the store keeps, None where nobody asked."""
    return kept(store_url, LAW, calibration)


def check_law(name: str) -> str:
    """A law's name, as an option gives it.

    Raises
    ------
    Refusal
        Where there is none of that name.
    """
    if name not in CHOICES:
        raise Refusal(f"'{name}' is no law of wear that is known here.", f"Name one of {', '.join(CHOICES)}.", 2)
    return name


def law_in_force(store: Store, asked: str | None, before: str | None = None) -> tuple[str, str]:
    """The law of a recalibration and why: the one asked for, else that of the current calibration, else that before, else Weibull's.

    Parameters
    ----------
    before : str, optional
        That of the store from which the records were exported.
    """
    number = store.current_id()
    if asked is not None:
        found = store.last_evidence(LAW, number) if number is not None else None
        return asked, _why(asked, None if found is None else found.content)
    if number is not None:
        try:
            identity = read_current(store, None).calibration.identity
        except Refusal:  # it cannot be read any more
            return LAWS[0], ""
        return identity.wear_law, identity.law_chosen
    return before or LAWS[0], ""


def _why(asked: str, content: str | None) -> str:
    import json

    document = None if content is None else json.loads(content)
    if document is not None and document["chosen"] == asked:
        return reason(document)
    return f"Chosen by hand: `--law {asked}`." + ("" if document is None else f" The comparison says otherwise: {reason(document)}")
