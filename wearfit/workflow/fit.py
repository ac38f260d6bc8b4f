"""Whether the records fit what the current calibration believes of them."""

import datetime as dt
from typing import TYPE_CHECKING, Any

from wearfit.calibration import Calibration
from wearfit.store.store import Store
from wearfit.workflow.answers import read_current
from wearfit.workflow.fit_in_words import sentences
from wearfit.workflow.planned import kept_planned
from wearfit.workflow.progress import Progress, Report, silent
from wearfit.workflow.recorded import read_recorded

if TYPE_CHECKING:
    from wearfit.workflow.recorded import Recorded


def fit(store_url: str, report: Report = silent) -> dict[str, Any]:
    """Set the records of a store against its current calibration.

    Returns
    -------
    dict
        As `evidence.fit.fit_report` has it, with `sentences`, and `planned` as `planned.count_planned` has it, null where that was
        not asked of this calibration.

    Raises
    ------
    Refusal
        Where no calibration is current, or the records have changed since.
    """
    with Store.open(store_url, must_exist=True) as store:
        current = read_current(store, None)
    report(Progress("assemble"))
    recorded = read_recorded(store_url, dt.date.fromisoformat(current.calibration.identity.as_of))
    report(Progress("score"))
    document = current.document(fit_of(current.calibration, recorded))
    return document | {"planned": kept_planned(store_url, current.number)}


def fit_of(calibration: Calibration, recorded: "Recorded") -> dict[str, Any]:
    """The same from a calibration and its records at hand, without what the store keeps."""
    # The model's own arrays take a while to load.
    from wearfit.evidence.believed_draws import believed
    from wearfit.evidence.fit import fit_report

    document = fit_report(believed(calibration, recorded.exposures, recorded.fingerprint), calibration.identity.seed)
    return document | {"sentences": sentences(document)}
