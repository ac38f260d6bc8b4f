"""Write the template that an owner fills in."""

from pathlib import Path
from typing import Any

from wearfit.errors import Refusal
from wearfit.records.tables import TABLES


def write_template(path: Path) -> dict[str, Any]:
    """Write the template workbook to a new file.

    Parameters
    ----------
    path : Path
        Ends in .xlsx, in a folder that is there.

    Returns
    -------
    dict
        The path, and how many tables and columns the workbook explains.

    Raises
    ------
    Refusal
        Status 2 for another ending, a folder that is not there or a file that is; status 1 where it cannot be written.
    """
    from wearfit.records.template import template

    if path.suffix.lower() != ".xlsx":
        raise Refusal(f"The template is a workbook, and '{path.name}' does not end in .xlsx.", "Give a name such as records.xlsx.", 2)
    if not path.parent.is_dir():
        raise Refusal(f"The folder '{path.parent}' does not exist.", "Make it, or name a file elsewhere.", 2)
    content = template()
    try:
        with path.open("xb") as file:
            file.write(content)
    except FileExistsError:
        raise Refusal(
            f"There is a file '{path}' already, and it is not written over.", "Give another name, or move that file away.", 2
        ) from None
    except OSError as error:
        raise Refusal(f"'{path}' cannot be written: {error.strerror}.", "Name a file in a folder where you may write.") from error
    columns = sum(len(table.columns) for table in TABLES.values())
    return {"as_of": None, "calibration": None, "fingerprint": None, "path": str(path), "tables": len(TABLES), "columns": columns}
