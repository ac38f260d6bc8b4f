"""Check records: everything that would be noticed in them, with nothing stored."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wearfit.errors import Refusal
from wearfit.records.assemble import assemble
from wearfit.records.findings import Finding
from wearfit.records.readers.read import read
from wearfit.records.tables import TABLES
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
        In order of tables and rows.
    history : History or None
        None where the records as a whole cannot be used; `refusal` says why.
    """

    tables: Mapping[str, TableCount]
    findings: tuple[Finding, ...]
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


def check(path: Path) -> Check:
    """Read records and look at them as a recalibration would.

    Raises
    ------
    Refusal
        Where the path or its files cannot be read at all. Records that can be read but not used are an answer: what was
        noticed in them says why.
    """
    upload = read(path)
    findings, used = upload.findings, Counter[str]()
    history, refusal = None, None
    try:
        records = assemble(upload.rows, upload.empty_tables)
        findings += records.findings
        used = Counter({name: len(frame) for name, frame in records.tables.items()})
        history = history_of(records)
        findings = upload.findings + history.findings
    except Refusal as reason:
        refusal = reason
    order = list(TABLES)
    findings = tuple(sorted(findings, key=lambda f: (order.index(f.table) if f.table in order else len(order), f.row or 0)))
    aside = Counter(table for table, _ in {(f.table, f.row) for f in findings if f.severity == "set_aside" and f.row is not None})
    tables = {name: TableCount(upload.counts[name], used[name], aside[name]) for name in order if name in upload.counts}
    return Check(tables, findings, history, refusal)
