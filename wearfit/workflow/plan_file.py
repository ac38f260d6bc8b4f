"""A plan in a CSV file, with the columns of the records' table `plan`."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from wearfit.errors import Refusal
from wearfit.forecasts.plan_given import PlanRow
from wearfit.records.cells import Unreadable, canonical, clean
from wearfit.records.names import plain_name
from wearfit.records.readers.text_file import read_text_file
from wearfit.records.tables import PLAN

COLUMNS: Final = tuple(column.name for column in PLAN.columns)


@dataclass(frozen=True)
class FileRow:
    """One row of the file, or why it is none.

    Parameters
    ----------
    number : int
        As a spreadsheet counts it, the header as 1.
    row : PlanRow or None
    problem : str
        In a sentence with its repair, where `row` is None.
    """

    number: int
    row: PlanRow | None
    problem: str = ""


def read_plan(path: Path) -> list[FileRow]:
    """Rows of a plan, columns in any order; columns beside them are passed over.

    Raises
    ------
    Refusal
        Status 2, where the file cannot be read, lacks a column or holds no row.
    """
    return plan_rows(read_text_file(path, "The plan", "CSV"), f"The plan '{path}'")


def plan_rows(text: str, what: str) -> list[FileRow]:
    """The same of a file's text; `what` begins the sentences that refuse it."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        lines = [(reader.line_num, row) for row in reader if any(map(clean, row))]
    except csv.Error:
        raise Refusal(f"{what} has a double quote without its fellow.", "Save it again as 'CSV UTF-8'.", 2) from None
    header = lines[0][1] if lines else []
    places = {plain_name(clean(name)): place for place, name in enumerate(header)}
    for among in (("month",), ("tool_id", "design_id", "product_id"), ("shots", "units")):
        if not any(plain_name(name) in places for name in among):
            raise Refusal(f"{what} has no column {' or '.join(among)}.", f"Its first row must name columns of {', '.join(COLUMNS)}.", 2)
    if len(lines) < 2:
        raise Refusal(f"{what} has no row below its header.", "Write one row for each month and tool or design.", 2)

    def cells(row: list[str]) -> dict[str, str]:
        of = {name: places.get(plain_name(name), len(row)) for name in COLUMNS}
        return {name: row[place] if place < len(row) else "" for name, place in of.items()}

    return [_row(number, cells(row)) for number, row in lines[1:]]


def _row(number: int, cells: dict[str, str]) -> FileRow:
    values = {}
    for column in PLAN.columns:
        try:
            values[column.name] = canonical(column, cells[column.name])
        except Unreadable as unreadable:
            return FileRow(number, None, f"{unreadable.problem} {unreadable.repair}")
    if not values["month"]:
        return FileRow(number, None, "month is blank. Fill it in, as YYYY-MM.")
    if not values["shots"] and not values["units"]:
        return FileRow(number, None, "Neither shots nor units are given. Fill in one of them.")
    shots, units = (float(values[name]) if values[name] else None for name in ("shots", "units"))
    names = {name: values[name] for name in ("month", "tool_id", "design_id", "product_id", "plant_id", "resin_id")}
    return FileRow(number, PlanRow(**names, shots=shots, units=units))
