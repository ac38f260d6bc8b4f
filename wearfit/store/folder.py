"""The folder of a store's file: whether another machine holds it, or a program carries its files to others behind SQLite's back."""

import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final

MOUNTS: Final = Path("/proc/self/mountinfo")
# Types of file systems that lie on another machine, as Linux names them; those in user space come as "fuse." and the program's name.
NETWORK: Final = re.compile(
    r"(nfs|cifs|smb|ncp|afs|9p|ceph|gluster|lustre|gpfs|beegfs|ocfs|gfs2?|coda|davfs|fuse\.(?!fuse|ext|ntfs|port|lxcfs|snap))"
)
_REMOTE_DRIVE: Final = 4  # DRIVE_REMOTE of GetDriveTypeW

# A word in the name of a folder above the store, and a file that a program leaves in a folder that it carries elsewhere.
SYNCED_NAME: Final = re.compile(r"cloud|dropbox|(?<![a-z])sync(ed|thing)?(?![a-z])|(?<!hard)(?<!disk)drive( - .*)?$", re.IGNORECASE)
SYNCED_MARKS: Final = re.compile(r"\.(st(folder|ignore)|dropbox.*|[a-z_]*sync[a-z0-9_]*(\..*)?)$", re.IGNORECASE)


def is_on_network(path: Path) -> bool:
    """Whether a file lies, or would lie, on a file system of another machine; False where the platform does not tell.

    Linux tells by the type of the file system, Windows by the kind of drive, macOS not at all.
    """
    if sys.platform == "win32":
        return _is_remote_drive(path)
    return NETWORK.match(file_system_of(path)) is not None


def folder_caution(path: Path) -> str:
    """What is to be said of the folder of a store, "" where nothing is."""
    if is_on_network(path):
        return (
            f"The store {path} lies on a network folder, where locks and power cuts are not as safe as on a disk of this machine. "
            "Keep it on one, or use a PostgreSQL server for a store that several machines share."
        )
    synced = synced_folder(path)
    if synced is not None:
        return (
            f"The store {path} lies in {synced}, which looks like a folder that another program copies to other machines: it may copy "
            "a half-written file, or put an older one in its place. Keep the store elsewhere, and copies of it there."
        )
    return ""


def file_system_of(path: Path, mounts: str | None = None) -> str:
    """The type of the file system that holds a path; "" where the platform does not tell.

    Parameters
    ----------
    mounts : str, optional
        The mounts as Linux lists them (proc(5), mountinfo); those of this process by default.
    """
    if mounts is None:
        try:
            mounts = MOUNTS.read_text(encoding="utf-8", errors="surrogateescape")
        except OSError:
            return ""
    real = path.resolve()
    # A later mount at one place lies over an earlier one.
    found = max(
        ((len(point.parts), place, kind) for place, (point, kind) in enumerate(_mounted(mounts)) if real.is_relative_to(point)),
        default=(0, 0, ""),
    )
    return found[2]


def synced_folder(path: Path) -> Path | None:
    """The innermost folder above a file that looks like one that a program carries to other machines."""
    for folder in path.parents:
        if SYNCED_NAME.search(folder.name):
            return folder
        try:
            if any(SYNCED_MARKS.match(entry.name) for entry in folder.glob(".*")):
                return folder
        except OSError:
            continue
    return None


def _mounted(mounts: str) -> Iterator[tuple[Path, str]]:
    for line in mounts.splitlines():
        left, _, right = line.partition(" - ")
        if len(left.split()) > 4 and right:
            # Blanks and the like in a name are written as a backslash and three octal digits.
            point = re.sub(r"\\([0-7]{3})", lambda code: chr(int(code[1], 8)), left.split()[4])
            yield Path(point), right.split()[0]


def _is_remote_drive(path: Path) -> bool:
    import ctypes

    if path.drive.startswith("\\\\"):  # a share by its name
        return True
    kernel = getattr(ctypes, "windll", None)
    return kernel is not None and kernel.kernel32.GetDriveTypeW(f"{path.drive}\\") == _REMOTE_DRIVE
