"""What is said of the rows around a table's records: titles, footers, totals."""

from collections.abc import Sequence
from typing import Final

from wearfit.records.findings import Finding, Severity, listed
from wearfit.records.readers.grid import Grid
from wearfit.records.sheets.header_units import speaks_of_thousands
from wearfit.records.sheets.headers import LONGEST, text_of
from wearfit.records.sheets.sections import Section
from wearfit.records.sheets.told import rows_text

QUOTED_ROWS: Final = 20  # of the lines that are no records; more would bury what else is found
WRITE_IN_FULL: Final = "If it does, write the counts in full, or write the unit into the header of the column, such as 'Shots [k]'."


def row_findings(grid: Grid, section: Section) -> list[Finding]:
    """What is said of the rows around a table's records."""
    table = section.match.table
    findings: list[Finding] = []

    def say(row: int | None, value: str, problem: str, repair: str, severity: Severity = "note") -> None:
        findings.append(Finding(table.name, row, None, value[:LONGEST], problem, repair, severity, grid.source))

    if section.above:
        texts = [_row_text(grid, section, row) for row in section.above]
        like_records = [row for row in section.above if _looks_like_record(grid, section, row)]
        quoted = f"{rows_text(section.above)} above the header in row {section.header.row + 1}"
        if like_records:
            look, read = ("looks like a record", "was") if len(section.above) == 1 else ("look like records", "were")
            problem = f"{quoted} {look} without a header and {read} not read."
            say(None, texts[section.above.index(like_records[0])], problem, "Give what stands there a header of its own.", "set_aside")
        else:
            title = " / ".join(texts)
            say(None, title, f"{quoted}, {_quote(title)}, {_is(section.above)} taken for a title and not read.", "Nothing needs doing.")
        for text in filter(speaks_of_thousands, texts):
            say(None, text, _in_thousands("above the header", text), WRITE_IN_FULL)
    for left in section.left_out:
        if left.kind == "text" and speaks_of_thousands(left.text):
            say(left.row + 1, left.text, _in_thousands("below the records", left.text), WRITE_IN_FULL)
    for left in section.left_out[:QUOTED_ROWS]:
        what = "a total" if left.kind == "total" else "a line of text"
        repair = f"Nothing needs doing; if it is a record, fill in {listed([column.name for column in table.columns if column.required])}."
        say(left.row + 1, left.text, f"The row {_quote(left.text)} is {what} and no record; it was left out.", repair)
    if more := section.left_out[QUOTED_ROWS:]:
        problem = (
            f"{len(more)} more rows, from row {more[0].row + 1} to row {more[-1].row + 1}, are totals or lines of text; they were left out."
        )
        say(None, more[0].text, problem, "Nothing needs doing.")
    return findings


def _in_thousands(where: str, text: str) -> str:
    return f"A line {where}, {_quote(text)}, may say that counts stand in thousands or more; they are read as they stand."


def _looks_like_record(grid: Grid, section: Section, row: int) -> bool:
    cells = [text_of(cell) for cell in grid.cells[row][section.band.first : section.band.end] if isinstance(cell, float) or cell]
    return len([cell for cell in cells if cell]) >= 3 and any(cell[0].isdigit() for cell in cells if cell)


def _row_text(grid: Grid, section: Section, row: int) -> str:
    cells = grid.cells[row][section.band.first : section.band.end]
    return " | ".join(text for cell in cells if (isinstance(cell, float) or cell) and (text := text_of(cell)))


def _quote(text: str) -> str:
    return f"'{text}'" if len(text) <= 80 else f"'{text[:79]}…'"


def _is(rows: Sequence[int]) -> str:
    return "is" if len(rows) == 1 else "are"
