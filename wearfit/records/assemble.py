"""From rows to records in use: the tables put together and set against each other."""

from collections.abc import Callable, Collection, Iterable, Sequence
from typing import Final

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.frames import Frames, to_frames
from wearfit.records.identity import Row
from wearfit.records.records import Records
from wearfit.records.renumbering import renumber
from wearfit.records.respelling import respell
from wearfit.records.rows import rows_in_force
from wearfit.records.rules.cavities import note_cavities
from wearfit.records.rules.climate import judge_climate
from wearfit.records.rules.counter.judge import judge_counters
from wearfit.records.rules.counter.reconcile import reconcile_counters
from wearfit.records.rules.counter.thousands import judge_thousands
from wearfit.records.rules.counter.whole_thousands import read_counters_in_thousands
from wearfit.records.rules.counts.judge import NO_CHOICES, judge_counts
from wearfit.records.rules.cycle_times import judge_cycle_times
from wearfit.records.rules.days import set_aside_strays
from wearfit.records.rules.events import judge_events
from wearfit.records.rules.few_shots import note_few_shots
from wearfit.records.rules.fillers import read_filler_shares
from wearfit.records.rules.gaps import note_gaps
from wearfit.records.rules.given_twice import set_aside_given_twice
from wearfit.records.rules.marking import Judged
from wearfit.records.rules.months import read_months
from wearfit.records.rules.near_names import note_near_names
from wearfit.records.rules.openings import note_openings
from wearfit.records.rules.overlaps import note_overlaps
from wearfit.records.rules.readings import judge_readings
from wearfit.records.rules.references import judge_references, note_undescribed
from wearfit.records.rules.renewals import judge_renewals, note_unstated
from wearfit.records.rules.renumbered import note_renumbered
from wearfit.records.rules.running_totals import read_running_totals
from wearfit.records.rules.runs import judge_runs
from wearfit.records.rules.stays import note_stays
from wearfit.records.rules.survivors import note_survivors
from wearfit.records.rules.tools import judge_tools, note_tools
from wearfit.records.rules.totals import set_aside_totals
from wearfit.records.rules.words import blank_unlisted_words
from wearfit.records.tables import TABLES

# In this order: each rule sees only what those before it have left in use. Counts are judged before the counter's own runs join
# the table, whose shots are shots for certain; both before the runs, whose shots they settle.
RULES: Final[tuple[Callable[[Frames], Judged], ...]] = (
    blank_unlisted_words, judge_tools, note_tools, judge_references, note_undescribed, set_aside_strays, judge_cycle_times, read_months,
    judge_events, judge_readings, judge_climate, read_filler_shares, set_aside_given_twice, set_aside_totals, read_running_totals,
    note_few_shots, judge_counts, read_counters_in_thousands, judge_counters, judge_runs, judge_renewals, note_unstated, note_overlaps,
    note_cavities, reconcile_counters, judge_thousands, note_gaps, note_openings, note_renumbered, note_near_names, note_survivors,
    note_stays,
)  # fmt: skip
# Those that only tell: the tables are the same after them. They take a third of the time of all.
NOTES: Final = frozenset({
    note_tools, note_undescribed, note_few_shots, note_unstated, note_overlaps, note_cavities, note_gaps, note_openings, note_renumbered,
    note_near_names, note_survivors, note_stays,
})  # fmt: skip


def assemble(rows: Iterable[Row], empty_tables: Collection[str] = (), choices: Choices = NO_CHOICES, with_notes: bool = True) -> Records:
    """Put rows together into the records in use.

    Parameters
    ----------
    rows : iterable of Row
        Of one upload, or the versions in force of all.
    empty_tables : collection of str
        Tables that were handed over without a row. A fleet that has had no event yet says so by an empty events table; one
        whose events were left out would look as if its tools never wore.
    choices : Choices
        What the user decided; of it, which names are one and what the counts of runs count.
    with_notes : bool
        Whether NOTES are asked too, for a reader who is told what they find.

    Returns
    -------
    Records
        The same whatever the order of the rows, but for keys given twice in one upload with other values. Findings come in order
        of the tables, the files and the rows.

    Raises
    ------
    Refusal
        Where there are no tools, neither runs nor counter readings, or no events table.
    """
    given = rows_in_force(rows)
    _refuse_missing({some.table for some in given.tables if len(some)}, empty_tables)
    respelt, findings = respell(given, choices.names)
    renumbered, noticed = renumber(respelt)
    findings += noticed
    frames: Frames = to_frames(renumbered)
    for rule in RULES if with_notes else [rule for rule in RULES if rule not in NOTES]:
        frames, noticed = judge_counts(frames, choices) if rule is judge_counts else rule(frames)
        findings += noticed
    return Records(frames, tuple(_in_order(findings)))


def _refuse_missing(filled: Collection[str], empty: Collection[str]) -> None:
    if "tools" not in filled:
        raise Refusal("The tools table has no row that can be read.", "Hand over the tools with tool_id and commissioned_on.")
    if not {"runs", "counter"} & {*filled, *empty}:
        raise Refusal(
            "There are neither runs nor counter readings that can be read.",
            "Hand over the runs or the counter; where nothing was run yet, a runs table with its header alone.",
        )
    if "events" not in {*filled, *empty}:
        raise Refusal(
            "The events table is missing or has no row that can be read.",
            "Hand over the events; where there were none, a table with its header alone.",
        )


def _in_order(findings: Sequence[Finding]) -> list[Finding]:
    tables = list(TABLES)
    return sorted(findings, key=lambda finding: (tables.index(finding.table), finding.source, finding.row or 0))
