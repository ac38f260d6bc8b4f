"""A CSV file beside a question: its rows as cells by column."""

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from wearfit.errors import Refusal
from wearfit.records.cells import Unreadable, canonical, clean
from wearfit.records.columns import Column
from wearfit.records.names import plain_name
from wearfit.records.readers.text_file import read_text_file


@dataclass(frozen=True)
class AskedRow:
    """A row of such a file.

    Parameters
    ----------
    number : int
        As a spreadsheet counts it, from 1.
    cells : dict of str to str
        As typed, by column.
    """

    number: int
    cells: dict[str, str]


def read_asked_file(path: Path, one: str, columns: Sequence[Column]) -> list[AskedRow]:
    """Rows of a CSV file with these columns, in any order; columns beside them are passed over, blank rows too.

    Parameters
    ----------
    one : str
        What a row is: "run".

    Raises
    ------
    Refusal
        Status 2, where the file cannot be read, lacks a required column or has no row.
    """
    what = f"The file of {one}s"
    text = read_text_file(path, what, "CSV")
    names = ", ".join(column.name for column in columns if column.required)
    try:
        lines = list(enumerate(csv.reader(io.StringIO(text, newline=""), strict=True), 1))
    except csv.Error:
        raise Refusal(f"{what} '{path}' has a double quote without its fellow.", "Save it again as 'CSV UTF-8'.", 2) from None
    (_, header), *rows = [(number, row) for number, row in lines if any(map(clean, row))] or [(0, [])]
    places = {plain_name(clean(name)): place for place, name in enumerate(header)}
    absent = [column.name for column in columns if column.required and plain_name(column.name) not in places]
    if absent:
        raise Refusal(f"{what} '{path}' has no column {' and no column '.join(absent)}.", f"Its first row must name {names}.", 2)
    if not rows:
        raise Refusal(f"{what} '{path}' has no row below its header.", f"Write one row for each {one}.", 2)

    def cell(row: list[str], column: Column) -> str:
        place = places.get(plain_name(column.name), len(row))
        return row[place] if place < len(row) else ""

    return [AskedRow(number, {column.name: cell(row, column) for column in columns}) for number, row in rows]


def canonical_cells(cells: Mapping[str, str], columns: Sequence[Column]) -> dict[str, str]:
    """Canonical text of each cell.

    Raises
    ------
    Unreadable
        Where a cell cannot hold what its column means, or a required one is blank.
    """
    values = {column.name: canonical(column, cells.get(column.name, "")) for column in columns}
    for column in columns:
        if column.required and not values[column.name]:
            raise Unreadable(f"{column.name} is blank.", "Fill it in.")
    return values
