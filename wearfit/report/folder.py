"""Folders that are there whole or not at all, with a manifest by which anybody can tell that they still are."""

import json
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from wearfit.errors import Refusal

MANIFEST: Final = "manifest.json"


@contextmanager
def whole_folder(place: Path, about: dict[str, Any]) -> Iterator[Path]:
    """A folder to write into, which takes its place with its manifest when the block ends well, and leaves nothing where it does not.

    Parameters
    ----------
    place : Path
        Where it is to be: nothing, or an empty folder.
    about : dict
        What the manifest says beside the files' SHA-256; read when the block ends.

    Raises
    ------
    Refusal
        Status 2 where something is at the place, or the folder around it is not there; status 1 where it cannot be written.
    """
    if not place.absolute().parent.is_dir():
        raise Refusal(f"The folder '{place.absolute().parent}' does not exist.", "Make it, or name a place elsewhere.", 2)
    made: Path | None = None
    try:
        if place.exists() and (not place.is_dir() or any(place.iterdir())):
            raise Refusal(f"'{place}' holds something already, and nothing is written over.", "Name a new folder.", 2)
        made = Path(tempfile.mkdtemp(dir=place.absolute().parent, prefix=".wearfit-", suffix=".part"))
        yield made
        _write_manifest(made, about)
        made.chmod(0o755)
        if place.exists():
            place.rmdir()  # fails where somebody has put something into it meanwhile
        made.rename(place)
        made = None
    except OSError as error:
        raise Refusal(f"'{place}' cannot be written: {error.strerror}.", "Name a folder where you may write, with room enough.") from error
    finally:
        if made is not None:
            shutil.rmtree(made, ignore_errors=True)


def read_manifest(folder: Path) -> Mapping[str, Any] | None:
    """What the manifest of a folder says, its files checked against it; None where the folder has none.

    Raises
    ------
    Refusal
        Where a file is missing or is not what it was when it was written.
    """
    path = folder / MANIFEST
    if not path.is_file():
        return None
    try:
        manifest: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        files = {str(name): str(digest) for name, digest in manifest["files"].items()}
    except (ValueError, KeyError, AttributeError, TypeError) as error:
        raise Refusal(
            f"The {MANIFEST} of '{folder.name}' cannot be read.", "Export again, or delete it to hand over its files as they are."
        ) from error
    for name, digest in files.items():
        try:
            same = _digest(_inside(folder, name)) == digest
        except OSError:
            same = False
        if not same:
            raise Refusal(
                f"{name} of '{folder.name}' is missing or is not as it was exported.",
                f"Export again; or, if it was changed on purpose, delete {MANIFEST}, and the files are taken as they are.",
            )
    return manifest


def _inside(folder: Path, name: str) -> Path:
    path = (folder / name).resolve()
    if not path.is_relative_to(folder.resolve()):
        raise Refusal(f"The {MANIFEST} of '{folder.name}' names '{name}', which is not in it.", "Export again.")
    return path


def _write_manifest(folder: Path, about: Mapping[str, Any]) -> None:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    listed = {path.relative_to(folder).as_posix(): _digest(path) for path in files}
    text = json.dumps({**about, "files": listed}, indent=1, ensure_ascii=False)
    (folder / MANIFEST).write_text(f"{text}\n", encoding="utf-8")


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        total = sha256()
        while block := file.read(1 << 20):
            total.update(block)
    return total.hexdigest()
