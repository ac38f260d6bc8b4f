"""Uploads in, rows out: raw bytes, the findings of the reading, and every version that a row has had."""

import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from sqlalchemy import Connection, and_, delete, func, insert, select

from wearfit.errors import Refusal
from wearfit.records.findings import Finding
from wearfit.records.identity import Change, Row, plan_changes
from wearfit.store.schema import files, findings, row_versions, uploads

if TYPE_CHECKING:
    from wearfit.records.upload import Upload


@dataclass(frozen=True, slots=True)
class UploadOutcome:
    """What an upload did to the store: its rows, counted by what became of them."""

    upload_id: int
    new: int
    changed: int
    unchanged: int
    repeated: int


@dataclass(frozen=True, slots=True)
class StoredUpload:
    """One upload as the store lists it.

    `at` is when it first came, in UTC; `counts` says how many rows each table had in the files.
    """

    id: int
    name: str
    digest: str
    at: datetime
    counts: Mapping[str, int]


def add_upload(connection: Connection, upload: "Upload", at: datetime) -> UploadOutcome:
    """Keep an upload: its files as they came, its findings, and a version of each row that is new or changed.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        Inside a writing transaction, for the versions follow from what is stored.
    upload : Upload
        What a reader made of the files.
    at : datetime.datetime
        When it came, with a time zone.

    Notes
    -----
    The same bytes are kept once. Their rows are compared again all the same: another file may have changed a row
    in between, or a newer reader may understand a row that was set aside before. Where neither is so, nothing is
    written.
    """
    stored: dict[tuple[str, str], list[Mapping[str, str]]] = {}
    versions: dict[tuple[str, str, int], int] = {}
    for row, version in _current_rows(connection, {row.table for row in upload.rows}):
        stored.setdefault((row.table, row.key), []).append(row.values)
        versions[row.table, row.key, row.occurrence] = version
    changes = plan_changes(stored, upload.rows)

    upload_id = connection.scalar(select(uploads.c.id).where(uploads.c.digest == upload.digest))
    if upload_id is None:
        upload_id = _add_files(connection, upload, at)
    if findings_of(connection, upload_id) != upload.findings:
        _replace_findings(connection, upload_id, upload.findings)
    _add_versions(connection, upload_id, changes, versions)
    kinds = Counter(change.kind for change in changes)
    return UploadOutcome(upload_id, kinds["new"], kinds["changed"], kinds["unchanged"], kinds["repeated"])


def current_rows(connection: Connection) -> list[Row]:
    """The newest version of every row, ordered by table, key and occurrence."""
    return [row for row, _ in _current_rows(connection)]


def stored_uploads(connection: Connection) -> list[StoredUpload]:
    """Every upload, oldest first."""
    query = select(uploads.c.id, uploads.c.name, uploads.c.digest, uploads.c.at, uploads.c.counts_json).order_by(uploads.c.id)
    return [StoredUpload(id, name, digest, at, json.loads(counts)) for id, name, digest, at, counts in connection.execute(query)]


def files_of(connection: Connection, upload_id: int) -> tuple[tuple[str, bytes], ...]:
    """The files of an upload, name and bytes, as they came.

    Raises
    ------
    Refusal
        If there is no such upload, or a file's bytes no longer match their SHA-256; names the file.
    """
    _check_exists(connection, upload_id)
    query = select(files.c.filename, files.c.content, files.c.sha256).where(files.c.upload_id == upload_id).order_by(files.c.position)
    found = connection.execute(query).all()
    for filename, content, expected in found:
        if sha256(content).hexdigest() != expected:
            raise Refusal(
                f"The stored copy of {filename} of upload {upload_id} is damaged.",
                "The rows read from it are kept apart and still answer; look for another copy of the file.",
            )
    return tuple((filename, content) for filename, content, _ in found)


def findings_of(connection: Connection, upload_id: int) -> tuple[Finding, ...]:
    """What the reader noticed in an upload, in the reader's order.

    Raises
    ------
    Refusal
        If there is no such upload.
    """
    _check_exists(connection, upload_id)
    c = findings.c
    query = (
        select(c.table_name, c.file_row, c.column_name, c.value, c.problem, c.repair, c.severity)
        .where(c.upload_id == upload_id)
        .order_by(c.id)
    )
    return tuple(Finding(*found) for found in connection.execute(query))


def _current_rows(connection: Connection, tables: set[str] | None = None) -> Iterator[tuple[Row, int]]:
    """The newest version of every row, with its version; of the given tables alone, if any are given."""
    c = row_versions.c
    grouped = select(c.table_name, c.key, c.occurrence, func.max(c.version).label("version")).group_by(c.table_name, c.key, c.occurrence)
    if tables is not None:
        grouped = grouped.where(c.table_name.in_(sorted(tables)))
    newest = grouped.subquery("newest")
    n = newest.c
    query = (
        select(c.table_name, c.key, c.occurrence, c.version, c.values_json, c.file_row)
        .join(newest, and_(c.table_name == n.table_name, c.key == n.key, c.occurrence == n.occurrence, c.version == n.version))
        .order_by(c.table_name, c.key, c.occurrence)
    )
    for table, key, occurrence, version, values, file_row in connection.execute(query):
        yield Row(table, key, occurrence, json.loads(values), file_row), version


def _add_files(connection: Connection, upload: "Upload", at: datetime) -> int:
    described = {"name": upload.name, "digest": upload.digest, "at": at, "counts_json": _to_json(upload.counts)}
    upload_id: int = connection.execute(insert(uploads).returning(uploads.c.id), described).scalar_one()
    for position, (filename, content) in enumerate(upload.files):
        connection.execute(
            insert(files),
            {
                "upload_id": upload_id,
                "position": position,
                "filename": filename,
                "sha256": sha256(content).hexdigest(),
                "content": content,
            },
        )
    return upload_id


def _add_versions(connection: Connection, upload_id: int, changes: Sequence[Change], versions: Mapping[tuple[str, str, int], int]) -> None:
    """Add a version for each change, in their order: one upload may put the same row right more than once."""
    newest = dict(versions)
    added = []
    for change in changes:
        if change.kind not in ("new", "changed"):
            continue
        row = change.row
        version = newest[row.table, row.key, row.occurrence] = newest.get((row.table, row.key, row.occurrence), 0) + 1
        added.append(
            {
                "table_name": row.table,
                "key": row.key,
                "occurrence": row.occurrence,
                "version": version,
                "values_json": _to_json(row.values),
                "upload_id": upload_id,
                "file_row": row.row,
            }
        )
    if added:
        connection.execute(insert(row_versions), added)


def _replace_findings(connection: Connection, upload_id: int, noticed: Sequence[Finding]) -> None:
    connection.execute(delete(findings).where(findings.c.upload_id == upload_id))
    if noticed:
        connection.execute(
            insert(findings),
            [
                {
                    "upload_id": upload_id,
                    "table_name": finding.table,
                    "file_row": finding.row,
                    "column_name": finding.column,
                    "value": finding.value,
                    "problem": finding.problem,
                    "repair": finding.repair,
                    "severity": finding.severity,
                }
                for finding in noticed
            ],
        )


def _check_exists(connection: Connection, upload_id: int) -> None:
    if connection.scalar(select(uploads.c.id).where(uploads.c.id == upload_id)) is None:
        raise Refusal(f"There is no upload {upload_id} in the store.", "Name one of those that the store lists.", 2)


def _to_json(values: Mapping[str, str] | Mapping[str, int]) -> str:
    return json.dumps(dict(values), ensure_ascii=False, separators=(",", ":"))
