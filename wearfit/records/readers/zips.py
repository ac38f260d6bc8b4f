"""ZIP files, which workbooks are too, unpacked piece by piece and never past a limit."""

import io
import struct
import zipfile
import zlib
from collections.abc import Iterator
from typing import Final

from wearfit.errors import Refusal
from wearfit.records.findings import shown
from wearfit.records.readers.limits import ENTRIES, NAME, size_text

PIECE: Final = 256 * 1024  # bytes unpacked at a time
SMALL: Final = 8 * 1024 * 1024  # bytes of a part that only lists others

_ENTRY_MARK = b"PK\x01\x02"
# What the standard library raises over a damaged archive, its own errors and those of what it calls.
_DAMAGE = (zipfile.BadZipFile, zlib.error, EOFError, struct.error, ValueError, OSError, NotImplementedError, OverflowError, RuntimeError)
# The other methods cannot be unpacked a piece at a time: a few bytes of them may hold hundreds of megabytes.
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED = 0x1


def is_zip(content: bytes) -> bool:
    """Whether the bytes begin as a ZIP file does."""
    return content.startswith((b"PK\x03\x04", b"PK\x05\x06"))


def opened(name: str, content: bytes) -> zipfile.ZipFile:
    """The directory of a ZIP file; nothing is unpacked.

    Parameters
    ----------
    name : str
        For messages.
    content : bytes

    Raises
    ------
    Refusal
        Where it is damaged or has too many entries.
    """
    # Counted in the bytes, before a directory of millions of entries is made into objects.
    entries = content.count(_ENTRY_MARK)
    if entries > ENTRIES:
        raise Refusal(f"{name} holds about {entries:,} files; at most {ENTRIES:,} are read.", "Leave out what is not records.")
    try:
        return zipfile.ZipFile(io.BytesIO(content))
    except _DAMAGE:
        raise damaged(name) from None


def pieces(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, name: str, limit: int) -> Iterator[bytes]:
    """Unpack one entry, a piece at a time.

    Parameters
    ----------
    archive : ZipFile
    entry : ZipInfo
        Its sizes are not believed: what is unpacked is counted.
    name : str
        Name of the archive, for messages.
    limit : int
        Bytes that may be unpacked.

    Raises
    ------
    Refusal
        Where the limit is passed, or the entry is damaged, protected or packed by a method that is not read.
    """
    if entry.flag_bits & _ENCRYPTED:
        raise Refusal(f"{name} is protected with a password and cannot be read.", "Save it without the password.")
    if entry.compress_type not in _METHODS:
        raise Refusal(f"{name} is packed by a method that is not read.", "Pack it again as an ordinary ZIP file.")
    left = limit
    try:
        with archive.open(entry) as packed:
            while piece := packed.read(PIECE):
                left -= len(piece)
                if left < 0:
                    break
                yield piece
    except _DAMAGE:
        raise damaged(name) from None
    if left < 0:
        problem = f"{name} unpacks to more than the {size_text(limit)} that are still allowed, by {shown(entry.filename, NAME)}."
        raise Refusal(problem, "Hand over fewer records at a time, or leave out what is not records.")


def damaged(name: str) -> Refusal:
    return Refusal(f"{name} is damaged and cannot be unpacked.", "Save or copy it again.")
