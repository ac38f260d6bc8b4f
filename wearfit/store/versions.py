"""Every version that a row has had: the newest of each, and how another one is added."""

import json
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, and_, func, insert, select

from wearfit.records.identity import Change, Row
from wearfit.store.schema import row_versions


@dataclass(frozen=True, slots=True)
class Newest:
    """The newest version of a row: its number, the upload it came with, and whether it withdraws the row."""

    version: int
    upload_id: int
    withdrawn: bool


Place = tuple[str, str, int]  # table, key, occurrence


def place_of(row: Row) -> Place:
    return row.table, row.key, row.occurrence


def newest_versions(connection: Connection, tables: set[str] | None = None) -> Iterator[tuple[Row, Newest]]:
    """The newest version of every row, withdrawn ones too; of the given tables alone, if any are given."""
    c = row_versions.c
    grouped = select(c.table_name, c.key, c.occurrence, func.max(c.version).label("version")).group_by(c.table_name, c.key, c.occurrence)
    if tables is not None:
        grouped = grouped.where(c.table_name.in_(sorted(tables)))
    newest = grouped.subquery("newest")
    n = newest.c
    query = (
        select(c.table_name, c.key, c.occurrence, c.version, c.values_json, c.file_row, c.source, c.upload_id, c.withdrawn)
        .join(newest, and_(c.table_name == n.table_name, c.key == n.key, c.occurrence == n.occurrence, c.version == n.version))
        .order_by(c.table_name, c.key, c.occurrence)
    )
    for table, key, occurrence, version, values, file_row, source, upload_id, withdrawn in connection.execute(query):
        yield Row(table, key, occurrence, json.loads(values), file_row, source), Newest(version, upload_id, withdrawn)


def kind_of(change: Change, newest: Mapping[Place, Newest]) -> str:
    """What a change is to the user: a row that was withdrawn and comes back is new."""
    before = newest.get(place_of(change.row))
    return "new" if change.kind == "changed" and before is not None and before.withdrawn else change.kind


def add_versions(connection: Connection, upload_id: int, changes: Sequence[Change], newest: Mapping[Place, Newest]) -> None:
    """Add a version for each change, in their order: one upload may put the same row right more than once."""
    numbers: dict[Place, int] = {}
    added = []
    for change in changes:
        if change.kind not in ("new", "changed"):
            continue
        row, place = change.row, place_of(change.row)
        before = newest.get(place)
        numbers[place] = numbers.get(place, 0 if before is None else before.version) + 1
        added.append(_version(place, numbers[place], upload_id, to_json(row.values), row.row, row.source, False))
    if added:
        connection.execute(insert(row_versions), added)


def withdraw(connection: Connection, upload_id: int, held: Collection[Place], newest: Mapping[Place, Newest]) -> int:
    """Withdraw the rows that came with an upload and that it is no longer read to hold; returns how many."""
    gone = [
        _version(place, before.version + 1, upload_id, "{}", 0, "", True)
        for place, before in newest.items()
        if before.upload_id == upload_id and not before.withdrawn and place not in held
    ]
    if gone:
        connection.execute(insert(row_versions), gone)
    return len(gone)


def _version(place: Place, number: int, upload_id: int, values: str, file_row: int, source: str, withdrawn: bool) -> dict[str, Any]:
    table, key, occurrence = place
    return {
        "table_name": table,
        "key": key,
        "occurrence": occurrence,
        "version": number,
        "values_json": values,
        "upload_id": upload_id,
        "file_row": file_row,
        "source": source,
        "withdrawn": withdrawn,
    }


def to_json(values: Mapping[str, str] | Mapping[str, int]) -> str:
    return json.dumps(dict(values), ensure_ascii=False, separators=(",", ":"))
