"""Planned renewals taken for wear-outs: what a second calibration, on records changed so, says beside the one that answers.

A tool that is renewed because it looked worn is no fair survivor: the likelihood takes it for one. How much hangs on that nobody can tell
from the records; the answer lies between the two calibrations. They are not weighed into each other: a renewal turned from survival
into a wear-out moves the likelihood of the draws by several nats, and a few of them leave no draw that could stand for the others.
"""

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from wearfit.calibration import Calibration, from_bytes
from wearfit.errors import Refusal
from wearfit.forecasts.believed import class_lives
from wearfit.forecasts.next_run import Runs
from wearfit.forecasts.run_question import RunQuestion
from wearfit.store.store import Store
from wearfit.workflow.answers import Current, accepted, current_for, forecast_of, read_current
from wearfit.workflow.kept_evidence import keep, kept
from wearfit.workflow.planned_in_words import planned_sentences
from wearfit.workflow.progress import Progress, Report, silent
from wearfit.workflow.recorded import read_recorded
from wearfit.workflow.usual_run import usual_run
from wearfit.workflow.worker import Worker
from wearfit.workflow.worker_process import Request

if TYPE_CHECKING:
    from wearfit.records.records import Records

PLANNED: Final = "planned"
RENEWALS: Final = ("refurbish", "retool", "retire")


def count_planned(store_url: str, worker: Worker, report: Report = silent) -> dict[str, Any]:
    """Calibrate anew with planned renewals as wear-outs, and set that beside the current calibration; the store keeps the answer.

    Parameters
    ----------
    worker : Worker
        Best started before; not used where no renewal is planned.

    Returns
    -------
    dict
        `renewals`, how many there are; `as_recorded` and `as_wear`, what each says; `passed`, whether the second passed its gate;
        `sentences`.

    Raises
    ------
    Refusal
        Where no calibration is current, the records have changed since, or the work is interrupted.
    """
    with Store.open(store_url, must_exist=True) as store:
        current, within = read_current(store, None), accepted(store)
    report(Progress("assemble"))
    recorded = read_recorded(store_url, dt.date.fromisoformat(current.calibration.identity.as_of))
    if recorded.fingerprint != current.calibration.identity.fingerprint:
        raise Refusal("The records have changed since the calibration.", "Run `wearfit recalibrate`; then ask again.")
    changed, renewals = as_wear(recorded.records)
    document: dict[str, Any] = {"renewals": renewals, "passed": True, "as_recorded": _says(current, within), "as_wear": None}
    if renewals:
        fitted = _refit(changed, current, worker, report)
        document |= {
            "passed": bool(fitted.identity.diagnostics["passed"]),
            "as_wear": _says(current_for(current.number, fitted, current.as_of), within),
        }
    document["sentences"] = planned_sentences(document)
    keep(store_url, PLANNED, current.number, document)
    return document


def kept_planned(store_url: str, calibration: int) -> dict[str, Any] | None:
    """The last answer about a calibration that the store keeps, None where nobody asked."""
    return kept(store_url, PLANNED, calibration)


def as_wear(records: "Records") -> tuple["Records", int]:
    """Records in which planned renewals, and tools retired by plan, wore out; and how many there are."""
    events = records.tables["events"]
    planned = (events["cause"] == PLANNED) & events["event"].isin(RENEWALS)
    changed = events.assign(cause=events["cause"].where(~planned, "wear"))
    return replace(records, tables={**records.tables, "events": changed}), int(planned.sum())


def _refit(records: "Records", current: Current, worker: Worker, report: Report) -> Calibration:
    from wearfit.exposures.build import build_exposures
    from wearfit.exposures.live import build_live

    exposures, identity = build_exposures(records), current.calibration.identity
    request = Request(exposures, build_live(records, exposures), records.fingerprint, identity.priors, identity.seed, law=identity.wear_law)
    try:
        return from_bytes(worker.calibrate(request, report).blob)
    except KeyboardInterrupt:
        raise Refusal("Stopped before the second calibration was done; nothing of it is kept.", "Ask again when it suits.") from None


def _says(current: Current, within: Any) -> dict[str, Any]:
    """What a calibration says that planned renewals bear on."""
    tools = forecast_of(current, within)["tools"]
    runs, month = Runs(current.calibration, current.news, current.as_of), f"{current.as_of:%Y-%m}"
    chances = []
    for tool in tools:
        usual = usual_run(current.calibration, tool["tool_id"])
        if tool["status"] != "worn" and usual.plant_id and usual.resin_id:
            question = RunQuestion(tool["tool_id"], usual.plant_id, usual.resin_id, month, usual.shots)
            answer = runs.answer(question, current.as_of, False)
            chances += [] if answer["p_wear_out"] is None else [float(answer["p_wear_out"])]
    return {
        "expected_12_months": sum(t["p_within_12_months"] or 0.0 for t in tools if t["status"] != "worn"),
        "tools": len(tools),
        "class_lives": {belief.name: list(belief.after) for belief in class_lives(current.calibration)},
        "next_run": sum(chances) / len(chances) if chances else None,
        "next_runs": len(chances),
    }
