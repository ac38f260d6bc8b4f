"""`wearfit check`: read records and list everything that is noticed."""

import datetime as dt
import textwrap
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from rich.console import Console

from wearfit.cli.options import ChoicesFile, Common
from wearfit.cli.output import Answer
from wearfit.cli.tables import WIDE, print_line, print_table
from wearfit.workflow.wording import count, cut

if TYPE_CHECKING:
    from wearfit.records.findings import Finding
    from wearfit.workflow.check import Check

MOST_LINES: Final = 200  # of one table and kind; a reader repairs the cause, not the two hundredth line of it
LONGEST_VALUE: Final = 40
LONGEST_SENTENCE: Final = 400
NARROW_PLACE: Final = 22
SHORTEST_FILE: Final = 12
SHEET: Final = ", sheet "

KINDS: Final = (
    ("set_aside", "Set aside until repaired"),
    ("repaired", "Used after a repair"),
    ("note", "Used as it is"),
)


def check(path: Path, /, *, choices: ChoicesFile = None, common: Common = Common()) -> Answer:  # noqa: B008
    """Read records and list everything that is noticed; nothing is stored.

    Parameters
    ----------
    path : Path
        A folder of records, a ZIP archive of them, a workbook, or one CSV file.
    choices
        Your decisions about files that can be read in more than one way; they go before those that the store keeps.
    common
        What every command takes.
    """
    from wearfit.workflow.check import check as check_records
    from wearfit.workflow.choices import choices_in_force, choices_of_file, day_in_force

    found = check_records(
        path, choices_in_force(common.store_url, choices_of_file(choices)), day_in_force(common.store_url, dt.date.today())
    )
    return Answer(found.as_json(), lambda console: _show(console, found), 0 if found.refusal is None else found.refusal.status)


def _show(console: Console, found: "Check") -> None:
    rows = [(name, f"{t.rows:,}", f"{t.used:,}", f"{t.set_aside:,}") for name, t in found.tables.items()]
    print_table(console, "Records", ("Table", "Rows", "Used", "Set aside"), rows, right=("Rows", "Used", "Set aside"))
    _show_reading(console, found.reading)
    shown = set(found.reading)
    for severity, title in KINDS:
        by_table: dict[str, list[Finding]] = defaultdict(list)
        for finding in found.findings:
            if finding.severity == severity and finding not in shown:
                by_table[finding.table].append(finding)
        for table, findings in by_table.items():
            _show_findings(console, f"{title}: {table}", findings, len(found.sources.get(table, ())) > 1)
    kinds = ", ".join(f"{sum(f.severity == severity for f in found.findings):,} {title.lower()}" for severity, title in KINDS)
    print_line(console, f"{count(len(found.findings), 'finding', 'findings')}: {kinds}.")
    if found.refusal is not None:
        print_line(console, str(found.refusal), "bold")


def _show_reading(console: Console, findings: "Sequence[Finding]") -> None:
    """What was decided for whole files, tables and columns: first, for all that follows rests on it."""
    if not findings:
        return
    wide = console.width >= WIDE
    rows = []
    for f in findings[:MOST_LINES]:
        place = cut(f"{f.table}: {f.column}" if f.column else f.table, LONGEST_VALUE)
        where = (_source(console, f), place) if wide else ("\n".join(filter(None, (_source(console, f), _folded(place)))),)
        rows.append((*where, *_sentences(console, f)))
    columns = (*(("Sheet or file", "Table, column") if wide else ("Where",)), *_heads(console))
    print_table(console, f"How the files were read ({len(findings):,})", columns, rows)
    _say_rest(console, len(findings))


def _show_findings(console: Console, title: str, findings: "Sequence[Finding]", sources: bool) -> None:
    wide = console.width >= WIDE
    rows = []
    for f in findings[:MOST_LINES]:
        row = "" if f.row is None else f"{f.row:,}"
        place = (_source(console, f), row) if sources else (row,)
        value = (cut(f.value or "", LONGEST_VALUE),) if wide else ()
        rows.append((*place, f.column or "", *value, *_sentences(console, f)))
    columns = (*(("Sheet or file",) if sources else ()), "Row", "Column", *(("Value",) if wide else ()), *_heads(console))
    print_table(console, f"{title} ({len(findings):,})", columns, rows, right=("Row",))
    _say_rest(console, len(findings))


def _source(console: Console, finding: "Finding") -> str:
    """The sheet or file, which on a narrow screen leaves room for the sentences beside it."""
    file, of, sheet = finding.source.partition(SHEET)
    # A sheet's own name tells it from the others of its workbook: the file's is cut first.
    file = cut(file, max(SHORTEST_FILE, LONGEST_VALUE - len(of) - len(sheet)))
    source = f"{file}{of}{cut(sheet, LONGEST_VALUE - len(of) - len(file))}"
    return source if console.width >= WIDE else _folded(source)


def _folded(text: str) -> str:
    return "\n".join(textwrap.wrap(text, NARROW_PLACE))


def _heads(console: Console) -> tuple[str, ...]:
    return ("What was noticed", "What to do") if console.width >= WIDE else ("What was noticed, and what to do",)


def _sentences(console: Console, finding: "Finding") -> tuple[str, ...]:
    """Problem and repair: side by side on a wide screen, one below the other on a narrow one."""
    problem, repair = cut(finding.problem, LONGEST_SENTENCE), cut(finding.repair, LONGEST_SENTENCE)
    if console.width >= WIDE:
        return problem, repair
    value = finding.value or ""
    # The column of values is left out there, and not every sentence repeats its value.
    return (f"{problem}\n{repair}" if value in finding.problem else f"{cut(value, LONGEST_VALUE)}: {problem}\n{repair}",)


def _say_rest(console: Console, number: int) -> None:
    if number > MOST_LINES:
        print_line(console, f"{number - MOST_LINES:,} more like these are not shown; `--json` lists them all.\n")
