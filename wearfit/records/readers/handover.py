"""What a path holds: the files to be read, and what of it is left out."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Final

from wearfit.errors import Refusal
from wearfit.records.findings import Finding
from wearfit.records.names import plain_name
from wearfit.records.readers.limits import FILE_BYTES, FILES, size_text
from wearfit.records.tables import TABLES

TEXT_ENDINGS: Final = (".csv", ".tsv", ".tab", ".txt")
# The last three are not read as what they are, but by their content: many a program names its text or web pages so.
WORKBOOK_ENDINGS: Final = (".xlsx", ".xlsm", ".ods", ".xls", ".xlsb", ".xltx")
ARCHIVE_ENDINGS: Final = (".zip",)

SHOWN: Final = 3  # names in a sentence; the rest is counted

# What systems and programs leave beside the files of people.
_LEFTOVERS = ("thumbs.db", "desktop.ini", "__macosx")
_LEFTOVER_STARTS = (".", "~$")

_BY_PLAIN_NAME = {plain_name(name): name for name in TABLES}


@dataclass(frozen=True)
class Handover:
    """The files of a path as they came, name and bytes, in order of their names; and what was left out."""

    files: tuple[tuple[str, bytes], ...]
    findings: tuple[Finding, ...] = ()


def ending(name: str) -> str:
    return PurePosixPath(name).suffix.lower()


def is_read(name: str) -> bool:
    """Whether a file of this name is looked into."""
    return ending(name) in TEXT_ENDINGS + WORKBOOK_ENDINGS


def is_leftover(name: str) -> bool:
    """Whether a name is one that no person gave: a hidden file, a lock, a thumbnail."""
    return name.lower().startswith(_LEFTOVER_STARTS) or name.lower() in _LEFTOVERS


def table_named(name: str) -> str:
    """The table that a file is named as, or its name without the ending."""
    return table_called(PurePosixPath(name).stem)


def table_called(name: str) -> str:
    """The table that a sheet is named as, or the name itself."""
    return _BY_PLAIN_NAME.get(plain_name(name), name)


def may_be_prose(name: str) -> bool:
    """Whether a file may be a letter rather than a table: a TXT file that is not named as one."""
    return ending(name) == ".txt" and table_named(name) not in TABLES


def left_out(names: Iterable[str], folders: Iterable[str]) -> tuple[Finding, ...]:
    """What to say of the files and folders within a folder or archive that are not looked into."""
    archives = sorted(name for name in names if ending(name) in ARCHIVE_ENDINGS)
    others = sorted(name for name in names if ending(name) not in ARCHIVE_ENDINGS)
    findings = []
    if others:
        is_one = len(others) == 1
        problem = f"{_listed(others)} {'is' if is_one else 'are'} in no form that can be read and {'was' if is_one else 'were'} left out."
        findings.append(_note(others[0], problem, "Save as 'CSV UTF-8' or XLSX what holds records."))
    if archives:
        problem = f"{_listed(archives)}: an archive within a folder or archive is not read."
        findings.append(_note(archives[0], problem, "If it holds records, unpack it and put its files beside the others."))
    if inner := sorted(folders):
        problem = f"{_listed(inner)}: a folder within a folder is not read."
        findings.append(_note(inner[0], problem, "If it holds records, put its files beside the others."))
    return tuple(findings)


def check_count(name: str, count: int) -> None:
    if count > FILES:
        raise Refusal(f"'{name}' holds {count:,} files of records; at most {FILES:,} are read.", "Leave out what is not records.")


def bytes_of(file: Path) -> bytes:
    """A file's bytes.

    Raises
    ------
    Refusal
        Where it is too large or cannot be opened.
    """
    try:
        size = file.stat().st_size
        if size <= FILE_BYTES:
            return file.read_bytes()
    except OSError as error:
        raise Refusal(f"{file.name} cannot be opened: {error.strerror}.", "Check that the file is there and may be read.") from error
    raise too_large(file.name, size)


def too_large(name: str, size: int) -> Refusal:
    problem = f"{name} has {size_text(size)}; at most {size_text(FILE_BYTES)} are read of one file."
    return Refusal(problem, "Split it, by year or by plant, and hand over the parts.")


def _note(name: str, problem: str, repair: str) -> Finding:
    return Finding(table_named(name), None, None, name, problem, repair, "note", name)


def _listed(names: list[str]) -> str:
    more = len(names) - SHOWN
    return ", ".join(names[:SHOWN]) + (f" and {more} more" if more > 0 else "")
