"""What a reader hands over: the bytes as they came, the rows they hold and what was noticed."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from wearfit.records.findings import Finding
from wearfit.records.identity import Row


@dataclass(frozen=True)
class Upload:
    """One hand-over of records, read but not yet set against other tables.

    Parameters
    ----------
    name : str
        Name of the folder or file, without the folders above it.
    digest : str
        SHA-256 of the names and bytes, in hexadecimal; the same for the same files whatever their order.
    files : tuple of (str, bytes)
        Names and bytes as they came.
    rows : sequence of Row
        Rows that can be read, in the order of the files; as `Rows` a large history takes little room.
    findings : tuple of Finding
    counts : mapping of str to int
        Rows in the file of each table, whether they can be read or not.
    """

    name: str
    digest: str
    files: tuple[tuple[str, bytes], ...]
    rows: Sequence[Row]
    findings: tuple[Finding, ...]
    counts: Mapping[str, int]

    @property
    def empty_tables(self) -> tuple[str, ...]:
        """Tables handed over with a header and not one row."""
        return tuple(name for name, count in self.counts.items() if count == 0)


def digest_of(files: Iterable[tuple[str, bytes]]) -> str:
    """SHA-256 over (name, bytes) in the order of the names, in hexadecimal."""
    total = hashlib.sha256()
    for name, content in sorted(files):
        # Lengths keep apart files that would run together into the same bytes.
        total.update(f"{len(name.encode())} {len(content)}\n".encode())
        total.update(name.encode())
        total.update(content)
    return total.hexdigest()
