"""What moved the forecasts: which records, and which beliefs."""

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final

from wearfit.calibration import Calibration
from wearfit.store.store import Store
from wearfit.workflow.answers import accepted, current_for, forecast_of, read_current
from wearfit.workflow.kept_evidence import keep, kept
from wearfit.workflow.moved_in_words import sentences
from wearfit.workflow.progress import Progress, Report, silent
from wearfit.workflow.recorded import read_recorded

MOVED: Final = "moved"


def moved(store_url: str, report: Report = silent) -> dict[str, Any]:
    """What the forecasts would be without each batch of records, and under firmer or looser beliefs; the store keeps the answer.

    Returns
    -------
    dict
        As `evidence.what_moved.moved_report` has it; `beliefs` as `evidence.hangs_on_priors.prior_report` has them; `sentences`.

    Raises
    ------
    Refusal
        Where no calibration is current, or the records have changed since.
    """
    with Store.open(store_url, must_exist=True) as store:
        current, within = read_current(store, None), accepted(store)
    report(Progress("assemble"))
    calibration = current.calibration
    recorded = read_recorded(store_url, dt.date.fromisoformat(calibration.identity.as_of))
    report(Progress("score"))
    # The model's own arrays take a while to load.
    from wearfit.evidence.believed_draws import believed
    from wearfit.evidence.courses import build_courses
    from wearfit.evidence.hangs_on_priors import prior_report
    from wearfit.evidence.what_moved import batches_of, moved_report
    from wearfit.workflow.upload_batches import upload_batches

    b = believed(calibration, recorded.exposures, recorded.fingerprint, calibration.samples)
    courses = build_courses(b)
    schemes = (*batches_of(b, courses), upload_batches(store_url, calibration, recorded.exposures, courses))

    def forecast(without: Calibration) -> Sequence[dict[str, Any]]:
        return list(forecast_of(current_for(current.number, without, current.as_of), within)["tools"])

    document = current.document(moved_report(b, courses, calibration, schemes, forecast, calibration.identity.seed))
    document["beliefs"] = prior_report(calibration)
    document["sentences"] = sentences(document)
    keep(store_url, MOVED, current.number, document)
    return document


def kept_moved(store_url: str, calibration: int) -> dict[str, Any] | None:
    """The last answer about a calibration that the store keeps, None where nobody asked."""
    return kept(store_url, MOVED, calibration)
