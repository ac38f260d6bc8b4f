"""The user's choices: those of a file put over those that the store keeps, and what is read again because of them."""

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from wearfit.errors import Refusal
from wearfit.records.choices import Choices, read_choices
from wearfit.records.findings import Finding
from wearfit.records.readers.text_file import read_text_file
from wearfit.store.store import Store
from wearfit.store.uploads import StoredUpload

if TYPE_CHECKING:
    from wearfit.records.upload import Upload

Files = tuple[tuple[str, bytes], ...]


def choices_of_file(path: Path | None) -> Choices:
    """The choices of a TOML file, none without one.

    Raises
    ------
    Refusal
        Status 2, where the file cannot be opened, is not UTF-8 text or says something that is no choice.
    """
    if path is None:
        return Choices()
    return read_choices(read_text_file(path, "The file of choices", "TOML"))


def choices_in_force(store_url: str, given: Choices) -> Choices:
    """Choices put over those of the store, where there is one; none is made."""
    store = Store.open_if_there(store_url)
    if store is None:
        return given
    with store:
        return store.choices().later(given)


@dataclass(frozen=True)
class ReadAgain:
    """Stored uploads read again from the bytes that the store kept.

    Parameters
    ----------
    uploads : tuple of Upload
        Oldest first.
    damaged : tuple of str
        Uploads whose bytes are damaged, each in a sentence: their rows stay as they were read.
    """

    uploads: "tuple[Upload, ...]" = ()
    damaged: tuple[str, ...] = ()


def day_in_force(store_url: str, today: dt.date | None) -> dt.date | None:
    """The day after which no row can be dated, of a store that may be there; as `day_known`."""
    store = Store.open_if_there(store_url)
    if store is None:
        return today
    with store:
        return day_known(store, today)


def day_known(store: Store, today: dt.date | None) -> dt.date | None:
    """The day after which no row can be dated: that of the clock, or a later one on which the store was given records.

    Notes
    -----
    By a clock that was set back, files that are handed over again would seem to hold rows of days to come, which would be taken out.
    """
    return None if today is None else max((today, *(upload.at.date() for upload in store.uploads())))


def read_again(store: Store, decided: Choices, today: dt.date | None, but: Collection[str]) -> ReadAgain:
    """Read the stored uploads with other choices than those kept; nothing where the choices read no cell otherwise.

    Parameters
    ----------
    decided : Choices
        Those that are to hold.
    today : date, optional
        As `records.readers.read.read` takes it.
    but : collection of str
        Digests of uploads that are read anyway.

    Raises
    ------
    Refusal
        Where a stored upload cannot be read with these choices; names it.
    """
    if _of_reading(decided) == _of_reading(store.choices()):
        return ReadAgain()
    again, damaged = [], []
    for stored in store.uploads():
        if stored.digest in but or stored.set_aside:
            continue
        try:
            files = store.files(stored.id)
        except Refusal as reason:
            damaged.append(reason.problem)
            continue
        again.append(_read(stored, files, _of_other_files(store.findings(stored.id), files), decided, today))
    return ReadAgain(tuple(again), tuple(damaged))


def _of_reading(choices: Choices) -> Choices:
    """The choices that say what a cell means; what a count counts is looked at where the tables are put together."""
    return replace(choices, counts=())


def _of_other_files(findings: tuple[Finding, ...], files: Files) -> tuple[Finding, ...]:
    """What was said of files beside those that were kept, and that reading these again cannot say."""
    kept = tuple(name for name, _ in files)
    return tuple(finding for finding in findings if finding.row is None and finding.source and not finding.source.startswith(kept))


def _read(stored: StoredUpload, files: Files, said: tuple[Finding, ...], decided: Choices, today: dt.date | None) -> "Upload":
    from wearfit.records.readers.forms import grids_of
    from wearfit.records.sheets.interpret import interpret

    try:
        grids, findings = grids_of(files, decided)
        return interpret(stored.name, files, grids, (*said, *findings), decided, today)
    except Refusal as reason:
        problem = f"With these choices '{stored.name}', stored on {stored.at.date()}, can no longer be read. {reason.problem}"
        raise Refusal(problem, reason.repair, reason.status) from reason
