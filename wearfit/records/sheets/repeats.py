"""Rows of one upload that have the same key: numbered where all count, left out where another file is newer, and told."""

from array import array
from collections.abc import Mapping, Sequence
from dataclasses import replace

from wearfit.records.columns import Table
from wearfit.records.findings import Finding
from wearfit.records.identity import Row, plan_changes
from wearfit.records.rows import TableRows
from wearfit.records.sheets.ages import Age, age_of
from wearfit.records.sheets.told import key_of


def number_repeats(table: Table, rows: TableRows) -> tuple[TableRows, list[Finding]]:
    """Number the rows of a table that share a key, and say of each what it does beside the others.

    Parameters
    ----------
    table : Table
    rows : TableRows
        All those of one upload, in the order of the files.

    Returns
    -------
    TableRows
        The same, with their `occurrences`; of those that share a key, the ones of a file that its name calls older come first.
        Where rows repeat, one of such a file that says other than the newer file is left out.
    list of Finding
        One a row within a file, one for two files that differ in several rows.

    Notes
    -----
    Where names do not tell which file is newer, the later one in the order of the files is used, or, where rows repeat, both count:
    the lists of two shifts have keys in common too.
    """
    slots = rows.shared_keys()
    if not slots:  # nearly always
        return rows, []
    shared = list(zip(slots, rows.take(slots), strict=True))
    ages = {row.source: age_of(row.source) for _, row in shared}
    shared.sort(key=lambda placed: ages[placed[1].source])
    newer = _newer([row for _, row in shared], ages) if table.repeats and len(ages) > 1 else {}
    left_out = [(shared[at][1], row) for at, row in newer.items()]
    shared = [placed for at, placed in enumerate(shared) if at not in newer]
    said = [row for _, row in shared]
    occurrences = {place: change.row.occurrence for (place, _), change in zip(shared, plan_changes({}, said), strict=True)}
    order = _in_their_slots([place for place, _ in shared], slots, len(rows))
    numbered = replace(rows.take(order), occurrences=array("i", (occurrences.get(place, 0) for place in order)))
    return numbered, _told(table, said, left_out, ages)


Pair = tuple[Row, Row]  # a row and the later one with its key
Said = tuple[str, frozenset[tuple[str, str]]]


def _newer(rows: Sequence[Row], ages: Mapping[str, Age]) -> dict[int, Row]:
    """Of rows that share keys, the places of those that a newer version of their file puts right, with the row that does."""
    newest: dict[str, Row] = {row.key: row for row in rows}
    said = {_said(row) for row in rows if row.source == newest[row.key].source}
    return {
        at: newest[row.key]
        for at, row in enumerate(rows)
        if ages[row.source].is_version_beside(ages[newest[row.key].source]) and _said(row) not in said
    }


def _in_their_slots(places: Sequence[int], slots: Sequence[int], count: int) -> list[int]:
    """Places of all `count` rows, with some of those in the slots, in their order, where the slots are."""
    following, taken = iter(places), set(slots)
    order = (next(following, None) if place in taken else place for place in range(count))
    return [place for place in order if place is not None]


def _said(row: Row) -> Said:
    return row.key, frozenset(row.values.items())


def _told(table: Table, rows: Sequence[Row], left_out: Sequence[Pair], ages: Mapping[str, Age]) -> list[Finding]:
    last: dict[str, Row] = {}
    same: dict[Said, Row] = {}
    findings = []
    across: dict[tuple[str, str], list[Pair]] = {}
    twins: dict[tuple[str, str], list[Pair]] = {}
    for older, newer in left_out:
        across.setdefault((older.source, newer.source), []).append((older, newer))
    for row in rows:
        said = _said(row)
        earlier = last.get(row.key)
        # Of rows that do not repeat only the last stands, so that a return to older values is a change.
        twin = same.get(said) if table.repeats else earlier if earlier is not None and earlier.values == row.values else None
        same.setdefault(said, row)
        last[row.key] = row
        if earlier is None:
            continue
        if twin is not None:
            if twin.source != row.source:
                twins.setdefault((twin.source, row.source), []).append((twin, row))
            else:
                findings.append(_same_values(table, [(twin, row)]))
        elif earlier.source != row.source:
            across.setdefault((earlier.source, row.source), []).append((earlier, row))
        else:
            findings.append(_other_values(table, earlier, row))
    findings += [_same_values(table, pairs) for pairs in twins.values()]
    return findings + [_across(table, pairs, ages) for pairs in across.values()]


def _finding(table: Table, row: Row, problem: str, repair: str) -> Finding:
    return Finding(table.name, row.row, table.key[0], row.values.get(table.key[0]), problem, repair, "note", row.source)


def _same_values(table: Table, pairs: Sequence[Pair]) -> Finding:
    twin, row = pairs[0]
    if len(pairs) == 1:
        repair = "Nothing needs doing, or delete one of them."
        if table.name == "runs" and twin.source == row.source:  # the runs of two shifts may agree in all that is recorded
            repair = "Nothing needs doing if it is one run. If they are two, add them up in one row, or add a column that tells them apart."
        return _finding(table, row, f"The row says the same as {_place(twin, row)} and is counted once.", repair)
    problem = f"{len(pairs):,} rows say the same as rows of {twin.source}, first row {row.row}; each is counted once."
    return Finding(table.name, None, table.key[0], None, problem, "Nothing needs doing.", "note", row.source)


def _other_values(table: Table, earlier: Row, row: Row) -> Finding:
    same = f"{_place(earlier, row, 'Row')} has the same {', '.join(table.key)} and other values"
    if table.repeats:
        return _finding(table, row, f"{same}; both count.", "If it is one and the same, delete one of them.")
    return _finding(table, row, f"{same}; this later row is the one used.", "Delete the one that is wrong.")


def _across(table: Table, pairs: Sequence[Pair], ages: Mapping[str, Age]) -> Finding:
    """That two files say different things under the same keys: which one is used, why, and how to choose the other."""
    older, newer = pairs[0]
    one, other = ages[older.source], ages[newer.source]
    known = one != other
    same = f"the same {', '.join(table.key)} and other values"
    if len(pairs) == 1:
        problem = f"Row {older.row} of {older.source} has {same}"
    else:
        problem = f"{len(pairs):,} rows have {same} than rows of {older.source}, first row {newer.row} and row {older.row} there"
    if table.repeats and not one.is_version_beside(other):
        problem += "; both count."
        repair = (
            f"If they are one and the same, delete one of them, or leave a file out: {_leave_out(older)} under [tables] in the choices."
        )
    else:
        why = "by its name it is the newer" if known else "no name says which is newer, and it comes later in their order"
        problem += f"; {newer.source} is the one used, for {why}."
        repair = f"If the other is right, leave this one out: {_leave_out(newer)} under [tables] in the choices."
    value = newer.values.get(table.key[0])
    row = newer.row if len(pairs) == 1 else None
    return Finding(table.name, row, table.key[0], value, problem, repair, "note", newer.source)


def _leave_out(row: Row) -> str:
    return f'{key_of(row.source)} = ""'


def _place(other: Row, row: Row, word: str = "row") -> str:
    """Where another row stands, seen from one."""
    return f"{word} {other.row}" if other.source == row.source else f"{word} {other.row} of {other.source}"
