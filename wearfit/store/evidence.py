"""Looks at a calibration that take another calibration: kept as documents beside it, so that they can be shown at once."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, insert, select

from wearfit.store.schema import evidence


@dataclass(frozen=True, slots=True)
class EvidenceEntry:
    """One to keep.

    Parameters
    ----------
    kind : str
        What was looked at, such as "planned".
    calibration : int
        The one that was looked at.
    content : str
        The whole answer, as JSON.
    """

    kind: str
    calibration: int
    content: str


def add_evidence(connection: Connection, entry: EvidenceEntry, at: datetime) -> None:
    """Keep a look; earlier ones stay."""
    values = {"made_at": at, "kind": entry.kind, "calibration_id": entry.calibration, "content": entry.content}
    connection.execute(insert(evidence), values)


def last_evidence(connection: Connection, kind: str, calibration: int) -> EvidenceEntry | None:
    """The newest look of a kind at a calibration, None before the first one."""
    chosen = select(evidence.c.content).where(evidence.c.kind == kind, evidence.c.calibration_id == calibration)
    found = connection.execute(chosen.order_by(evidence.c.id.desc()).limit(1)).first()
    return None if found is None else EvidenceEntry(kind, calibration, found.content)
