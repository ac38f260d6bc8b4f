"""Where a worker that is kept warm is found: a folder of this user alone, and a name for this very program."""

import hashlib
import logging
import os
import socket
import stat
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import wearfit
from wearfit.model.code_version import program_digest

_log = logging.getLogger(__name__)

SUPPORTED: Final = hasattr(socket, "AF_UNIX") and hasattr(os, "fork")
NAME_LENGTH: Final = 16
LONGEST_ADDRESS: Final = 100  # bytes of a socket's address, with some to spare on every platform


@dataclass(frozen=True)
class Place:
    """Where the worker of one version of the program is found."""

    folder: Path
    digest: str

    @property
    def address(self) -> str:
        return str(self.folder / f"{self.digest}.sock")

    @property
    def card(self) -> Path:
        """The file with the key to it; there as long as it is."""
        return self.folder / f"{self.digest}.json"

    @property
    def lock(self) -> Path:
        """Held by it for as long as it lives, so that there is one."""
        return self.folder / f"{self.digest}.lock"


def own_folder() -> Path:
    """The user's folder for it, whether or not it is there."""
    runtime = os.environ.get("XDG_RUNTIME_DIR")
    if runtime and Path(runtime).is_dir():
        return Path(runtime) / "wearfit"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "wearfit"


def own_place(make: bool = False) -> Place | None:
    """The place of workers of this very program, as run by this interpreter.

    Parameters
    ----------
    make : bool
        Whether to make the folder where there is none.

    Returns
    -------
    Place or None
        None where the platform has no such sockets, there is no folder, or it is not safe, which is logged.
    """
    folder = own_folder()
    if not SUPPORTED or not (make or folder.is_dir()):
        return None
    try:
        if make:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        fault = fault_of(folder)
    except OSError as error:
        fault = str(error)
    if fault:
        _log.warning("No worker is kept warm: %s.", fault)
        return None
    # By where it lies too: one that serves from a folder that is gone could load nothing more.
    name = "\0".join((program_digest(), sys.executable, wearfit.__file__))
    return Place(folder, hashlib.sha256(name.encode()).hexdigest()[:NAME_LENGTH])


def fault_of(folder: Path) -> str:
    """Why a folder is not safe to meet a worker in, "" where it is."""
    seen = folder.lstat()
    if not stat.S_ISDIR(seen.st_mode):
        return f"{folder} is no folder"
    if seen.st_uid != os.geteuid():
        return f"the folder {folder} is another user's"
    if seen.st_mode & 0o022:
        return f"others may write in the folder {folder}; take that right away (chmod 700)"
    if len(os.fsencode(folder)) > LONGEST_ADDRESS - len("/.sock") - NAME_LENGTH:
        return f"the name of the folder {folder} is too long for a socket in it"
    return ""


def all_places() -> list[Place]:
    """Places in the user's folder where a worker is, or was."""
    folder = own_folder()
    if not SUPPORTED or not folder.is_dir() or fault_of(folder):
        return []
    return [Place(folder, card.stem) for card in sorted(folder.glob("*.json"))]
