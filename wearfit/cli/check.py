"""`wearfit check`: read records and list everything that is noticed."""

from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from rich.console import Console

from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.cli.tables import print_line, print_table
from wearfit.cli.wording import count

if TYPE_CHECKING:
    from wearfit.records.findings import Finding
    from wearfit.workflow.check import Check

MOST_LINES: Final = 200  # of one table and kind; a reader repairs the cause, not the two hundredth line of it

KINDS: Final = (
    ("set_aside", "Set aside until repaired"),
    ("repaired", "Used after a repair"),
    ("note", "Used as it is"),
)


def check(path: Path, /, *, common: Common = Common()) -> Answer:  # noqa: B008
    """Read records and list everything that is noticed; nothing is stored.

    Parameters
    ----------
    path : Path
        The folder of records, or one file of them.
    common
        What every command takes.
    """
    from wearfit.workflow.check import check as check_records

    found = check_records(path)
    return Answer(found.as_json(), lambda console: _show(console, found), 0 if found.refusal is None else found.refusal.status)


def _show(console: Console, found: "Check") -> None:
    rows = [(name, f"{t.rows:,}", f"{t.used:,}", f"{t.set_aside:,}") for name, t in found.tables.items()]
    print_table(console, "Records", ("Table", "Rows", "Used", "Set aside"), rows, right=("Rows", "Used", "Set aside"))
    for severity, title in KINDS:
        by_table: dict[str, list[Finding]] = defaultdict(list)
        for finding in found.findings:
            if finding.severity == severity:
                by_table[finding.table].append(finding)
        for table, findings in by_table.items():
            _show_findings(console, f"{title}: {table}", findings)
    kinds = ", ".join(f"{sum(f.severity == severity for f in found.findings):,} {title.lower()}" for severity, title in KINDS)
    print_line(console, f"{count(len(found.findings), 'finding', 'findings')}: {kinds}.")
    if found.refusal is not None:
        print_line(console, str(found.refusal), "bold")


def _show_findings(console: Console, title: str, findings: "Sequence[Finding]") -> None:
    rows = [("" if f.row is None else f"{f.row:,}", f.column or "", f.value or "", f.problem, f.repair) for f in findings[:MOST_LINES]]
    print_table(console, f"{title} ({len(findings):,})", ("Row", "Column", "Value", "What was noticed", "What to do"), rows, right=("Row",))
    if len(findings) > MOST_LINES:
        print_line(console, f"{len(findings) - MOST_LINES:,} more like these are not shown; `--json` lists them all.\n")
