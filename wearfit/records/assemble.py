"""From rows to records in use: the tables put together and set against each other."""

from collections.abc import Callable, Collection, Iterable, Sequence
from typing import Final

from wearfit.errors import Refusal
from wearfit.records.findings import Finding
from wearfit.records.frames import Frames, to_frames
from wearfit.records.identity import Row, rows_in_force
from wearfit.records.records import Records
from wearfit.records.renumbering import renumber
from wearfit.records.rules.events import judge_events
from wearfit.records.rules.marking import Judged
from wearfit.records.rules.openings import judge_openings
from wearfit.records.rules.references import judge_references
from wearfit.records.rules.runs import judge_runs
from wearfit.records.rules.tools import judge_tools
from wearfit.records.rules.unused import note_unused
from wearfit.records.rules.words import blank_unlisted_words
from wearfit.records.tables import TABLES

# In this order: each rule sees only what those before it have left in use.
RULES: Final[tuple[Callable[[Frames], Judged], ...]] = (
    blank_unlisted_words, judge_tools, judge_references, judge_events, judge_runs, judge_openings, note_unused,
)  # fmt: skip


def assemble(rows: Iterable[Row], empty_tables: Collection[str] = ()) -> Records:
    """Put rows together into the records in use.

    Parameters
    ----------
    rows : iterable of Row
        Of one upload, or the versions in force of all.
    empty_tables : collection of str
        Tables that were handed over without a row. A fleet that has had no event yet says so by an empty events table; one
        whose events were left out would look as if its tools never wore.

    Returns
    -------
    Records
        The same whatever the order of the rows, but for keys given twice in one upload with other values.

    Raises
    ------
    Refusal
        Where tools, runs or events are missing; status 2 where a counter stands in for the runs, which is not read yet.
    """
    given = rows_in_force(list(rows))
    _refuse_missing({row.table for row in given}, empty_tables)
    renumbered, findings = renumber(given)
    frames: Frames = to_frames(renumbered)
    for rule in RULES:
        frames, noticed = rule(frames)
        findings += noticed
    return Records(frames, tuple(_in_order(findings)))


def _refuse_missing(filled: Collection[str], empty: Collection[str]) -> None:
    if "tools" not in filled:
        raise Refusal("The tools table has no row that can be read.", "Hand over the tools with tool_id and commissioned_on.")
    if "runs" not in filled and "counter" in filled:
        raise Refusal("Counter readings without a runs table cannot be used yet.", "Hand over the runs.", status=2)
    for name in ("runs", "events"):
        if name not in filled and name not in empty:
            raise Refusal(
                f"The {name} table is missing or has no row that can be read.",
                f"Hand over the {name}; where there were none, a table with its header alone.",
            )


def _in_order(findings: Sequence[Finding]) -> list[Finding]:
    tables = list(TABLES)
    return sorted(findings, key=lambda finding: (tables.index(finding.table), finding.row or 0))
