"""Uploads in, rows out: raw bytes, the findings of the reading, and every version that a row has had."""

import json
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from sqlalchemy import Connection, delete, insert, select, update

from wearfit.errors import Refusal
from wearfit.records.findings import Finding
from wearfit.records.identity import Row, plan_changes
from wearfit.store.history import Entry
from wearfit.store.schema import files, findings, history, uploads
from wearfit.store.versions import Newest, Place, add_versions, kind_of, newest_versions, place_of, to_json, withdraw

if TYPE_CHECKING:
    from wearfit.records.upload import Upload


@dataclass(frozen=True, slots=True)
class UploadOutcome:
    """What an upload did to the store: its rows, counted by what became of them.

    `withdrawn` counts rows that an earlier reading of the same files gave and this one does not give.
    """

    upload_id: int
    new: int
    changed: int
    unchanged: int
    repeated: int
    withdrawn: int = 0


@dataclass(frozen=True, slots=True)
class StoredUpload:
    """One upload as the store lists it.

    `at` is when it first came, in UTC; `counts` says how many rows each table had in the files; `set_aside` whether a state of
    before it was brought back and none of its rows has come again since.
    """

    id: int
    name: str
    digest: str
    at: datetime
    counts: Mapping[str, int]
    set_aside: bool = False


def add_upload(connection: Connection, upload: "Upload", entry: Entry) -> UploadOutcome:
    """Keep an upload: its files as they came, its findings, and a version of each row that is new or changed.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        Inside a writing transaction, for the versions follow from what is stored.
    upload : Upload
        What a reader made of the files.
    entry : Entry
        The line of the history that it comes with.

    Notes
    -----
    The same bytes are kept once. Their rows are compared again all the same: another file may have changed a row
    in between, or they may be read otherwise now, by a newer reader or a new decision of the user. A row that the same
    bytes are no longer read to hold is withdrawn; its versions stay. Where nothing differs, nothing is written.
    """
    upload_id = connection.scalar(select(uploads.c.id).where(uploads.c.digest == upload.digest))
    known = upload_id is not None
    stored: dict[tuple[str, str], list[Mapping[str, str]]] = {}
    newest: dict[Place, Newest] = {}
    incoming = list(upload.rows)  # once: `Rows` makes each when it is asked for
    for row, version in newest_versions(connection, None if known else {row.table for row in incoming}):
        # A withdrawn row keeps its place among those of its key, and looks like none.
        stored.setdefault((row.table, row.key), []).append({} if version.withdrawn else row.values)
        newest[row.table, row.key, row.occurrence] = version
    changes = plan_changes(stored, incoming)

    if upload_id is None:
        upload_id = _add_files(connection, upload, entry)
    elif upload.counts != json.loads(connection.execute(select(uploads.c.counts_json).where(uploads.c.id == upload_id)).scalar_one()):
        connection.execute(update(uploads).where(uploads.c.id == upload_id).values(counts_json=to_json(upload.counts)))
    if findings_of(connection, upload_id) != upload.findings:
        _replace_findings(connection, upload_id, upload.findings)
    add_versions(connection, upload_id, changes, newest, entry)
    gone = withdraw(connection, upload_id, {place_of(change.row) for change in changes}, newest, entry) if known else 0
    kinds = Counter(kind_of(change, newest) for change in changes)
    return UploadOutcome(upload_id, kinds["new"], kinds["changed"], kinds["unchanged"], kinds["repeated"], gone)


def current_rows(connection: Connection, tables: Collection[str] | None = None) -> list[Row]:
    """The newest version of every row, ordered by table, key and occurrence; of the given tables alone, if any are given."""
    chosen = None if tables is None else set(tables)
    return [row for row, version in newest_versions(connection, chosen) if not version.withdrawn]


def stored_uploads(connection: Connection) -> list[StoredUpload]:
    """Every upload, oldest first."""
    u = uploads.c
    query = select(u.id, u.name, u.digest, u.at, u.counts_json, u.line).order_by(u.id)
    restored = connection.execute(select(history.c.id, history.c.back_to).where(history.c.back_to.is_not(None))).all()
    # Looked for only where a state was brought back: it reads the newest version of every row.
    held = {version.upload_id for _, version in newest_versions(connection) if not version.withdrawn} if restored else set()
    return [
        StoredUpload(
            id,
            name,
            digest,
            at,
            json.loads(counts),
            id not in held and any(back_to < line < restoration for restoration, back_to in restored),
        )
        for id, name, digest, at, counts, line in connection.execute(query)
    ]


def empty_tables(stored: Iterable[StoredUpload]) -> set[str]:
    """Tables that some upload in force handed over with a header and not one row."""
    return {table for upload in stored if not upload.set_aside for table, count in upload.counts.items() if count == 0}


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
        select(c.table_name, c.file_row, c.column_name, c.value, c.problem, c.repair, c.severity, c.source)
        .where(c.upload_id == upload_id)
        .order_by(c.id)
    )
    return tuple(Finding(*found) for found in connection.execute(query))


def _add_files(connection: Connection, upload: "Upload", entry: Entry) -> int:
    described = {
        "name": upload.name,
        "digest": upload.digest,
        "at": entry.at,
        "counts_json": to_json(upload.counts),
        "line": entry.line,
    }
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
                    "source": finding.source,
                }
                for finding in noticed
            ],
        )


def _check_exists(connection: Connection, upload_id: int) -> None:
    if connection.scalar(select(uploads.c.id).where(uploads.c.id == upload_id)) is None:
        raise Refusal(f"There is no upload {upload_id} in the store.", "Name one of those that the store lists.", 2)
