"""Results of independent jobs as they come, each a file that is there whole or not at all, so that work broken off goes on."""

import io
import json
from collections.abc import Callable
from dataclasses import dataclass, fields
from hashlib import sha256
from pathlib import Path
from typing import Any, Final, Protocol

import numpy as np

from wearfit.errors import Refusal
from wearfit.report.whole import write_whole

KEY_DIGITS: Final = 32  # of 64: two jobs of one key in a thousand million million million
CONTENT_DIGITS: Final = 16


class Kept[R](Protocol):
    """What remembers results by their job's key."""

    @property
    def place(self) -> str:
        """Where they are, for the user."""
        ...

    def find(self, key: str) -> R | None:
        """The result of that key, None where there is none that can be trusted."""
        ...

    def keep(self, key: str, result: R) -> None:
        """Remember a result; whole when this returns, or not at all."""
        ...


@dataclass(frozen=True)
class KeptFiles[R]:
    """Results in a folder, a file each.

    Parameters
    ----------
    folder : Path
        Made where it is not there.
    pack, unpack : callable
        To the bytes of a file and back.
    suffix : str
        Of the files' names.
    """

    folder: Path
    pack: Callable[[R], bytes]
    unpack: Callable[[bytes], R]
    suffix: str

    @property
    def place(self) -> str:
        return str(self.folder)

    def find(self, key: str) -> R | None:
        path = self.file(key)
        return None if path is None else self.unpack(path.read_bytes())

    def keep(self, key: str, result: R) -> None:
        content = self.pack(result)
        try:
            self.folder.mkdir(exist_ok=True)
        except OSError as error:
            raise Refusal(
                f"The folder of results '{self.folder}' cannot be made: {error.strerror}.", "Name one where you may write.", 2
            ) from error
        write_whole(self.folder / f"{key}.{_digest(content)}{self.suffix}", content, b"")

    def file(self, key: str) -> Path | None:
        """The file of that key, None where there is none that is as it was written: its name has the digest of its content."""
        for path in sorted(self.folder.glob(f"{key}.*{self.suffix}")):
            if _digest(path.read_bytes()) == path.name.removeprefix(f"{key}.").removesuffix(self.suffix):
                return path
        return None


def job_key(*facts: object) -> str:
    """A name for a job that its inputs alone decide, the same in every process.

    Parameters
    ----------
    facts
        Whatever the result depends on: texts, numbers, dates, lists of these.
    """
    return sha256(json.dumps(facts, default=str).encode()).hexdigest()[:KEY_DIGITS]


def pack_arrays(value: Any) -> bytes:
    """A dataclass of NumPy arrays as bytes; texts in arrays of objects are written as texts."""
    file = io.BytesIO()
    arrays = {f.name: getattr(value, f.name) for f in fields(value)}
    np.savez_compressed(file, **{name: a.astype(str) if a.dtype == object else a for name, a in arrays.items()})
    return file.getvalue()


def unpack_arrays[T](kind: Callable[..., T], content: bytes) -> T:
    """The dataclass of arrays that `pack_arrays` wrote; nothing in the file is run."""
    with np.load(io.BytesIO(content), allow_pickle=False) as file:
        return kind(**{name: a.astype(object) if a.dtype.kind == "U" else a for name, a in file.items()})


def _digest(content: bytes) -> str:
    return sha256(content).hexdigest()[:CONTENT_DIGITS]
