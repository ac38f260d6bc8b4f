"""Cells merged over several records: what they say holds for each of them."""

from collections.abc import Sequence
from dataclasses import replace

from wearfit.records.findings import Finding
from wearfit.records.readers.grid import Cell, Grid
from wearfit.records.sheets.sections import Section


def filled_down(grid: Grid, sections: Sequence[Section]) -> tuple[Grid, list[Finding]]:
    """The sheet with each cell that is merged over rows below a complete header written into all of those rows.

    Parameters
    ----------
    grid : Grid
    sections : sequence of Section
        As found in it.

    Returns
    -------
    Grid
        The same one where no cell is so merged. Headers are left as they are, and so are cells merged over columns, which are
        titles and remarks.
    list of Finding
        One for each section.
    """
    filled: dict[int, list[Cell]] = {}
    findings = []
    for section in sections:
        if not (grid.merged and section.match.complete):
            continue
        last = max(section.records, default=0)
        merged = [
            (top, bottom, column)
            for top, column, bottom, right in grid.merged
            if column == right and column in section.match.known and top < bottom and section.header.below <= top <= last
        ]
        for top, bottom, column in merged:
            for row in range(top + 1, min(bottom + 1, len(grid.cells))):
                cells = filled.setdefault(row, list(grid.cells[row]))
                cells += [""] * (column + 1 - len(cells))
                cells[column] = grid.cells[top][column] if column < len(grid.cells[top]) else ""
        if merged:
            findings.append(_told(grid, section, merged))
    if not filled:
        return grid, []
    return replace(grid, cells=[filled.get(row, cells) for row, cells in enumerate(grid.cells)]), findings


def _told(grid: Grid, section: Section, merged: Sequence[tuple[int, int, int]]) -> Finding:
    top, bottom, column = merged[0]
    name = section.match.known[column].name
    cells = "1 cell is" if len(merged) == 1 else f"{len(merged):,} cells are"
    problem = f"{cells} merged over several rows, such as {name} over rows {top + 1} to {bottom + 1}, and read in each of them."
    return Finding(section.match.table.name, None, name, None, problem, "Nothing needs doing if that is right.", "note", grid.source)
