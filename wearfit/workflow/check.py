"""Check records: everything that would be noticed in them, with nothing stored."""

import datetime as dt
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wearfit.errors import Refusal
from wearfit.records.assemble import assemble
from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.identity import Row
from wearfit.records.readers.read import read
from wearfit.records.rows import Rows
from wearfit.records.tables import TABLES
from wearfit.records.upload import Upload
from wearfit.workflow.history import History, history_of


@dataclass(frozen=True)
class TableCount:
    """Rows of one table: in the file, in use, set aside. What is neither says what another row says, or is put right by one."""

    rows: int
    used: int
    set_aside: int


@dataclass(frozen=True)
class Check:
    """What was noticed in records.

    Parameters
    ----------
    tables : mapping of str to TableCount
        The tables handed over.
    findings : tuple of Finding
        In order of tables, sources and rows.
    reading : tuple of Finding
        Those among them that say how the files were read: what was decided for a whole table, column or file.
    sources : mapping of str to tuple of str
        The sheets or files that each table came from.
    history : History or None
        None where the records as a whole cannot be used; `refusal` says why.
    """

    tables: Mapping[str, TableCount]
    findings: tuple[Finding, ...]
    reading: tuple[Finding, ...]
    sources: Mapping[str, tuple[str, ...]]
    history: History | None
    refusal: Refusal | None

    def as_json(self) -> dict[str, Any]:
        answer: dict[str, Any] = {
            "as_of": str(self.history.day) if self.history else None,
            "calibration": None,
            "fingerprint": self.history.fingerprint if self.history else None,
            "tables": {name: {"rows": t.rows, "used": t.used, "set_aside": t.set_aside} for name, t in self.tables.items()},
            "findings": [finding.as_dict() for finding in self.findings],
        }
        return answer if self.refusal is None else {"error": self.refusal.problem, "repair": self.refusal.repair, **answer}


def check(path: Path, choices: Choices = Choices(), today: dt.date | None = None) -> Check:  # noqa: B008
    """Read records and look at them as a recalibration would.

    Parameters
    ----------
    path : Path
    choices : Choices
        Those that hold, of the store and of the user's file.
    today : date, optional
        Rows dated later are set aside; not looked at where None.

    Raises
    ------
    Refusal
        Where the path or its files cannot be read at all. Records that can be read but not used are an answer: what was
        noticed in them says why.
    """
    upload = read(path, choices, today)
    whole = put_together(upload.rows, upload.empty_tables, choices)
    findings = in_order((*upload.findings, *whole.findings))
    tables = table_counts(upload.counts, whole, findings)
    reading = tuple(sorted((f for f in upload.findings if f.row is None), key=_place))
    return Check(tables, findings, reading, _sources(upload), whole.history, whole.refusal)


@dataclass(frozen=True)
class Whole:
    """Rows of all tables set against each other, as a recalibration would.

    Parameters
    ----------
    used : mapping of str to int
        Rows in use, by table.
    findings : tuple of Finding
        From putting them together and from what the tools went through.
    history, refusal
        As of `Check`.
    """

    used: Mapping[str, int]
    findings: tuple[Finding, ...]
    history: History | None
    refusal: Refusal | None


def put_together(rows: Sequence[Row], empty: Collection[str], choices: Choices) -> Whole:
    """Put rows together.

    Parameters
    ----------
    rows : sequence of Row
    empty : collection of str
        Tables handed over with a header and not one row.
    choices : Choices
        Those that hold.
    """
    used: Mapping[str, int] = {}
    findings: tuple[Finding, ...] = ()
    try:
        records = assemble(rows, empty, choices)
        findings = records.findings
        used = {name: len(frame) for name, frame in records.tables.items()}
        history = history_of(records)
        return Whole(used, history.findings, history, None)
    except Refusal as reason:
        return Whole(used, findings, None, reason)


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings in order of tables, sources and rows, those on whole tables first."""
    return tuple(sorted(findings, key=_place))


def table_counts(rows: Mapping[str, int], whole: Whole, findings: Iterable[Finding]) -> dict[str, TableCount]:
    """What became of the rows of each table.

    Parameters
    ----------
    rows : mapping of str to int
        Rows that there are, by table.
    findings : iterable of Finding
        Those that may set one aside.
    """
    aside = Counter(
        table for table, _, _ in {(f.table, f.source, f.row) for f in findings if f.severity == "set_aside" and f.row is not None}
    )
    return {name: TableCount(rows[name], whole.used.get(name, 0), aside[name]) for name in TABLES if name in rows}


def _place(finding: Finding) -> tuple[int, bool, str, int]:
    order = list(TABLES)
    table = order.index(finding.table) if finding.table in order else len(order)
    return table, finding.row is not None, finding.source, finding.row or 0


def _sources(upload: Upload) -> dict[str, tuple[str, ...]]:
    sources: dict[str, set[str]] = {}
    for table, source in (
        *Rows.of(upload.rows).sources(),
        *((finding.table, finding.source) for finding in upload.findings if finding.row is not None),
    ):
        sources.setdefault(table, set()).add(source)
    return {table: tuple(sorted(each)) for table, each in sources.items()}
