"""Reader of a ZIP archive: its members as if they lay in a folder, unpacked in memory and nowhere else."""

import re
import stat
import zipfile
from collections import Counter
from pathlib import Path
from typing import Final

from wearfit.errors import Refusal
from wearfit.records.findings import shown
from wearfit.records.readers import handover, zips
from wearfit.records.readers.handover import Handover
from wearfit.records.readers.limits import ALL_BYTES, FILE_BYTES, NAME

_DRIVE = re.compile(r"[A-Za-z]:")
_UNIX: Final = 3  # the system whose archives carry a file's kind in the upper half of its attributes


def accepts(path: Path) -> bool:
    """Whether the path is a file with the ending of an archive."""
    return path.is_file() and path.suffix.lower() in handover.ARCHIVE_ENDINGS


def files_of_archive(path: Path) -> Handover:
    """The members of a ZIP file that have the ending of a form that is read.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Handover
        A folder that wraps all members is taken off their names.

    Raises
    ------
    Refusal
        Where the file is no archive, is damaged or protected, unpacks to too much, or a member leads out of it or comes twice.
    """
    content = handover.bytes_of(path)
    if not zips.is_zip(content):
        raise Refusal(f"{path.name} is not a ZIP archive, or is damaged.", "Pack the records again, or hand over the folder itself.")
    return unpacked(path.name, content)


def unpacked(name: str, content: bytes, all_bytes: int = ALL_BYTES, file_bytes: int = FILE_BYTES) -> Handover:
    """The same for the bytes of an archive, with the limits as arguments."""
    archive = zips.opened(name, content)
    entries = archive.infolist()
    for entry in entries:
        _refuse_way_out(name, entry)
    names = [entry.filename for entry in entries if not any(map(handover.is_leftover, entry.filename.split("/")))]
    twice = [member for member, count in Counter(names).items() if count > 1]
    if twice:
        raise Refusal(f"{name} holds two files named {shown(twice[0], NAME)}.", "Rename or leave out one of them.")
    wrap = _wrapping_folder(names)
    inner = {entry.filename.removeprefix(wrap): entry for entry in entries if entry.filename in names and not entry.is_dir()}
    top = {member: entry for member, entry in inner.items() if "/" not in member}
    wanted = sorted(member for member in top if handover.is_read(member))
    handover.check_count(name, len(wanted))
    files = []
    left = all_bytes
    for member in wanted:
        unpacked_bytes = b"".join(zips.pieces(archive, top[member], name, min(left, file_bytes)))
        left -= len(unpacked_bytes)
        files.append((member, unpacked_bytes))
    others = [member for member in top if member not in wanted]
    return Handover(tuple(files), handover.left_out(others, {member.split("/")[0] for member in inner if "/" in member}))


def _refuse_way_out(name: str, entry: zipfile.ZipInfo) -> None:
    """Refuse a member that would lead elsewhere if it were put on a disk. None is, but such an archive is not an owner's."""
    # As it stands in the archive: the standard library cuts a name at a NUL and turns the marks of its own system.
    member = entry.orig_filename
    parts = member.split("/")
    leads_out = member.startswith("/") or ".." in parts or "\\" in member or "\0" in member or _DRIVE.match(member)
    kind = stat.S_IFMT(entry.external_attr >> 16) if entry.create_system == _UNIX else 0
    if leads_out or kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        raise Refusal(f"{shown(member, NAME)} in {name} leads out of the folder.", "Pack the files themselves, and hand that over.")


def _wrapping_folder(names: list[str]) -> str:
    """The one folder that all members lie in, with its slash, or ""."""
    first = {member.split("/")[0] for member in names}
    is_wrapped = len(first) == 1 and all("/" in member for member in names)
    return f"{first.pop()}/" if is_wrapped else ""
