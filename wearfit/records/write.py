"""Records written back as a folder of CSV files that can be read again."""

import csv
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import pandas as pd

from wearfit.errors import Refusal
from wearfit.records.columns import Table
from wearfit.records.formulas import kept_as_text
from wearfit.records.frames import row_texts
from wearfit.records.identity import Row
from wearfit.records.records import Records
from wearfit.records.tables import TABLES

# With one to three digits before its only mark and three behind, a number can be read as thousands.
_TEXTS = ("text", "choice")
_TWO_WAYS = re.compile(r"(<?-?[1-9]\d{0,2}\.\d{3})", re.ASCII)


def write_folder(records: Records | Mapping[str, pd.DataFrame], folder: str | Path) -> tuple[Path, ...]:
    """Write the records in use, one CSV file a table, without loss.

    Parameters
    ----------
    records : Records or mapping of str to DataFrame
        Records, or typed tables as they have them.
    folder : str or Path
        Made where it is not there.

    Returns
    -------
    tuple of Path
        The files written: the tables that have rows, and every required one.

    Raises
    ------
    Refusal
        Where a file of that name is there already.
    """
    frames = records.tables if isinstance(records, Records) else records
    sheets = {
        name: (table.names, _unmistakable(table, table.names, row_texts(table, frames[name])))
        for name, table in TABLES.items()
        if name in frames and (table.required or len(frames[name]))
    }
    return _write(sheets, Path(folder))


def write_rows(rows: Iterable[Row], folder: str | Path, empty: Iterable[str] = ()) -> tuple[Path, ...]:
    """Write rows as they are stored, used or not, with the columns that wearfit does not know.

    As `write_folder`, for rows; of `empty`, tables that were handed over without one, the header alone.
    """
    of_table: dict[str, list[Row]] = {table: [] for table in empty}
    for row in rows:
        of_table.setdefault(row.table, []).append(row)
    sheets = {}
    for name, table in TABLES.items():
        if name in of_table:
            others = dict.fromkeys(header for row in of_table[name] for header in row.values if header not in table.names)
            header = (*table.names, *others)
            cells = [tuple(row.values.get(cell, "") for cell in header) for row in of_table[name]]
            sheets[name] = (header, _unmistakable(table, header, cells))
    return _write(sheets, Path(folder))


def _unmistakable(table: Table, header: Sequence[str], rows: Sequence[Sequence[str]]) -> list[tuple[str, ...]]:
    """The cells, with a nought behind each number whose point could be taken for a mark between thousands, 62.125 is 62.1250;
    and with the mark of a text before what a spreadsheet would take for a formula."""
    numbered = {place for place, name in enumerate(header) if name in table.names and table.column(name).kind in ("number", "value")}
    texts = {place for place, name in enumerate(header) if name not in table.names or table.column(name).kind in _TEXTS}
    return [
        tuple(
            cell + "0" if place in numbered and _TWO_WAYS.fullmatch(cell) else kept_as_text(cell) if place in texts else cell
            for place, cell in enumerate(cells)
        )
        for cells in rows
    ]


def _write(sheets: Mapping[str, tuple[Sequence[str], Sequence[Sequence[str]]]], folder: Path) -> tuple[Path, ...]:
    files = {folder / f"{name}.csv": sheet for name, sheet in sheets.items()}
    present = [file for file in files if file.exists()]
    if present:
        raise Refusal(f"{present[0].name} is already in '{folder.name}'.", "Give an empty folder.", status=2)
    folder.mkdir(parents=True, exist_ok=True)
    for file, (header, cells) in files.items():
        with file.open("x", encoding="utf-8", newline="") as stream:
            writer = csv.writer(stream, lineterminator="\n")
            writer.writerow(map(kept_as_text, header))
            writer.writerows(cells)
    return tuple(files)
