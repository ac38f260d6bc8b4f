"""Files that are there whole or not at all."""

import os
import tempfile
from pathlib import Path

from wearfit.errors import Refusal


def write_whole(path: Path, content: bytes, begins: bytes) -> None:
    """Write a file beside its place and put it there when it is complete, so that never half of it is left.

    Parameters
    ----------
    path : Path
        A file of the same kind that lies there is replaced.
    content : bytes
    begins : bytes
        What a file of this kind begins with.

    Raises
    ------
    Refusal
        Status 2 where the folder is not there, or something of another kind lies at the path; status 1 where it cannot be written.
        Nothing is left then, and what lay there is as it was.
    """
    if not path.parent.is_dir():
        raise Refusal(f"The folder '{path.parent}' does not exist.", "Make it, or name a file elsewhere.", 2)
    if path.is_dir():
        raise Refusal(f"'{path}' is a folder.", "Name a file in it.", 2)
    made: Path | None = None
    try:
        if path.exists():
            with path.open("rb") as there:
                if there.read(len(begins)) != begins:
                    raise Refusal(
                        f"'{path}' holds something else, and it is not written over.", "Give another name, or move that file away.", 2
                    )
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".wearfit-", suffix=".part")
        made = Path(name)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        made.chmod(0o666 & ~_umask())
        made.replace(path)
        made = None
    except OSError as error:
        raise Refusal(f"'{path}' cannot be written: {error.strerror}.", "Name a file in a folder where you may write.") from error
    finally:
        if made is not None:
            made.unlink(missing_ok=True)


def _umask() -> int:
    """What the user keeps from new files; it can only be read by setting it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
