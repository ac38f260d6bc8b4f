"""Every version that a row has had: the newest of each, and how another one is added."""

import json
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, and_, func, insert, select

from wearfit.records.identity import Change, Row
from wearfit.store.history import Entry
from wearfit.store.schema import row_versions


@dataclass(frozen=True, slots=True)
class Newest:
    """The newest version of a row: its number, the upload it came with, whether it withdraws the row, its line of the history."""

    version: int
    upload_id: int
    withdrawn: bool
    line: int


Place = tuple[str, str, int]  # table, key, occurrence


def place_of(row: Row) -> Place:
    return row.table, row.key, row.occurrence


def newest_versions(
    connection: Connection, tables: set[str] | None = None, up_to: int | None = None, since: int | None = None
) -> Iterator[tuple[Row, Newest]]:
    """The newest version of every row, withdrawn ones too.

    Parameters
    ----------
    tables : set of str, optional
        Of these alone.
    up_to : int, optional
        As they stood after this line of the history.
    since : int, optional
        Of rows alone that have a version of a later line than this one.
    """
    c = row_versions.c
    grouped = select(c.table_name, c.key, c.occurrence, func.max(c.version).label("version")).group_by(c.table_name, c.key, c.occurrence)
    if tables is not None:
        grouped = grouped.where(c.table_name.in_(sorted(tables)))
    if up_to is not None:
        grouped = grouped.where(c.line <= up_to)
    if since is not None:
        grouped = grouped.where(c.line > since)
    newest = grouped.subquery("newest")
    n = newest.c
    query = (
        select(c.table_name, c.key, c.occurrence, c.version, c.values_json, c.file_row, c.source, c.upload_id, c.withdrawn, c.line)
        .join(newest, and_(c.table_name == n.table_name, c.key == n.key, c.occurrence == n.occurrence, c.version == n.version))
        .order_by(c.table_name, c.key, c.occurrence)
    )
    for table, key, occurrence, version, values, file_row, source, upload_id, withdrawn, line in connection.execute(query):
        yield Row(table, key, occurrence, json.loads(values), file_row, source), Newest(version, upload_id, withdrawn, line)


def versions_of(connection: Connection, table: str, key: str, occurrence: int) -> list[tuple[Row, Newest]]:
    """Every version of one row, oldest first; a version that withdraws it has no values."""
    c = row_versions.c
    chosen = select(c.version, c.values_json, c.file_row, c.source, c.upload_id, c.withdrawn, c.line)
    query = chosen.where(c.table_name == table, c.key == key, c.occurrence == occurrence).order_by(c.version)
    return [
        (Row(table, key, occurrence, json.loads(values), file_row, source), Newest(version, upload_id, withdrawn, line))
        for version, values, file_row, source, upload_id, withdrawn, line in connection.execute(query)
    ]


def kind_of(change: Change, newest: Mapping[Place, Newest]) -> str:
    """What a change is to the user: a row that was withdrawn and comes back is new."""
    before = newest.get(place_of(change.row))
    return "new" if change.kind == "changed" and before is not None and before.withdrawn else change.kind


def add_versions(connection: Connection, upload_id: int, changes: Sequence[Change], newest: Mapping[Place, Newest], entry: Entry) -> None:
    """Add a version for each change, in their order: one upload may put the same row right more than once."""
    numbers: dict[Place, int] = {}
    added = []
    for change in changes:
        if change.kind not in ("new", "changed"):
            continue
        row, place = change.row, place_of(change.row)
        before = newest.get(place)
        numbers[place] = numbers.get(place, 0 if before is None else before.version) + 1
        added.append(_version(row, numbers[place], upload_id, False, entry.line))
    if added:
        connection.execute(insert(row_versions), added)


def withdraw(connection: Connection, upload_id: int, held: Collection[Place], newest: Mapping[Place, Newest], entry: Entry) -> int:
    """Withdraw the rows that came with an upload and that it is no longer read to hold; returns how many."""
    gone = [
        _version(_no_row(place), before.version + 1, upload_id, True, entry.line)
        for place, before in newest.items()
        if before.upload_id == upload_id and not before.withdrawn and place not in held
    ]
    if gone:
        connection.execute(insert(row_versions), gone)
    return len(gone)


def bring_back(
    connection: Connection, now: Mapping[Place, tuple[Row, Newest]], then: Mapping[Place, tuple[Row, Newest]], entry: Entry
) -> tuple[int, int]:
    """Add the versions that make every row what it was; returns how many rows were brought back and how many withdrawn.

    Parameters
    ----------
    now, then : mapping of Place to (Row, Newest)
        The newest versions, withdrawn ones too, and those of the state to bring back.
    """
    back, gone = [], []
    for place, (row, newest) in now.items():
        was = then.get(place)
        if was is None or was[1].withdrawn:
            if not newest.withdrawn:
                gone.append(_version(_no_row(place), newest.version + 1, newest.upload_id, True, entry.line))
        elif newest.withdrawn or row != was[0]:
            back.append(_version(was[0], newest.version + 1, was[1].upload_id, False, entry.line))
    for versions in (back, gone):
        if versions:
            connection.execute(insert(row_versions), versions)
    return len(back), len(gone)


def _no_row(place: Place) -> Row:
    """What a version holds that withdraws a row."""
    return Row(*place, {}, 0)


def _version(row: Row, number: int, upload_id: int, withdrawn: bool, line: int) -> dict[str, Any]:
    return {
        "table_name": row.table,
        "key": row.key,
        "occurrence": row.occurrence,
        "version": number,
        "values_json": to_json(row.values),
        "upload_id": upload_id,
        "file_row": row.row,
        "source": row.source,
        "withdrawn": withdrawn,
        "line": line,
    }


def to_json(values: Mapping[str, str] | Mapping[str, int]) -> str:
    return json.dumps(dict(values), ensure_ascii=False, separators=(",", ":"))
