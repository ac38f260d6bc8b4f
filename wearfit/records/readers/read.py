"""The way in: whatever an owner hands over, as rows and what was noticed."""

import datetime as dt
from pathlib import Path

from wearfit.records.choices import Choices
from wearfit.records.readers.forms import files_of, grids_of
from wearfit.records.readers.handover import Handover
from wearfit.records.sheets.interpret import interpret
from wearfit.records.upload import Upload


def read(path: str | Path, choices: Choices = Choices(), today: dt.date | None = None) -> Upload:  # noqa: B008
    """Read records in whatever form they are.

    Parameters
    ----------
    path : str or Path
    choices : Choices
        What the user has decided about files that can be read in more than one way.
    today : date or None
        Rows dated later are set aside; None where that is not looked at.

    Returns
    -------
    Upload
        Not every table need be there; what other tables must say is looked at where they are put together.

    Raises
    ------
    Refusal
        Status 2 where there is nothing at the path or no reader for its form, status 1 where it cannot be read.
    """
    path = Path(path)
    return read_handed(path.absolute().name, files_of(path), choices, today)


def read_handed(name: str, handed: Handover, choices: Choices = Choices(), today: dt.date | None = None) -> Upload:  # noqa: B008
    """Read files that are at hand already.

    Parameters
    ----------
    name : str
        What they are called together.
    handed : Handover
    choices, today
        As of `read`.

    Raises
    ------
    Refusal
        Where they cannot be read.
    """
    grids, findings = grids_of(handed.files, choices)
    return interpret(name, handed.files, grids, (*handed.findings, *findings), choices, today)
