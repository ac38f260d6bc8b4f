"""Which row is which: keys, versions and repeats."""

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from wearfit.records.columns import Column, Table
from wearfit.records.tables import TABLES

ChangeKind = Literal["new", "changed", "unchanged", "repeated"]
Values = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a record table, in canonical text.

    Parameters
    ----------
    table : str
    key : str
        JSON list of the canonical key cells.
    occurrence : int
        Counts the rows that share a key, from 0; always 0 in a table whose rows do not repeat.
    values : dict of str to str
        Canonical text of every cell that is not blank; cells of unknown columns as typed, under their own header.
    row : int
        Row of the file or sheet as a spreadsheet counts it, from 1.
    source : str
        The file or sheet.
    """

    table: str
    key: str
    occurrence: int
    values: dict[str, str]
    row: int
    source: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """What an incoming row does to the stored ones; `row.occurrence` says to which of those with its key.

    "new" adds a row, "changed" adds a version to one, "unchanged" says what is stored already, "repeated" says what
    another row of the same upload says, or what a later one of it puts right.
    """

    row: Row
    kind: ChangeKind


def key_of(table: Table, values: Values) -> str:
    """JSON list of the key cells of a row, a blank one as what it means."""
    return key_of_pieces(key_piece(table.column(name), values.get(name, "")) for name in table.key)


def key_piece(column: Column, text: str) -> str:
    """One cell of a key as its JSON list writes it."""
    return json.dumps(text or column.default, ensure_ascii=False)


def key_of_pieces(pieces: Iterable[str]) -> str:
    """The key out of its cells as `key_piece` gives them."""
    return f"[{', '.join(pieces)}]"


def plan_changes(stored: Mapping[tuple[str, str], Sequence[Values]], incoming: Sequence[Row]) -> list[Change]:
    """Decide what each incoming row of one upload changes.

    Parameters
    ----------
    stored : mapping of (table, key) to sequence of values
        The version in force of every stored row with that key, by occurrence.
    incoming : sequence of Row
        In the order of the file; their `occurrence` is not looked at.

    Returns
    -------
    list of Change
        One for each incoming row, in the same order. Applied in that order they give the same stored rows whenever the
        same upload comes again: the second time there is nothing "new" or "changed".

    Notes
    -----
    Where rows do not repeat, a key given twice in one upload takes the later values, and the earlier ones stay as a
    version before. Where they do, rows equal to a stored one are that one; the others take the place of the stored ones
    that they share most cells with, and what is left over is new.
    """
    # Nearly every key comes once and is not stored yet; only the others need be gathered.
    places = [(row.table, row.key) for row in incoming]
    again = _given_again(places)
    changes: list[Change | None] = []
    groups: dict[tuple[str, str], list[int]] = {}
    for position, (row, place) in enumerate(zip(incoming, places, strict=True)):
        if place in again or stored.get(place):
            groups.setdefault(place, []).append(position)
            changes.append(None)
        else:
            changes.append(Change(_at(row, 0), "new"))
    for place, positions in groups.items():
        rows = [incoming[position] for position in positions]
        before = stored.get(place, ())
        if len(rows) == 1 and len(before) <= 1:  # nearly all of them, whether the table's rows repeat or not
            decided = _single(before, rows)
        else:
            decided = _repeating(before, rows) if TABLES[place[0]].repeats else _single(before, rows)
        for position, change in zip(positions, decided, strict=True):
            changes[position] = change
    return [change for change in changes if change is not None]


def _given_again(places: Sequence[tuple[str, str]]) -> set[tuple[str, str]]:
    """Keys that come more than once."""
    if len(set(places)) == len(places):
        return set()
    return {place for place, count in Counter(places).items() if count > 1}


def _at(row: Row, occurrence: int) -> Row:
    return row if row.occurrence == occurrence else replace(row, occurrence=occurrence)


def _single(before: Sequence[Values], rows: Sequence[Row]) -> list[Change]:
    current: Values | None = before[0] if before else None
    # What the upload says last is what it means. Where that is stored already, its earlier rows were put right before.
    settled = rows[-1].values == current
    changes = []
    for i, row in enumerate(rows):
        if settled:
            kind: ChangeKind = "unchanged" if i == len(rows) - 1 else "repeated"
        elif row.values == current:
            kind = "unchanged" if i == 0 else "repeated"
        else:
            kind = "new" if current is None else "changed"
            current = row.values
        changes.append(Change(_at(row, 0), kind))
    return changes


def _repeating(before: Sequence[Values], rows: Sequence[Row]) -> list[Change]:
    first_with: dict[frozenset[tuple[str, str]], int] = {}
    same_as = [first_with.setdefault(frozenset(row.values.items()), i) for i, row in enumerate(rows)]
    distinct = list(first_with.values())
    held: dict[frozenset[tuple[str, str]], int] = {}
    for occurrence, values in enumerate(before):
        held.setdefault(frozenset(values.items()), occurrence)
    place: dict[int, int] = {}
    kinds: dict[int, ChangeKind] = {}
    for said, i in first_with.items():
        if said in held:
            place[i], kinds[i] = held[said], "unchanged"
    for i, occurrence in _closest_pairs(before, rows, [i for i in distinct if i not in place], set(place.values())):
        place[i], kinds[i] = occurrence, "changed"
    added = len(before)
    for i in distinct:
        if i not in place:
            place[i], kinds[i] = added, "new"
            added += 1
    return [Change(_at(row, place[same_as[i]]), kinds[i] if same_as[i] == i else "repeated") for i, row in enumerate(rows)]


def _closest_pairs(before: Sequence[Values], rows: Sequence[Row], open_rows: Iterable[int], taken: set[int]) -> list[tuple[int, int]]:
    """Pair incoming rows with stored ones, most cells in common first."""
    candidates = sorted(
        (-len(rows[i].values.items() & before[occurrence].items()), occurrence, i)
        for i in open_rows
        for occurrence in range(len(before))
        if occurrence not in taken
    )
    pairs: dict[int, int] = {}
    for _, occurrence, i in candidates:
        if i not in pairs and occurrence not in pairs.values():
            pairs[i] = occurrence
    return list(pairs.items())
