"""The history of a store: a line for each deed that changed it, with who and when; and the lines by which its past states are named."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, func, insert, select

from wearfit.errors import Refusal
from wearfit.store.schema import history

RECORDS: Final = "records"
CHOICES: Final = "choices"
CALIBRATION: Final = "calibration"
USE: Final = "use"
SETTING: Final = "setting"
JUDGEMENT: Final = "judgement"
BACKTEST: Final = "backtest"
EVIDENCE: Final = "evidence"
RESTORE: Final = "restore"
FALL_BACK: Final = "fall back"
DEEDS: Final = (RECORDS, CHOICES, CALIBRATION, USE, SETTING, JUDGEMENT, BACKTEST, EVIDENCE, RESTORE, FALL_BACK)


@dataclass(frozen=True, slots=True)
class Line:
    """One deed.

    Parameters
    ----------
    line : int
        Lines count up in the order in which they were done, whatever the clock said.
    at : datetime
        In UTC.
    by : str
        Who did it; "" for a deed from before the history was kept.
    did : str
        One of DEEDS.
    about : str
        Names of the uploads, number of the calibration, and the like.
    back_to : int or None
        The line whose state a restoration brought back.
    rests_on : int or None
        The line after whose state a calibration was made, where that was told.
    """

    line: int
    at: datetime
    by: str
    did: str
    about: str
    back_to: int | None
    rests_on: int | None = None


class Entry:
    """A line that is written when the first thing of its deed is: what changes nothing leaves none.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        Inside a writing transaction.
    """

    def __init__(
        self,
        connection: Connection,
        at: datetime,
        by: str,
        did: str,
        about: str = "",
        back_to: int | None = None,
        rests_on: int | None = None,
    ) -> None:
        self._connection = connection
        self._values: dict[str, Any] = {"at": at, "by": by, "did": did, "about": about, "back_to": back_to, "rests_on": rests_on}
        self._line: int | None = None

    @property
    def at(self) -> datetime:
        at: datetime = self._values["at"]
        return at

    def write(self, about: str | None = None) -> None:
        """Write it now; with what it is about, where that is known only by now."""
        if about is not None:
            self._values["about"] = about
        _ = self.line

    @property
    def written(self) -> bool:
        """Whether anything was changed."""
        return self._line is not None

    @property
    def line(self) -> int:
        """Its number; writes it where it is not written yet."""
        if self._line is None:
            self._line = self._connection.execute(insert(history).returning(history.c.id), self._values).scalar_one()
        return self._line


def lines(connection: Connection) -> list[Line]:
    """Every line, oldest first."""
    h = history.c
    return [Line(*found) for found in connection.execute(select(h.id, h.at, h.by, h.did, h.about, h.back_to, h.rests_on).order_by(h.id))]


def last_line(connection: Connection) -> int:
    """The last line, 0 where there is none."""
    last: int | None = connection.scalar(select(func.max(history.c.id)))
    return last or 0


def line_of_calibration(connection: Connection, calibration: int) -> int | None:
    """The line after whose state a calibration was made; where that was not told the one with which it was kept, and None at last."""
    h = history.c
    kept = select(h.id, h.rests_on).where(h.did == CALIBRATION, h.about == str(calibration)).order_by(h.id.desc()).limit(1)
    found = connection.execute(kept).first()
    return None if found is None else int(found.rests_on or found.id)


def records_line(connection: Connection) -> int:
    """The last line that changed records, or choices by which they are read; 0 where the history tells of none."""
    changed: int | None = connection.scalar(select(func.max(history.c.id)).where(history.c.did.in_((RECORDS, CHOICES, RESTORE))))
    return changed or 0


def records_since(connection: Connection, calibration: int) -> bool:
    """Whether records, or choices by which they are read, changed after those that a calibration was made of."""
    known = line_of_calibration(connection, calibration)
    return known is not None and records_line(connection) > known


def check_line(connection: Connection, line: int) -> int:
    """Refuse a line that is not in the history; returns the last one that is. Between lines numbers may be left out."""
    last = last_line(connection)
    if connection.scalar(select(history.c.id).where(history.c.id == line)) is None:
        repair = f"The last one is {last}; `wearfit history` lists them." if last else "Nothing has been stored yet."
        raise Refusal(f"The history has no line {line}.", repair, 2)
    return last
