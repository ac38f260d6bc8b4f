"""Which law of wear: the current calibration's records under each, held against one another."""

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from wearfit.calibration import STACKED, Calibration
from wearfit.errors import Refusal
from wearfit.law import LAWS
from wearfit.store.store import Store
from wearfit.workflow.answers import Accepted, Current, accepted, current_for, forecast_of, read_current
from wearfit.workflow.kept_evidence import keep, kept
from wearfit.workflow.laws_in_words import reason, sentences
from wearfit.workflow.progress import Progress, Report, silent
from wearfit.workflow.ways import Way

if TYPE_CHECKING:
    from wearfit.evidence.laws import Comparison

LAW: Final = "law"
CHOICES: Final = (*LAWS, STACKED)
MOST_TOOLS: Final = 5


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
        As `evidence.laws.scores_report` has it; `wear_law` of the current calibration; `forecasts`, what each law would change;
        `sentences`.

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
    from wearfit.evidence.laws import Asked, scores_report
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
    document = current.document(scores_report(compared))
    document |= {"wear_law": identity.wear_law, "forecasts": _forecasts(current, within, compared)}
    document["sentences"] = sentences(document)
    keep(store_url, LAW, current.number, document)
    return document


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


def law_in_force(store: Store, asked: str | None) -> tuple[str, str]:
    """The law of a recalibration and why: the one asked for, else that of the current calibration, else Weibull's."""
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
    return LAWS[0], ""


def _why(asked: str, content: str | None) -> str:
    import json

    document = None if content is None else json.loads(content)
    if document is not None and document["chosen"] == asked:
        return reason(document)
    return f"Chosen by hand: `--law {asked}`." + ("" if document is None else f" The comparison says otherwise: {reason(document)}")


def _forecasts(current: Current, within: Accepted, compared: "Comparison") -> list[dict[str, Any]]:
    """How far the forecasts under each law, and under all stacked, lie from those of the calibration that answers."""
    now = _shots_left(current, within, current.calibration)
    under = {fit.name: fit.calibration for fit in compared.fits} | {STACKED: compared.stacked("")}
    found = []
    for name, calibration in under.items():
        then = _shots_left(current, within, calibration)
        both = [tool for tool in now if tool in then]
        ratio = np.array([np.divide(then[tool], now[tool]) for tool in both]).reshape(-1, 2)
        furthest = np.argsort(-np.abs(np.log(ratio[:, 1])), kind="stable")[:MOST_TOOLS]
        likely, late = np.median(ratio, axis=0) if both else (None, None)
        tools = [{"tool_id": both[i], "late": then[both[i]][1], "now": now[both[i]][1]} for i in furthest]
        found.append({"law": name, "likely": likely, "late": late, "tools": tools})
    return found


def _shots_left(current: Current, within: Accepted, calibration: Calibration) -> dict[str, tuple[float, float]]:
    """Likely and late number of shots left by tool, of those that have any."""
    tools = forecast_of(current_for(current.number, calibration, current.as_of), within)["tools"]
    left = {tool["tool_id"]: (tool["remaining_shots"]["p50"], tool["remaining_shots"]["p90"]) for tool in tools}
    return {tool: (float(p50), float(p90)) for tool, (p50, p90) in left.items() if p50 and p90}
