"""DuckDB as it is used here: within a memory limit, in UTC, and with its errors as sentences."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from wearfit.errors import Refusal

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

LEAST_MB: Final = 100  # with less it cannot hold its own buffers
_GLOB: Final = "*?[]{}"


@dataclass(frozen=True)
class Limits:
    """What one process may use.

    Parameters
    ----------
    memory_mb : int
        Beyond it DuckDB goes on in temporary files. [MB]
    threads : int
    """

    memory_mb: int = 2_000
    threads: int = 1

    def __post_init__(self) -> None:
        if self.memory_mb < LEAST_MB or self.threads < 1:
            raise Refusal(f"{self.memory_mb} MB are too little to work with.", f"Give at least {LEAST_MB}, such as --memory 2000.", 2)


@contextmanager
def engine(limits: Limits) -> Iterator["DuckDBPyConnection"]:
    """A database in memory for one piece of work, its temporary files gone when the block ends.

    Raises
    ------
    Refusal
        Where DuckDB is not installed or needs more memory than it may use.
    """
    try:
        import duckdb
    except ImportError:
        raise Refusal("Press-cycle logs need DuckDB, which is not installed.", "Install it: `pip install 'wearfit[logs]'`.", 2) from None
    with tempfile.TemporaryDirectory(prefix="wearfit-") as spill:
        settings: dict[str, str | int | float | list[str]] = {
            "memory_limit": f"{limits.memory_mb}MB",
            "threads": limits.threads,
            "temp_directory": spill,
        }
        # Rows have no order here, and to keep one costs memory; what it lacks it is not to fetch from elsewhere.
        settings |= {"preserve_insertion_order": False, "autoinstall_known_extensions": False}
        with duckdb.connect(config=settings) as connection:
            connection.execute("SET TimeZone = 'UTC'")
            try:
                yield connection
            except duckdb.OutOfMemoryException as error:
                raise Refusal(
                    f"This needs more than the {limits.memory_mb:,} MB that a process may use, or the room for temporary files is full.",
                    "Allow it more by --memory, with fewer --processes.",
                ) from error


@contextmanager
def told(what: str) -> Iterator[None]:
    """Errors of DuckDB in a block as a sentence about what was read there."""
    import duckdb

    try:
        yield
    except (duckdb.OutOfMemoryException, duckdb.ParserException, duckdb.CatalogException):
        raise  # no fault of a file
    except duckdb.Error as error:
        said = str(error).strip().splitlines()[0].rstrip(".")
        raise Refusal(f"{what} cannot be read: {said}.", "Write the file again, or move it out of the folder.") from error


def literal(text: str) -> str:
    """A text as SQL writes it."""
    return "'" + text.replace("'", "''") + "'"


def name(text: str) -> str:
    """A column's name as SQL writes it."""
    return '"' + text.replace('"', '""') + '"'


def listed(paths: Iterator[Path] | tuple[Path, ...]) -> str:
    """Files as SQL writes a list of them.

    Raises
    ------
    Refusal
        Where a name would stand for several files.
    """
    texts = [str(path) for path in paths]
    for text in texts:
        if set(text) & set(_GLOB):
            raise Refusal(f"'{text}' has one of the signs {' '.join(_GLOB)} in its name.", "Give the file or folder another name.", 2)
    return f"[{', '.join(map(literal, texts))}]"
