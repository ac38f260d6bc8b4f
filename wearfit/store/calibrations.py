"""Saved calibrations: bytes with their checksum, a summary to list them by, and which of them is current since when."""

import json
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256

from sqlalchemy import Connection, insert, select

from wearfit.errors import Refusal
from wearfit.store.history import FALL_BACK, Entry
from wearfit.store.schema import calibration_laws, calibrations, current_calibrations, history


@dataclass(frozen=True, slots=True)
class CalibrationSummary:
    """What a listing shows of a calibration, given by the one who made it.

    `as_of` is the last day whose records it knows, `fingerprint` that of those records, `passed` whether it passed
    the convergence gate and `reasons` why it did not. `law` is that of wear, None where it is not told.
    """

    as_of: date
    fingerprint: str
    passed: bool
    reasons: tuple[str, ...]
    lives: int
    wear_outs: int
    seed: int
    model_version: str
    format_version: int
    law: str | None = None


@dataclass(frozen=True, slots=True)
class CalibrationEntry:
    """One calibration as the store lists it; `made_at` is in UTC."""

    id: int
    made_at: datetime
    current: bool
    summary: CalibrationSummary


@dataclass(frozen=True, slots=True)
class StoredCalibration(CalibrationEntry):
    """A calibration with its bytes, which match their checksum."""

    blob: bytes


class Damaged(Refusal):
    """The bytes of a calibration no longer match their checksum."""


_SUMMARY = (
    *(
        calibrations.c[name]
        for name in (
            "id",
            "made_at",
            "as_of",
            "fingerprint",
            "passed",
            "reasons_json",
            "lives",
            "wear_outs",
            "seed",
            "model_version",
            "format_version",
        )
    ),
    calibration_laws.c.law,
)
_WITH_LAW = calibrations.outerjoin(calibration_laws)


def add_calibration(connection: Connection, blob: bytes, summary: CalibrationSummary, at: datetime) -> int:
    """Keep a calibration, whether or not it passed; returns its number."""
    values = {
        "made_at": at,
        "as_of": summary.as_of,
        "fingerprint": summary.fingerprint,
        "passed": bool(summary.passed),
        "reasons_json": json.dumps(list(summary.reasons), ensure_ascii=False),
        "lives": int(summary.lives),
        "wear_outs": int(summary.wear_outs),
        "seed": int(summary.seed),
        "model_version": summary.model_version,
        "format_version": int(summary.format_version),
        "sha256": sha256(blob).hexdigest(),
        "content": blob,
    }
    added: int = connection.execute(insert(calibrations).returning(calibrations.c.id), values).scalar_one()
    if summary.law is not None:
        connection.execute(insert(calibration_laws), {"calibration_id": added, "law": summary.law})
    return added


def may_become_current(connection: Connection, summary: CalibrationSummary, override_older: bool) -> bool:
    """Whether a new calibration may become current: it passed, and its day is not before the current one's.

    Parameters
    ----------
    override_older : bool
        Lets one of an earlier day become current too; nothing lets one that failed.
    """
    if not summary.passed:
        return False
    now = current_id(connection)
    if now is None or override_older:
        return True
    current_as_of: date = connection.execute(select(calibrations.c.as_of).where(calibrations.c.id == now)).scalar_one()
    return summary.as_of >= current_as_of


def make_current(connection: Connection, calibration_id: int, entry: Entry) -> None:
    """Write into the history that from now on this calibration answers; nothing if it does already.

    Raises
    ------
    Refusal
        If there is no such calibration, it did not pass the gate, or its bytes are damaged.
    """
    calibration = read_calibration(connection, calibration_id)
    if not calibration.summary.passed:
        why = "; ".join(calibration.summary.reasons) or "no reason was recorded"
        raise Refusal(
            f"Calibration {calibration_id} did not pass the gate and cannot become current: {why}.",
            "Choose one that passed from `wearfit calibrations`, or calibrate again with `wearfit recalibrate`.",
        )
    if not calibration.current:
        connection.execute(insert(current_calibrations), {"calibration_id": calibration_id, "since": entry.at, "line": entry.line})


def fall_back(connection: Connection, entry: Entry) -> int | None:
    """Make the last good calibration current where the current one is damaged; returns its number, None where none is good."""
    c = current_calibrations.c
    past = connection.scalars(select(c.calibration_id).order_by(c.id.desc())).all()
    for number in dict.fromkeys(past):
        try:
            read_calibration(connection, number)
        except Damaged:
            continue
        make_current(connection, number, entry)
        return number
    return None


def instead_of(connection: Connection) -> str:
    """What to say where the calibration that answers stands in for a damaged one; "" where it does not."""
    c = current_calibrations.c
    newest = select(c.calibration_id, history.c.did, history.c.about).join(history, history.c.id == c.line).order_by(c.id.desc()).limit(1)
    found = connection.execute(newest).first()
    if found is None or found.did != FALL_BACK:
        return ""
    return (
        f"Calibration {found.about} is damaged in the store; calibration {found.calibration_id}, the last good one before it, answers "
        "instead until `wearfit recalibrate` makes another."
    )


def current_id(connection: Connection, up_to: int | None = None) -> int | None:
    """The number of the calibration that answers now, or answered after a line of the history; None before the first one."""
    query = select(current_calibrations.c.calibration_id).order_by(current_calibrations.c.id.desc()).limit(1)
    found: int | None = connection.scalar(query if up_to is None else query.where(current_calibrations.c.line <= up_to))
    return found


def list_calibrations(connection: Connection) -> list[CalibrationEntry]:
    """Every calibration, oldest first, without its bytes."""
    now = current_id(connection)
    found = connection.execute(select(*_SUMMARY).select_from(_WITH_LAW).order_by(calibrations.c.id))
    return [CalibrationEntry(id, made_at, id == now, _summary(*rest)) for id, made_at, *rest in found]


def read_calibration(connection: Connection, calibration_id: int | None = None) -> StoredCalibration:
    """A calibration with its bytes, checked against their SHA-256.

    Parameters
    ----------
    calibration_id : int, optional
        Its number; the current one by default.

    Raises
    ------
    Refusal
        If there is no such calibration, none is current, or its bytes are damaged; names it.
    """
    now = current_id(connection)
    wanted = now if calibration_id is None else calibration_id
    if wanted is None:
        raise _none_current(connection)
    query = select(calibrations.c.sha256, calibrations.c.content, *_SUMMARY).select_from(_WITH_LAW).where(calibrations.c.id == wanted)
    found = connection.execute(query).one_or_none()
    if found is None:
        raise Refusal(f"There is no calibration {wanted} in the store.", "Choose one that `wearfit calibrations` lists.", 2)
    expected, blob, id, made_at, *rest = found
    summary = _summary(*rest)
    if sha256(blob).hexdigest() != expected:
        raise Damaged(
            f"Calibration {wanted}, made on {made_at.date()} with records up to {summary.as_of}, is damaged in the store.",
            "Calibrate again with `wearfit recalibrate`, or go back to another with `wearfit calibrations --use ID`.",
        )
    return StoredCalibration(id, made_at, id == now, summary, blob)


def _none_current(connection: Connection) -> Refusal:
    if connection.scalar(select(calibrations.c.id).limit(1)) is None:
        return Refusal("The store holds no calibration yet.", "Run `wearfit recalibrate PATH` first, PATH being the folder of records.")
    return Refusal(
        "None of the store's calibrations has been made current.",
        "See why in `wearfit calibrations`, then run `wearfit recalibrate` or `wearfit calibrations --use ID`.",
    )


def _summary(
    as_of: date,
    fingerprint: str,
    passed: bool,
    reasons: str,
    lives: int,
    wear_outs: int,
    seed: int,
    model_version: str,
    format_version: int,
    law: str | None,
) -> CalibrationSummary:
    return CalibrationSummary(
        as_of, fingerprint, passed, tuple(json.loads(reasons)), lives, wear_outs, seed, model_version, format_version, law
    )
