"""What is told, once a column, of the ways in which its cells were read."""

from collections.abc import Mapping, Sequence
from typing import Final

from wearfit.records.cells import quoted
from wearfit.records.findings import Finding, Severity
from wearfit.records.readers.grid import Cell
from wearfit.records.sheets.columns import TypedColumn, as_text
from wearfit.records.sheets.reading import Mark

_NOTHING: Final = "Nothing needs doing if that is right."
_MOST_WORDS: Final = 8  # other words of a column that are listed; more would not be read

# What stands in some cells, after "In 3 cells of cost"; the repair; the severity.
_SAID: Final[Mapping[Mark, tuple[str, str, Severity]]] = {
    "unseen": ("blanks or marks that no one sees were taken out, first in row {row}",
               "Nothing needs doing; typed again they do not come back.", "repaired"),
    "line break": ("a line break is read as a blank, first in row {row}", _NOTHING, "repaired"),
    "error": ("an error of a formula is read as blank, such as {typed} in row {row}",
              "Mend the formula, or type what is meant.", "repaired"),
    "blank word": ("a word that says that nothing is known is read as blank, such as '{typed}' in row {row}",
                   "Nothing needs doing.", "note"),
    "unit": ("a unit stands behind the number, such as '{typed}' in row {row}, read as {read}", _NOTHING, "note"),
    "factor": ("a word multiplies the number, such as '{typed}' in row {row}, read as {read}", _NOTHING, "repaired"),
    "thousands": ("a mark stands between thousands, such as '{typed}' in row {row}, read as {read}", _NOTHING, "note"),
    "year first": ("the year comes first, such as {typed} in row {row}, read as {read}", _NOTHING, "note"),
    "compact": ("nothing parts day, month and year, such as {typed} in row {row}, read as {read}", _NOTHING, "note"),
    "named": ("the month is in letters, such as '{typed}' in row {row}, read as {read}", _NOTHING, "note"),
    "serial": ("the day number of a spreadsheet stands, such as {typed} in row {row}, read as {read}",
               "Nothing needs doing if that is right; if not, format the column as dates.", "note"),
    "two digits": ("the year has two digits, such as {typed} in row {row}, read as {read}: 69 to 99 are taken as 1969 to 1999, the "
                   "others as 2000 to 2068", "Nothing needs doing if that is right; if not, write the whole year.", "note"),
    "time": ("a time of day stands, such as {typed} in row {row}, read as {read}; only the day is used", _NOTHING, "note"),
    "midnight": ("no time of day stands, such as {typed} in row {row}, read as {read}, as spreadsheets write midnight", _NOTHING, "note"),
    "first of month": ("a month stands without its day, such as '{typed}' in row {row}, read as its first, {read}",
                       "Nothing needs doing if that is right; if the day is known, write it.", "repaired"),
    "last of month": ("a month stands without its day, such as '{typed}' in row {row}, read as its last, {read}",
                      "Nothing needs doing if that is right; if the day is known, write it.", "repaired"),
    "month": ("the month is in another form than 2024-03, such as {typed} in row {row}, read as {read}", _NOTHING, "note"),
}  # fmt: skip

_WORDS: Final[Mapping[Mark, Severity]] = {"variant": "repaired", "flag word": "note"}


def told_of_marks(column: TypedColumn) -> list[Finding]:
    """One finding for each thing that was done to cells of the column."""
    if not column.marks:
        return []
    of_mark: dict[Mark, list[Cell]] = {}
    for cell in column.cells.distinct:
        for mark in column.marks.get(cell, ()):
            of_mark.setdefault(mark, []).append(cell)
    table, name, source = column.region.table.name, column.column.name, column.region.grid.source
    findings = []
    for mark, distinct in of_mark.items():
        first, count = distinct[0], column.cells.count(set(distinct))
        if mark in _WORDS:
            findings.append(Finding(table, None, name, as_text(first), _of_words(column, distinct, count), _NOTHING, _WORDS[mark], source))
            continue
        said, repair, severity = _SAID[mark]
        what = said.format(typed=quoted(as_text(first)), row=column.first_row(first), read=column.texts.get(first, ""))
        problem = f"In {cells_of(count)} of {name} {what}."
        findings.append(Finding(table, None, name, as_text(first), problem, repair, severity, source))
    return findings


def _of_words(column: TypedColumn, words: Sequence[Cell], count: int) -> str:
    listed = [f"'{quoted(as_text(cell))}' is read as {column.texts[cell]}" for cell in words[:_MOST_WORDS]]
    more = f", and so on for {len(words) - _MOST_WORDS} more" if len(words) > _MOST_WORDS else ""
    return f"In {column.column.name} {', '.join(listed)}{more} ({cells_of(count)})."


def cells_of(count: int) -> str:
    """A number of cells for a sentence."""
    return "1 cell" if count == 1 else f"{count:,} cells"
