"""Reader of the plain form: a folder of CSV files, one a table, or a single one of them."""

import csv
import io
from pathlib import Path

from wearfit.errors import Refusal
from wearfit.records.findings import Finding
from wearfit.records.identity import Row
from wearfit.records.names import offer, plain_name
from wearfit.records.readers.sheet import read_sheet
from wearfit.records.tables import TABLES, Table
from wearfit.records.upload import Upload, digest_of

SUFFIX = ".csv"

_BY_PLAIN_NAME = {plain_name(name): table for name, table in TABLES.items()}


def accepts(path: Path) -> bool:
    """Whether this reader is the one for the path: a folder, or a file that ends in .csv."""
    return path.is_dir() or path.suffix.lower() == SUFFIX


def read(path: Path) -> Upload:
    """Read a folder of CSV files, or one of them.

    Parameters
    ----------
    path : Path
        A folder with one file a table, or one CSV file named as its table. Comma between cells, UTF-8 with or without a
        byte order mark, dates as ISO 8601 writes them.

    Returns
    -------
    Upload
        Not every table need be there; what other tables must say is looked at where they are put together.

    Raises
    ------
    Refusal
        Where no file is named as a table, two are named as the same one, a file leads out of the folder, is empty, is not
        UTF-8 text with commas, or lacks a required column.
    """
    inside = _files_in(path) if path.is_dir() else [path]
    files = [file for file in inside if file.suffix.lower() == SUFFIX]
    known = [(file, _BY_PLAIN_NAME[name]) for file in files if (name := plain_name(file.stem)) in _BY_PLAIN_NAME]
    if not known:
        raise Refusal(
            f"No CSV file in '{path.absolute().name}' is named as a table.",
            f"Name each file as the table it holds: {', '.join(f'{name}.csv' for name in TABLES)}.",
        )
    _refuse_twins(known)
    contents = {file.name: _bytes_of(file) for file in files}
    rows: list[Row] = []
    findings = [_unknown_table(file) for file in files if file not in dict(known)]
    findings += [_other_form(file) for file in inside if file not in files and plain_name(file.stem) in _BY_PLAIN_NAME]
    counts: dict[str, int] = {}
    for file, table in sorted(known, key=lambda pair: list(TABLES).index(pair[1].name)):
        sheet = read_sheet(table, file.name, _cells(file.name, contents[file.name]))
        rows += sheet.rows
        findings += sheet.findings
        counts[table.name] = sheet.count
    kept = tuple(sorted(contents.items()))
    return Upload(path.absolute().name, digest_of(kept), kept, tuple(rows), tuple(findings), counts)


def _files_in(folder: Path) -> list[Path]:
    """The files of a folder, in order of their names; nothing outside the folder is followed."""
    try:
        entries = sorted(folder.iterdir())
    except OSError as error:
        raise Refusal(f"The folder '{folder.name}' cannot be opened: {error.strerror}.", "Check that it may be read.") from error
    root = folder.resolve()
    files = [entry for entry in entries if not entry.name.startswith(".") and entry.is_file()]
    for entry in files:
        if not entry.resolve().is_relative_to(root):
            raise Refusal(f"{entry.name} leads out of the folder '{root.name}'.", "Put the file itself into the folder.")
    return files


def _refuse_twins(known: list[tuple[Path, Table]]) -> None:
    seen: dict[str, str] = {}
    for file, table in known:
        if table.name in seen:
            raise Refusal(f"{seen[table.name]} and {file.name} are both named as the table {table.name}.", "Leave one of them out.")
        seen[table.name] = file.name


def _unknown_table(file: Path) -> Finding:
    repair = offer(file.stem, TABLES, "Nothing needs doing, or rename it if it is one of the tables.")
    return Finding(file.stem, None, None, file.name, f"{file.name} is not named as a table and was not read.", repair, "note")


def _other_form(file: Path) -> Finding:
    table = _BY_PLAIN_NAME[plain_name(file.stem)].name
    return Finding(table, None, None, file.name, f"{file.name} is not a CSV file and was not read.", "Save it as 'CSV UTF-8'.", "note")


def _bytes_of(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise Refusal(f"{file.name} cannot be opened: {error.strerror}.", "Check that the file is there and may be read.") from error


def _cells(name: str, content: bytes) -> list[list[str]]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Refusal(f"{name} is not UTF-8 text.", "Save it as 'CSV UTF-8'.") from None
    if "\0" in text:
        raise Refusal(f"{name} is not text.", "Save it as 'CSV UTF-8'.")
    # The csv module rather than a frame reader: one line with a comma too many must not cost the file, and the rows keep
    # the numbers that a spreadsheet shows. Strict, for a quote left open would swallow all the rows after it.
    lines = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        cells = list(lines)
    except csv.Error:
        problem = f"{name} has a double quote without its fellow near line {lines.line_num}."
        raise Refusal(problem, "Put it right, or save the file again as 'CSV UTF-8'.") from None
    if cells and len(cells[0]) == 1 and any(mark in cells[0][0] for mark in ";\t|"):
        raise Refusal(f"{name} has no commas between its columns.", "Save it with commas between the columns.")
    return cells
