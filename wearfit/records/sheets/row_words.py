"""Columns that the tables do not know, but whose words say of each row how it is to be taken: units, status, kind, currency."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from wearfit.records.cells import Unreadable, quoted
from wearfit.records.findings import Finding, listed
from wearfit.records.identity import Row
from wearfit.records.names import bare_name
from wearfit.records.rows import Rows
from wearfit.records.sheets.columns import as_text
from wearfit.records.sheets.count_units import is_header_of_units, units_beside
from wearfit.records.sheets.headers import Match
from wearfit.records.sheets.region import Region, RowWords
from wearfit.records.sheets.told import choice_of
from wearfit.records.sheets.units import unit_of

# Headers and words of the trade; common practice, from memory.
_STATUS: Final = frozenset(("status", "state", "runstatus", "orderstatus", "jobstatus", "rowstatus", "recordstatus"))
_KIND: Final = frozenset(("type", "kind", "runtype", "typeofrun", "runkind", "ordertype", "jobtype", "purpose"))
_CURRENCY: Final = frozenset(("currency", "curr", "ccy", "cur", "currencycode"))
_HISTORY: Final = ("runs", "counter", "events", "readings")
# What has not been done, or is not to count. "Open", "pending" and "released" are not among them, for such an order may well have
# been made in part.
_NOT_DONE: Final = (
    "planned", "plan", "scheduled", "forecast", "forecasted", "budget", "budgeted", "proposed", "tentative", "draft", "upcoming", "future",
    "to do", "not started", "not run", "not done", "not made", "not produced", "not carried out", "did not run", "will not run",
    "cancelled", "canceled", "cancel", "called off", "postponed", "void", "voided", "deleted",
)  # fmt: skip
_DONE: Final = frozenset(("done", "completed", "complete", "finished", "made", "closed", "executed"))
_OF_KINDS: Final = frozenset(("unplanned", "unscheduled"))  # beside these "planned" is a kind of work that was done
_TRIALS: Final = frozenset(("trial", "trials", "sampling", "sample", "samples", "test", "tests", "tryout", "validation"))
_CORRECTIONS: Final = frozenset(("correction", "corrections", "corrected", "adjustment", "adjustments", "reversal", "storno", "booking"))
_MOST_WORDS: Final = 50  # a column of more different words is free text; judgement


def read_row_words(region: Region, match: Match) -> tuple[Region, tuple[Finding, ...]]:
    """Look for columns of units, status and kind among those that the table does not know.

    Parameters
    ----------
    region : Region
    match : Match
        Its header.

    Returns
    -------
    Region
        With its `row_words`, and with counts that stand in thousands turned into single ones.
    tuple of Finding
        What was decided for a whole column.
    """
    findings: list[Finding] = []
    texts = {heading.position: heading.text for heading in match.headings}
    for at in sorted(region.unknown.keys() - match.left_unused):
        header = texts.get(at, "")
        if is_header_of_units(header):
            found = units_beside(region, match, at, _words(region, at))
        elif region.table.name in _HISTORY and bare_name(header) in _STATUS:
            found = _status(region, match, at, _words(region, at))
        elif region.table.name == "runs" and bare_name(header) in _KIND:
            found = _kinds(region, match, at, _words(region, at))
        else:
            continue
        if found is not None:
            region, told = found
            findings += told
    return region, tuple(findings)


def told_of_currencies(regions: Sequence[Region]) -> tuple[Finding, ...]:
    """One note where columns of currencies beside costs name more than one, in one sheet or over all."""
    places: dict[str, list[tuple[Region, int]]] = {}
    for region in regions:
        if not any(column.unit == "money" for column in region.known.values()):
            continue
        for at, header in region.unknown.items():
            if bare_name(header) in _CURRENCY:
                rows: Counter[str] = Counter()
                for word, count in _words(region, at).items():
                    rows[unit_of(word.casefold()).upper()] += count
                for currency in filter(None, rows):
                    places.setdefault(currency, []).append((region, rows[currency]))
    if len(places) < 2:
        return ()
    each = [
        f"{currency} ({', '.join(f'{_rows(rows)} of {region.grid.source}' for region, rows in found[:3])})"
        for currency, found in places.items()
    ]
    first = next(iter(places.values()))[0][0]
    more = f" and {len(each) - 5} others" if len(each) > 5 else ""
    problem = f"Costs stand in several currencies, {listed(each[:5])}{more}; they are used as if they were one."
    repair = "Turn them all into one currency."
    return (Finding(first.table.name, None, None, ", ".join(places), problem, repair, "note", first.grid.source),)


def apply_row_words(region: Region, rows: Rows) -> tuple[Rows, list[Finding]]:
    """Set aside the rows that cannot be used by what stands beside their number, and put counts into the columns they belong to.

    Parameters
    ----------
    region : Region
    rows : Rows
        Those of the region that can be read.
    """
    findings: list[Finding] = []
    for said in region.row_words:
        decided = said.moved.keys() | said.refused.keys()
        if all(decided.isdisjoint(some.column(said.header).counts()) for some in rows.tables):
            continue
        kept = []
        for row in rows:
            word = row.values.get(said.header, "")
            if fault := said.refused.get(word):
                value = word or None
                findings.append(
                    Finding(row.table, row.row, said.header, value, fault.problem, fault.repair, "set_aside", row.source)
                )  # fmt: skip
                continue
            kept.append(_moved(row, said, word))
        rows = Rows.of(kept)
    return rows, findings


def _moved(row: Row, said: RowWords, word: str) -> Row:
    to = said.moved.get(word)
    if to is None or said.count not in row.values:
        return row
    return replace(row, values={to if name == said.count else name: text for name, text in row.values.items()})


def _status(region: Region, match: Match, at: int, words: Mapping[str, int]) -> tuple[Region, tuple[Finding, ...]] | None:
    spoken = {word: " ".join("".join(c if c.isalnum() else " " for c in word.casefold()).split()) for word in words}
    if len(words) > _MOST_WORDS or any(not _OF_KINDS.isdisjoint(said.split()) for said in spoken.values()):
        return None
    not_done = [word for word, said in spoken.items() if said and _is_not_done(said)]
    if not not_done:
        return None
    label = match.label(at)
    repair = f"If it was done all the same, correct the word; to use every row, {choice_of(region.table.name, label, '')}"
    refused = {
        word: Unreadable(f"'{label}' says '{quoted(word)}', so that the row is no record of what was done.", repair) for word in not_done
    }
    return replace(region, row_words=(*region.row_words, RowWords(region.unknown[at], refused=refused))), ()


def _is_not_done(said: str) -> bool:
    for words in _NOT_DONE:
        if said == words or said.startswith(f"{words} "):
            return _DONE.isdisjoint(said.removeprefix(words).split())
    return False


def _kinds(region: Region, match: Match, at: int, words: Mapping[str, int]) -> tuple[Region, tuple[Finding, ...]] | None:
    of_kind = {word: frozenset(word.casefold().replace("-", "").split()) for word in words}
    trials = [word for word, parts in of_kind.items() if not _TRIALS.isdisjoint(parts)]
    corrections = [word for word, parts in of_kind.items() if not _CORRECTIONS.isdisjoint(parts)]
    if len(words) > _MOST_WORDS or not trials + corrections:
        return None
    each = [f"'{quoted(word)}' in {_rows(words[word])}" for word in trials + corrections]
    problem = f"'{match.label(at)}' says {listed(each[:5])}; {'it is' if len(each) == 1 else 'they are'} used as runs like any other."
    repair = "Nothing needs doing for a trial, whose shots wear the tool too." if trials else ""
    if corrections:
        repair = f"{repair} If a correction only puts another row right, correct that row and delete this one.".strip()
    column = region.unknown[at]
    finding = Finding(region.table.name, None, column, (trials + corrections)[0], problem, repair, "note", region.grid.source)
    return replace(region, row_words=(*region.row_words, RowWords(column))), (finding,)


def _words(region: Region, at: int) -> Counter[str]:
    """What stands in a column, and in how many rows."""
    cells = region.grid.cells
    typed = Counter(cells[row][at] if at < len(cells[row]) else "" for row in region.body)
    words: Counter[str] = Counter()
    for cell, rows in typed.items():
        words[as_text(cell)] += rows
    return words


def _rows(count: int) -> str:
    return "one row" if count == 1 else f"{count:,} rows"
