"""A text file as a grid: its encoding, what parts its columns, its cells."""

import csv
import io
from collections.abc import Mapping
from itertools import islice
from pathlib import PurePosixPath
from typing import Final

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.readers.delimiters import delimiter_of, named_delimiter
from wearfit.records.readers.encodings import Encoding, encoding_of, said
from wearfit.records.readers.grid import Cell, Grid
from wearfit.records.readers.handover import table_named
from wearfit.records.readers.limits import BOUNDS, CELL_CHARACTERS, Bounds

_HEAD: Final = 64 * 1024  # characters by which the delimiter is told; judgement

Rows = list[tuple[Cell, ...]]


def grid_of_text(
    name: str,
    content: bytes,
    choices: Choices,
    pooled: Mapping[str, int],
    bounds: Bounds = BOUNDS,
) -> tuple[Grid | None, tuple[Finding, ...]]:
    """Read the bytes of a text file.

    Parameters
    ----------
    name : str
        Of the file, with its ending.
    content : bytes
    choices : Choices
    pooled : mapping of str to int
        What the files that came with it tell of encodings: `encodings.oddness_by_codec`.
    bounds : Bounds

    Returns
    -------
    Grid or None
        None where no cell is filled.
    tuple of Finding
        One where the encoding is a guess.

    Raises
    ------
    Refusal
        Where it is not text, not in the encoding chosen, a double quote is left open, or there are too many rows or columns.
    """
    encoding = encoding_of(name, content, choices.encoding_of(name), pooled)
    try:
        delimiter, lines = _parted(content, encoding)
        rows = _rows(name, delimiter, lines, bounds)
    except UnicodeError:  # some that may be chosen decode a whole and not its parts
        raise Refusal(f"{name} cannot be read as {encoding.codec}.", "Choose another encoding for it.") from None
    if not any(any(map(_is_filled, row)) for row in rows):
        return None, ()
    stem = PurePosixPath(name).stem
    return Grid(name, stem, rows, semicolons=delimiter == ";"), _told(name, encoding)


def _parted(content: bytes, encoding: Encoding) -> tuple[str, io.TextIOWrapper]:
    """What parts the columns, and the lines from the first that holds cells."""
    head = _lines(content, encoding)
    named = named_delimiter(head.readline(_HEAD))
    lines = _lines(content, encoding)
    if named is not None:
        # No row of the sheet: a spreadsheet that opens the file does not show it.
        lines.readline()
        return named, lines
    head.seek(0)
    return delimiter_of(head.read(_HEAD)), lines


def _lines(content: bytes, encoding: Encoding) -> io.TextIOWrapper:
    # Decoded as it is read, with its line ends as they are: no second copy of the text, and a cell over two lines stays whole.
    return io.TextIOWrapper(io.BytesIO(content), encoding.codec, newline="")


def _rows(name: str, delimiter: str, lines: io.TextIOWrapper, bounds: Bounds) -> Rows:
    # For the whole process, for the library has no other way; a long cell is for its reader to judge.
    csv.field_size_limit(CELL_CHARACTERS)
    # The csv module rather than a frame reader: one line with a delimiter too many must not cost the file, and the rows keep
    # the numbers that a spreadsheet shows. Strict, for a quote left open would swallow all the rows after it.
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    memo: dict[str, str] = {}
    share = memo.setdefault  # a word that stands in thousands of rows is held once
    rows: Rows = []
    try:
        rows.extend(tuple(map(share, row, row)) for row in islice(reader, bounds.rows + 1))
    except csv.Error:
        problem = f"{name} has a double quote without its fellow in the row that begins at line {_line_after(delimiter, lines)}."
        raise Refusal(problem, "Put it right, or save the file again as 'CSV UTF-8'.") from None
    if len(rows) > bounds.rows:
        raise Refusal(f"{name} has more than {bounds.rows:,} rows.", "Split it, by year or by plant, and hand over the parts.")
    widest = max(map(len, rows), default=0)
    if widest > bounds.columns:
        problem = f"{name} has a row of {widest:,} cells; at most {bounds.columns:,} are read."
        raise Refusal(problem, "Check what parts its columns, and save it again as 'CSV UTF-8'.")
    return rows


def _line_after(delimiter: str, lines: io.TextIOWrapper) -> int:
    """Line after the last row that could be read: looked for anew, for counting along would slow every file."""
    lines.seek(0)
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    line = 0
    try:
        for _ in reader:
            line = reader.line_num
    except csv.Error:
        pass
    return line + 1


def _is_filled(cell: Cell) -> bool:
    return not isinstance(cell, str) or bool(cell.strip())


def _told(name: str, encoding: Encoding) -> tuple[Finding, ...]:
    if encoding.sure:
        return ()
    problem, repair = said(name, encoding)
    return (Finding(table_named(name), None, None, encoding.codec, problem, repair, "note", name),)
