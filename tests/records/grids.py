"""Sheets written by hand as they look: one line a row, a bar between cells."""

from random_examples import examples

from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.readers.grid import Cell, Grid
from wearfit.records.sheets.locate import locate
from wearfit.records.sheets.region import Region

AS_IT_STANDS = Choices()

checked = examples(50)


def grid(name: str, text: str, merged: tuple[tuple[int, int, int, int], ...] = (), hidden: bool = False) -> Grid:
    """A sheet of texts; the first line may be left empty."""
    lines = text.removeprefix("\n").split("\n")
    return Grid(f"{name}.csv", name, [[cell.strip() for cell in line.split("|")] for line in lines], merged, hidden)


def typed(name: str, *rows: list[Cell]) -> Grid:
    """A sheet of a workbook, where numbers are numbers."""
    return Grid(f"book.xlsx, sheet {name}", name, rows)


def only(sheet: Grid, choices: Choices = AS_IT_STANDS) -> Region:
    """The one table of a sheet."""
    (region,), _ = locate([sheet], choices)
    return region


def columns(region: Region) -> dict[int, str]:
    """The names of the columns of a region by their place in the sheet."""
    return {at: column.name for at, column in region.known.items()}


def said(findings: tuple[Finding, ...], words: str) -> list[Finding]:
    """The findings whose problem or value holds some words."""
    return [finding for finding in findings if words in finding.problem or words in (finding.value or "")]
