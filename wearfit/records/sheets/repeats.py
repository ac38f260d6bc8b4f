"""Rows of one upload that have the same key: numbered where all count, and told."""

from collections import Counter
from collections.abc import Sequence

from wearfit.records.findings import Finding
from wearfit.records.identity import Row, plan_changes
from wearfit.records.tables import Table


def number_repeats(table: Table, rows: Sequence[Row]) -> tuple[list[Row], list[Finding]]:
    """Number the rows of a table that share a key, and say of each what it does beside the others.

    Parameters
    ----------
    table : Table
    rows : sequence of Row
        All those of one upload, in the order of the files.

    Returns
    -------
    list of Row
        The same, with their `occurrence`.
    list of Finding
    """
    if len({row.key for row in rows}) == len(rows):  # nearly always
        return list(rows), []
    counts = Counter(row.key for row in rows)
    places = [place for place, row in enumerate(rows) if counts[row.key] > 1]
    shared = [rows[place] for place in places]
    numbered = list(rows)
    for place, change in zip(places, plan_changes({}, shared), strict=True):
        numbered[place] = change.row
    return numbered, _told(table, shared)


def _told(table: Table, rows: Sequence[Row]) -> list[Finding]:
    last: dict[str, Row] = {}
    same: dict[tuple[str, frozenset[tuple[str, str]]], Row] = {}
    findings = []
    key = ", ".join(table.key)
    for row in rows:
        said = (row.key, frozenset(row.values.items()))
        earlier = last.get(row.key)
        # Of rows that do not repeat only the last stands, so that a return to older values is a change.
        twin = same.get(said) if table.repeats else earlier if earlier is not None and earlier.values == row.values else None
        same.setdefault(said, row)
        last[row.key] = row
        if earlier is None:
            continue
        if twin is not None:
            problem = f"The row says the same as {_place(twin, row)} and is counted once."
            repair = "Nothing needs doing, or delete one of them."
        elif table.repeats:
            problem = f"{_place(earlier, row, 'Row')} has the same {key} and other values; both count."
            repair = "If it is one and the same, delete one of them."
        else:
            problem = f"{_place(earlier, row, 'Row')} has the same {key} and other values; this later row is the one used."
            repair = "Delete the one that is wrong."
        value = row.values.get(table.key[0])
        findings.append(Finding(table.name, row.row, table.key[0], value, problem, repair, "note", row.source))
    return findings


def _place(other: Row, row: Row, word: str = "row") -> str:
    """Where another row stands, seen from one."""
    return f"{word} {other.row}" if other.source == row.source else f"{word} {other.row} of {other.source}"
