"""Tables that stand side by side in a sheet, parted by blank columns."""

from collections.abc import Sequence
from itertools import pairwise, takewhile
from typing import Final

from wearfit.records.choices import Choices
from wearfit.records.readers.grid import Grid
from wearfit.records.sheets.layout import Band, Header, cells_of, header_at, is_blank, possible_tables, told_by_header

SEARCHED_ROWS: Final = 40  # a first header further down than a printed page's head has not been seen; judgement
SAMPLED_ROWS: Final = 200  # enough to tell a blank column from one that is seldom filled; the rest is looked at only where it seems blank


def headers_in_row(grid: Grid, band: Band, row: int, preferred: Sequence[str], choices: Choices) -> list[Header]:
    """The header that begins in a row, or those of tables that stand side by side, parted by columns that are blank below it."""
    cells = cells_of(grid, band, row)
    filled = [column for column, cell in enumerate(cells, start=band.first) if not is_blank((cell,))]
    gaps = [gap for gap in _gaps(filled) if all(is_blank(grid.cells[line][gap[0] : gap[1]]) for line in _block_below(grid, band, row))]
    parts = [header for part in _split(grid, band, gaps, (row,), (), choices) if (header := _header_of(grid, part, row, (), choices))]
    if len(parts) > 1:
        return parts
    header = _header_of(grid, band, row, preferred, choices)
    return [header] if header else []


def bands(grid: Grid, preferred: Sequence[str], choices: Choices) -> list[Band]:
    """The columns of tables that stand side by side all the way down; one band where there are none such."""
    sample = grid.cells[:SAMPLED_ROWS]
    filled = sorted({column for row in sample for column, cell in enumerate(row) if not is_blank((cell,))})
    gaps = [(start, stop) for start, stop in _gaps(filled) if all(is_blank(row[start:stop]) for row in grid.cells)]
    return _split(grid, Band(), gaps, range(min(SEARCHED_ROWS, len(grid.cells))), preferred, choices)


def _gaps(filled: Sequence[int]) -> list[tuple[int, int]]:
    return [(left + 1, right) for left, right in pairwise(filled) if right > left + 1]


def _block_below(grid: Grid, band: Band, row: int) -> list[int]:
    """Some rows below a header, up to the first blank one."""
    below = range(row + 1, min(row + 6, len(grid.cells)))
    return list(takewhile(lambda line: not is_blank(cells_of(grid, band, line)), below))


def _split(
    grid: Grid, band: Band, gaps: Sequence[tuple[int, int]], rows: Sequence[int], preferred: Sequence[str], choices: Choices
) -> list[Band]:
    """The band split at gaps that have a header in one of the rows on either side."""
    starts = [band.first, *(stop for _, stop in gaps)]
    ends = [*(start for start, _ in gaps), band.end]
    split: list[Band] = []
    headed: list[bool] = []
    for first, end in zip(starts, ends, strict=True):
        part = Band(first, end)
        has_header = bool(gaps) and any(_header_of(grid, part, row, preferred, choices) for row in rows)
        if split and not (has_header and headed[-1]):
            split[-1], headed[-1] = Band(split[-1].first, end), has_header or headed[-1]
        else:
            split.append(part)
            headed.append(has_header)
    return split


def _header_of(grid: Grid, band: Band, row: int, preferred: Sequence[str], choices: Choices) -> Header | None:
    return told_by_header(header_at(grid, band, row, possible_tables(grid, band, row, choices), choices), preferred)
