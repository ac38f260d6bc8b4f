"""The way in: the reader for what was handed over."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from wearfit.errors import Refusal
from wearfit.records.readers import folder
from wearfit.records.upload import Upload


@dataclass(frozen=True)
class Reader:
    """A form of records: whether a path has it, and how to read it."""

    form: str
    accepts: Callable[[Path], bool]
    read: Callable[[Path], Upload]


READERS: tuple[Reader, ...] = (Reader("a folder of CSV files, or one CSV file", folder.accepts, folder.read),)

NOT_READ_YET = {".xlsx": "An XLSX workbook", ".xls": "An XLS workbook", ".ods": "An ODS workbook", ".zip": "A ZIP archive"}


def read(path: str | Path) -> Upload:
    """Read records in whatever form they are.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Upload

    Raises
    ------
    Refusal
        Status 2 where there is nothing at the path or no reader for its form, status 1 where its reader cannot read it.
    """
    path = Path(path)
    if not path.exists():
        raise Refusal(f"There is nothing at '{path}'.", "Give the folder that holds the records.", status=2)
    for reader in READERS:
        if reader.accepts(path):
            return reader.read(path)
    form = NOT_READ_YET.get(path.suffix.lower())
    if form:
        raise Refusal(f"{form} cannot be read yet.", "Save each sheet as 'CSV UTF-8' in one folder and give the folder.", status=2)
    forms = "; ".join(reader.form for reader in READERS)
    raise Refusal(f"'{path.name}' is not records in a form that can be read.", f"Give one of these: {forms}.", status=2)
