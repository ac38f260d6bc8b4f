"""Findings of one kind told once: a reader repairs the cause, not the two hundredth line of it."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from wearfit.records.findings import Finding, Severity
from wearfit.records.tables import TABLES
from wearfit.workflow.downloads import Value

KINDS: Final[tuple[tuple[Severity, str, str], ...]] = (
    ("set_aside", "Set aside", "not used until repaired"),
    ("repaired", "Repaired", "used after a repair"),
    ("note", "Noted", "used as it is"),
)
"""Severities in the order of their weight, what each is called, and what it means."""

COLUMNS: Final = ("What became of it", "Table", "File or sheet", "Row", "Column", "Value", "What was noticed", "What to do")

# What differs from one finding of a kind to the next: names in quotes and numbers, days among them.
_PARTICULAR: Final = re.compile(r"'[^']*'|\"[^\"]*\"|\d[\d,.:/-]*")


@dataclass(frozen=True)
class FindingGroup:
    """Findings that differ only in the row, name or number that they are about; in the order of rows."""

    findings: tuple[Finding, ...]

    @property
    def first(self) -> Finding:
        return self.findings[0]

    @property
    def rows(self) -> tuple[int, ...]:
        """The rows that they are about, in the order of the file."""
        return tuple(sorted({finding.row for finding in self.findings if finding.row is not None}))


def grouped(findings: Iterable[Finding]) -> tuple[FindingGroup, ...]:
    """Findings by kind: what was set aside first, then in order of tables, the most frequent kind first."""
    order = {name: at for at, name in enumerate(TABLES)}
    first, last = -1, len(order)  # a sheet that was not read may hold more than all others
    weight = {severity: at for at, (severity, _, _) in enumerate(KINDS)}
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.severity, finding.table, finding.source, finding.column or "", _kind(finding)), []).append(finding)
    made = [FindingGroup(tuple(sorted(group, key=lambda finding: finding.row or 0))) for group in groups.values()]
    return tuple(
        sorted(
            made,
            key=lambda g: (weight[g.first.severity], first if is_unread(g.first) else order.get(g.first.table, last), -len(g.findings)),
        )
    )


def is_unread(finding: Finding) -> bool:
    """Whether it is about a sheet of which nothing was read."""
    return finding.table not in TABLES and "was not read" in finding.problem


def finding_table(findings: Iterable[Finding]) -> list[tuple[Value, ...]]:
    """Rows of COLUMNS, one a finding."""
    called = {severity: name for severity, name, _ in KINDS}
    return [(called[f.severity], f.table, f.source, f.row, f.column, f.value, f.problem, f.repair) for f in findings]


def rows_said(rows: Sequence[int], most: int = 12) -> str:
    """Rows of a file for a sentence: "row 3", "rows 3 to 5 and 9"."""
    if not rows:
        return ""
    spans: list[list[int]] = []
    for row in rows:
        if spans and row == spans[-1][1] + 1:
            spans[-1][1] = row
        else:
            spans.append([row, row])
    said = [f"{first:,}" if first == last else f"{first:,} to {last:,}" for first, last in spans[:most]]
    if len(spans) > most:
        left = sum(last - first + 1 for first, last in spans[most:])
        said.append(f"{left:,} more")
    listed = said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"
    return f"row{'' if len(rows) == 1 else 's'} {listed}"


def _kind(finding: Finding) -> str:
    return _PARTICULAR.sub("#", finding.problem)
