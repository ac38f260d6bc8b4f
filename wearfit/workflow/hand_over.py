"""Records handed over on a page: looked at with nothing stored, and kept when the user says so."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.readers.dropped import files_dropped, name_of
from wearfit.records.readers.read import read_handed
from wearfit.records.upload import Upload
from wearfit.store.store import Store
from wearfit.store.uploads import UploadOutcome, empty_tables
from wearfit.workflow.check import TableCount, in_order, put_together, table_counts
from wearfit.workflow.choices import day_known, read_again

Files = tuple[tuple[str, bytes], ...]


@dataclass(frozen=True)
class Look:
    """What records hold together with what is stored, if they were kept.

    Parameters
    ----------
    name : str
        What the files are called together; "" where the stored records alone were looked at.
    uploads : tuple of Upload
        To be kept: those stored before that the choices read otherwise, then the files.
    choices, kept : Choices
        Those that they were read with; those that the store kept then.
    tables : mapping of str to TableCount
        Rows of the files by table, how many of the table are in use with what is stored, and how many of the files were set aside.
    outcome : UploadOutcome or None
        What the files would do to the store; None without files.
    findings : tuple of Finding
        In order of tables, sources and rows. What was noticed in the stored records before is not among those of files.
    before : int
        Number of findings on the stored records that stand as before.
    day : date or None
        The latest day in the records together; None where they cannot be used yet, and `refusal` says why.
    refusal : Refusal or None
    damaged : tuple of str
        Stored uploads that could not be read again, each in a sentence.
    """

    name: str
    uploads: tuple[Upload, ...]
    choices: Choices
    kept: Choices
    tables: Mapping[str, TableCount]
    outcome: UploadOutcome | None
    findings: tuple[Finding, ...]
    before: int
    day: dt.date | None
    refusal: Refusal | None
    damaged: tuple[str, ...] = ()

    @property
    def changes(self) -> bool:
        """Whether keeping it would change the store."""
        o = self.outcome
        return self.choices != self.kept or (o is not None and bool(o.new or o.changed or o.withdrawn))


def look(store_url: str, files: Files, choices: Choices | None = None, today: dt.date | None = None) -> Look:
    """Look at files together with what a store holds; nothing is stored, and no store is made.

    Parameters
    ----------
    files : tuple of (str, bytes)
        Names and bytes as they came; none to look at the stored records alone.
    choices : Choices, optional
        To read them with, and the stored ones too; those that the store keeps by default.
    today : date, optional
        Rows dated later are set aside; not looked at where None.

    Raises
    ------
    Refusal
        Where the files cannot be read with these choices, or the store cannot be used. Records that can be read but not used
        yet are an answer.
    """
    store = Store.open_if_there(store_url)
    if store is None:
        return _look(None, files, Choices(), choices, today)
    with store:
        return _look(store, files, store.choices(), choices, day_known(store, today))


def keep(store_url: str, seen: Look) -> tuple[tuple[str, UploadOutcome], ...]:
    """Store what was looked at and the choices that it was read with, all of it or nothing; the store is made where there is none.

    Returns
    -------
    tuple of (str, UploadOutcome)
        Name of each upload, and what it did to the store.

    Raises
    ------
    Refusal
        Where the store's choices changed since the look, or the store cannot be written; it is left as it was.
    """
    with Store.open(store_url) as store:
        if store.choices() != seen.kept:
            raise Refusal("Somebody else changed the choices since these records were read.", "Read them again, and keep them then.")
        outcomes = store.add_uploads(seen.uploads, seen.choices, anew=True)
    return tuple((upload.name, outcome) for upload, outcome in zip(seen.uploads, outcomes, strict=True))


def _look(store: Store | None, files: Files, kept: Choices, choices: Choices | None, today: dt.date | None) -> Look:
    decided = kept if choices is None else choices
    handed = read_handed(name_of(files), files_dropped(files), decided, today) if files else None
    digests = {handed.digest} if handed else set[str]()
    again, damaged = ((), ()) if store is None else _again(store, decided, today, digests)
    uploads = (*again, handed) if handed else again
    rows, outcomes = (handed.rows if handed else (), []) if store is None else store.rows_with(uploads)
    whole = put_together(rows, _empty(store, uploads), decided)
    stored = () if store is None else _stored_findings(store, again, digests)
    if handed is None:
        findings, before = (*stored, *whole.findings), 0
        counts: Mapping[str, int] = Counter(row.table for row in rows)
    else:
        known = Counter[Finding]() if store is None else Counter(put_together(store.rows(), _empty(store, ()), kept).findings)
        fresh = Counter(whole.findings) - known
        findings, before = (*handed.findings, *fresh.elements()), len(stored) + len(whole.findings) - fresh.total()
        counts = handed.counts
    findings = in_order(findings)
    outcome = None if handed is None else outcomes[-1] if outcomes else UploadOutcome(0, len(handed.rows), 0, 0, 0)
    return Look(
        name="" if handed is None else handed.name,
        uploads=uploads,
        choices=decided,
        kept=kept,
        tables=table_counts(counts, whole, findings),
        outcome=outcome,
        findings=findings,
        before=before,
        day=None if whole.history is None else whole.history.day,
        refusal=whole.refusal,
        damaged=damaged,
    )


def _again(store: Store, decided: Choices, today: dt.date | None, digests: set[str]) -> tuple[tuple[Upload, ...], tuple[str, ...]]:
    read = read_again(store, decided, today, digests)
    return read.uploads, read.damaged


def _empty(store: Store | None, uploads: Sequence[Upload]) -> set[str]:
    """Tables that were handed over with a header and not one row."""
    stored = set() if store is None else empty_tables(store.uploads())
    return stored.union(*(upload.empty_tables for upload in uploads))


def _stored_findings(store: Store, again: Sequence[Upload], digests: set[str]) -> tuple[Finding, ...]:
    """What was noticed in the stored files: in the last ones of each name, for a history that grows counts once."""
    read = {upload.digest: upload.findings for upload in again}
    last = {upload.name: upload for upload in store.uploads() if upload.digest not in digests and not upload.set_aside}
    noticed = (read[upload.digest] if upload.digest in read else store.findings(upload.id) for upload in last.values())
    return tuple(finding for each in noticed for finding in each)
