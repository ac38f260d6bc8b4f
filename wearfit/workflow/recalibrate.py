"""Recalibrate: the records into the store, everything that it holds into the model, the calibration into the store."""

import datetime as dt
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from wearfit.calibration import Identity
from wearfit.errors import Refusal
from wearfit.store.calibrations import CalibrationSummary
from wearfit.store.store import Store
from wearfit.store.uploads import UploadOutcome, empty_tables
from wearfit.workflow.answers import accepted
from wearfit.workflow.choices import choices_in_force, choices_of_file, day_in_force, read_again
from wearfit.workflow.exported import exported_of
from wearfit.workflow.laws import check_law, keep_laws, law_in_force
from wearfit.workflow.progress import Progress, Report, silent
from wearfit.workflow.settings import PRIORS, SEED
from wearfit.workflow.worker import Worker
from wearfit.workflow.worker_process import Fitted, Request


@dataclass(frozen=True)
class Order:
    """What to recalibrate on, and how.

    Parameters
    ----------
    paths : sequence of Path
        Records to store first; none to calibrate on what the store holds.
    as_of : date, optional
        The latest day in the records by default.
    priors, seed : optional
        As the store's settings, else the defaults.
    make_current : bool
        Whether a calibration of an earlier day than the current one's may become current.
    choices : Path, optional
        The user's TOML file of decisions, to be put over those that the store keeps, and kept with them.
    today : date, optional
        Rows dated later are set aside; not looked at where None.
    law : str, optional
        One of `law.LAWS`, or `calibration.STACKED`; that of the current calibration by default.
    """

    paths: Sequence[Path] = ()
    as_of: dt.date | None = None
    priors: Path | None = None
    seed: int | None = None
    make_current: bool = False
    choices: Path | None = None
    today: dt.date | None = None
    law: str | None = None


@dataclass(frozen=True)
class Recalibration:
    """A calibration that was made and kept.

    Parameters
    ----------
    calibration : int
        Its number in the store.
    identity : Identity
    current : bool
        Whether it answers from now on; `why_not` says why it does not.
    seconds : dict of str to float
        By stage, and the total of the whole. [s]
    findings : int
        Number of things noticed in the records.
    stored : tuple of (str, UploadOutcome)
        Name of each upload and what it did to the store.
    again : tuple of (str, UploadOutcome)
        The same of uploads stored before that new choices read otherwise.
    notes : tuple of str
        What else is to be said of the stored uploads and of the store, in sentences.
    """

    calibration: int
    identity: Identity
    current: bool
    why_not: str
    seconds: dict[str, float]
    findings: int
    stored: tuple[tuple[str, UploadOutcome], ...]
    again: tuple[tuple[str, UploadOutcome], ...] = ()
    notes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        return {
            "as_of": self.identity.as_of,
            "calibration": self.calibration,
            "fingerprint": self.identity.fingerprint,
            "current": self.current,
            "why_not_current": self.why_not or None,
            "lives": self.identity.lives,
            "wear_outs": self.identity.wear_outs,
            "law": self.identity.wear_law,
            "law_chosen": self.identity.law_chosen or None,
            "seconds": self.seconds,
            "diagnostics": self.identity.diagnostics,
            "findings": self.findings,
            "uploads": [_outcome(name, outcome) for name, outcome in self.stored],
            "read_again": [_outcome(name, outcome) for name, outcome in self.again],
            "notes": list(self.notes),
        }


def _outcome(name: str, o: UploadOutcome) -> dict[str, Any]:
    return {
        "name": name, "new": o.new, "changed": o.changed, "unchanged": o.unchanged, "repeated": o.repeated, "withdrawn": o.withdrawn,
    }  # fmt: skip


def recalibrate(store_url: str, order: Order, worker: Worker, report: Report = silent) -> Recalibration:
    """Store records, calibrate on all that the store holds, and keep the calibration.

    Parameters
    ----------
    store_url : str
        Made where there is none.
    order : Order
    worker : Worker
        Best started before, so that it loads the model meanwhile.
    report : callable
        Told the progress.

    Returns
    -------
    Recalibration
        Current if it passed the gate and its day is not before that of the current one.

    Raises
    ------
    Refusal
        Where the store, the records, the priors or the model refuse, or the work is interrupted while the model is
        calibrated. No path is stored unless all of them can be read; what is stored by then stays.
    """
    marks = [time.perf_counter()]
    # Pandas takes long to load; by now the worker has been started and loads its own libraries beside.
    from wearfit.model.priors import read_priors
    from wearfit.records.assemble import assemble
    from wearfit.records.readers.read import read
    from wearfit.workflow.history import history_of

    report(Progress("read"))
    before_it = exported_of(order.paths, store_url)
    order = replace(order, as_of=order.as_of or before_it.as_of, priors=order.priors or before_it.priors)
    order = order if order.seed is not None else replace(order, seed=before_it.seed)
    given_priors = None if order.priors is None else read_priors(order.priors)
    given = before_it.choices.later(choices_of_file(order.choices))
    decided = choices_in_force(store_url, given)
    today = day_in_force(store_url, order.today)
    uploads = [read(path, decided, today) for path in order.paths]
    with Store.open(store_url, must_exist=not order.paths) as store:
        for name, value in (before_it.settings or {}).items():
            store.set_setting(name, value)
        priors = given_priors or read_priors(PRIORS.chosen(None, store))
        seed = SEED.chosen(order.seed, store)
        law, law_chosen = law_in_force(store, None if order.law is None else check_law(order.law), before_it.law)
        before = read_again(store, decided, today, {upload.digest for upload in uploads})
        # The older ones first, so that a row that they share ends as the newer upload says.
        outcomes = store.add_uploads((*before.uploads, *uploads), given)
        named = [(upload.name, outcome) for upload, outcome in zip((*before.uploads, *uploads), outcomes, strict=True)]
        again, stored = tuple(named[: len(before.uploads)]), tuple(named[len(before.uploads) :])
        with store.snapshot() as held:  # what is stored from here on, while the model is calibrated, is newer than the calibration
            rows, choices, uploaded, last_line = held.rows(), held.choices(), held.uploads(), held.last_line()
        marks.append(time.perf_counter())
        report(Progress("assemble"))
        if not rows:
            raise Refusal("The store holds no records yet.", "Run `wearfit recalibrate PATH`, PATH being the folder of records.")
        empty = empty_tables(uploaded)
        history = history_of(assemble(rows, empty, choices), order.as_of)
        findings = len(history.findings) + _upload_findings(store, stored)
        marks.append(time.perf_counter())
        try:
            request = Request(
                history.exposures, history.live, history.fingerprint, priors.text, seed, law=law, law_chosen=law_chosen,
                within=accepted(store),
            )  # fmt: skip
            fitted = worker.calibrate(request, report)
        except KeyboardInterrupt:
            raise Refusal(
                "Stopped before the calibration was done; the records are stored and the calibrations are as they were.",
                "Run `wearfit recalibrate` again when it suits.",
            ) from None
        report(Progress("save"))
        number, current, why_not = _keep(store, fitted, order.make_current, last_line)
        if fitted.compared is not None:
            keep_laws(store, number, fitted.identity, fitted.compared)
        notes = (*(f"{damaged} Its rows stay as they were read." for damaged in before.damaged), *store.cautions())
    seconds = fitted.seconds | {"read": marks[1] - marks[0], "prepare": marks[2] - marks[1] + fitted.seconds["prepare"]}
    seconds["total"] = time.perf_counter() - marks[0]
    return Recalibration(number, fitted.identity, current, why_not, seconds, findings, stored, again, notes)


def _upload_findings(store: Store, stored: Sequence[tuple[str, UploadOutcome]]) -> int:
    """Findings in the files: those of the uploads just stored, and of the last one under each other name.

    A history that grows is uploaded again and again under one name, and what was noticed in it counts once.
    """
    names = {name for name, _ in stored}
    last = {upload.name: upload.id for upload in store.uploads() if upload.name not in names and not upload.set_aside}
    ids = {outcome.upload_id for _, outcome in stored} | set(last.values())
    return sum(len(store.findings(upload_id)) for upload_id in ids)


def _keep(store: Store, fitted: Fitted, override_older: bool, rests_on: int) -> tuple[int, bool, str]:
    """Keep a calibration; returns its number, whether it is current, and why it is not."""
    identity = fitted.identity
    summary = CalibrationSummary(
        as_of=dt.date.fromisoformat(identity.as_of),
        fingerprint=identity.fingerprint,
        passed=bool(identity.diagnostics["passed"]),
        reasons=tuple(identity.diagnostics["reasons"]),
        lives=identity.lives,
        wear_outs=identity.wear_outs,
        seed=identity.seed,
        model_version=identity.model_version,
        format_version=identity.format_version,
        law=identity.wear_law,
    )
    number = store.add_calibration(fitted.blob, summary, True, override_older, rests_on)
    current = store.current_id()
    if current == number:
        return number, True, ""
    if not summary.passed:
        return number, False, "It did not pass the gate: " + "; ".join(summary.reasons) + "."
    return number, False, f"Calibration {current} knows later records; `--make-current` would let this one answer all the same."
