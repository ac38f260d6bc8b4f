"""The tables of one sheet, one below another and side by side, with everything in it that is no record."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from operator import itemgetter

from wearfit.records.choices import Choices
from wearfit.records.columns import Table
from wearfit.records.readers.grid import Grid
from wearfit.records.sheets.beside import SAMPLED_ROWS, SEARCHED_ROWS, bands, headers_in_row
from wearfit.records.sheets.body import CHUNK, LeftOut, find_body
from wearfit.records.sheets.headers import Match, text_of
from wearfit.records.sheets.layout import Band, Header, cells_of, count_words, header_at, is_blank, possible_tables
from wearfit.records.sheets.region import Region


@dataclass(frozen=True)
class Section:
    """A header and what stands below it up to the next.

    Parameters
    ----------
    header : Header
    records : sequence of int
        Rows, counted from 0; where the header is not complete, those that cannot be read for it.
    left_out : tuple of LeftOut
    above : tuple of int
        Filled rows above a first header.
    """

    header: Header
    records: Sequence[int]
    left_out: tuple[LeftOut, ...] = ()
    above: tuple[int, ...] = ()

    @property
    def band(self) -> Band:
        return self.header.band

    @property
    def match(self) -> Match:
        return self.header.match


def sections_of(grid: Grid, preferred: Sequence[str], choices: Choices) -> list[Section]:
    """The tables of a sheet, in the order of their headers' rows, then of columns.

    Parameters
    ----------
    grid : Grid
    preferred : sequence of str
        Tables that its name speaks of: a header that is complete for one of them is one of theirs.
    choices : Choices

    Returns
    -------
    list of Section
        Empty where no header is complete.
    """
    found = [section for band in bands(grid, preferred, choices) for section in _in_band(grid, band, preferred, choices)]
    return sorted(found, key=lambda section: (section.header.row, section.band.first))


def nearest_header(grid: Grid, tables: Sequence[Table], choices: Choices) -> Header | None:
    """The header that lacks least for one of the tables, though it be not complete; None where not one column is there."""
    least = 1 if len(tables) <= 2 else 2  # among all tables a single word says nothing
    headers: list[Header] = []
    for row in range(min(SEARCHED_ROWS, len(grid.cells))):
        possible = possible_tables(grid, Band(), row, choices, least)
        headers += header_at(grid, Band(), row, [table for table in tables if table in possible], choices)
    headers = [header for header in headers if _touches(header.match)]
    return max(headers, key=lambda header: (header.match.required_found, len(header.match.known)), default=None)


def first_filled(grid: Grid) -> int | None:
    """The first row of a sheet that is not blank."""
    return next((row for row, cells in enumerate(grid.cells) if not is_blank(cells)), None)


def region_of(grid: Grid, section: Section) -> Region:
    """The section as what the rows are read from."""
    match = section.match
    width = max((heading.position + 1 for heading in match.headings), default=section.band.first)
    end = section.band.end or width
    blank = [heading.position for heading in match.headings if not heading.text and heading.position not in match.known]
    unknown = match.unknown_labels(_filled_columns(grid, section.records, blank))
    if section.band.end is None and _is_of_workbook(grid):
        # In a workbook no comma can have pushed a cell beyond the header: it is a remark beside the table.
        end = max(map(len, grid.cells))
        unknown |= {at: f"column {at + 1}" for at in sorted(_filled_columns(grid, section.records, range(width, end)))}
    converted = {match.known[at].name: conversion for at, conversion in match.conversions.items()}
    return Region(match.table, grid, dict(match.known), unknown, section.records, section.band.first, end, converted)


def _in_band(grid: Grid, band: Band, preferred: Sequence[str], choices: Choices) -> list[Section]:
    """The tables in some columns, one below another; those side by side above a wide one are each followed down to it."""
    headers = _first_headers(grid, band, preferred, choices)
    sections: list[Section] = []
    above = tuple(row for row in range(headers[0].row if headers else 0) if not is_blank(cells_of(grid, band, row)))
    while headers:
        across: list[list[Header]] = []
        for header in headers:
            section, headers_below = _section(grid, header, band, preferred, choices)
            sections.append(replace(section, above=() if sections else above))
            while headers_below and headers_below[0].band == header.band != band:
                section, headers_below = _section(grid, headers_below[0], band, preferred, choices)
                sections.append(section)
            if headers_below:
                across.append(headers_below)
        headers = min(across, key=lambda found: found[0].row, default=[])
    return sections


def _section(grid: Grid, header: Header, outer: Band, preferred: Sequence[str], choices: Choices) -> tuple[Section, list[Header]]:
    """A header with what stands below it, and the headers that come next."""
    following = _Following(grid, header, outer, preferred, choices)
    if header.match.complete:
        body = find_body(grid, header.band, header.match, header.below, following.repeats, following.begins)
        return Section(header, body.records, body.left_out), following.headers
    rows, end = [], header.below
    while end < len(grid.cells) and not following.begins(end):
        if not is_blank(cells_of(grid, header.band, end)):
            rows.append(end)
        end += 1
    return Section(header, rows), following.headers


def _first_headers(grid: Grid, band: Band, preferred: Sequence[str], choices: Choices) -> list[Header]:
    one_cell: list[Header] = []
    for row in range(min(SEARCHED_ROWS, len(grid.cells))):
        headers = headers_in_row(grid, band, row, preferred, choices)
        if headers and len(headers[0].match.known) > 1:
            return headers
        one_cell = one_cell or headers  # a title such as "Plant" looks like the header of a table that needs no more
    return one_cell


class _Following:
    """Looks for the headers that end a section: the same again, which only a printed sheet repeats, or others."""

    def __init__(self, grid: Grid, header: Header, outer: Band, preferred: Sequence[str], choices: Choices) -> None:
        self.grid, self.band, self.outer, self.preferred, self.choices = grid, header.band, outer, preferred, choices
        self.lines = [self._texts(row) for row in range(header.row, header.below)]
        self.headers: list[Header] = []

    def repeats(self, row: int) -> int:
        """How many rows the header takes again in a row."""
        if self._texts(row) != self.lines[0]:
            return 0
        lines = [self._texts(row + line) for line in range(len(self.lines))]
        return len(lines) if lines == self.lines else 0

    def begins(self, row: int) -> bool:
        """Whether another header begins in a row; which ones is remembered."""
        if count_words(cells_of(self.grid, self.band, row), self.choices) < 2:
            return False
        self.headers = self._across(row) if self.band != self.outer else []
        self.headers = self.headers or self._in(self.band, row)
        if not self.headers and len([cell for cell in cells_of(self.grid, self.band, row) if cell]) >= 3:
            tables = possible_tables(self.grid, self.band, row, self.choices, 2)
            begun = filter(_is_begun, header_at(self.grid, self.band, row, tables, self.choices))
            nearest = max(begun, key=lambda header: len(header.match.known), default=None)
            self.headers = [nearest] if nearest else []
        return bool(self.headers)

    def _in(self, band: Band, row: int) -> list[Header]:
        found = headers_in_row(self.grid, band, row, (), self.choices)
        return found or headers_in_row(self.grid, band, row, self.preferred, self.choices)

    def _across(self, row: int) -> list[Header]:
        """A header that reaches over the columns of this section into others."""
        headers = self._in(self.outer, row)
        ours = range(self.band.first, self.band.end or 2**31)
        inside = [position in ours for header in headers for position in header.match.known]
        return headers if len(headers) == 1 and any(inside) and not all(inside) else []

    def _texts(self, row: int) -> list[str]:
        texts = [text_of(cell) for cell in cells_of(self.grid, self.band, row)]
        while texts and not texts[-1]:
            texts.pop()
        return texts


def _is_of_workbook(grid: Grid) -> bool:
    """Whether a cell near the top is a number, as no cell of a text file is."""
    return any(isinstance(cell, float) for cells in grid.cells[:SAMPLED_ROWS] for cell in cells)


def _touches(match: Match) -> bool:
    return bool(match.known or match.rivals or match.wrong_units)


def _is_begun(header: Header) -> bool:
    """Whether a row within a sheet is plainly a header, though columns are missing: most of its cells name columns, none is a number."""
    texts = [heading.text for heading in header.match.headings if heading.text]
    named = len(header.match.known)
    if header.match.required_found == 0 or named < 2 or len(texts) < 3:
        return False
    return 2 * named >= len(texts) and not any(text[0].isdigit() for text in texts)


def _filled_columns(grid: Grid, rows: Sequence[int], columns: Sequence[int]) -> frozenset[int]:
    """Of some columns those in which any of the rows has a cell that is not blank."""
    found: set[int] = set()
    for first, end in _spans(columns):
        inside = itemgetter(slice(first, end))
        # Most columns without a header are blank all the way, which is told without a look at each cell.
        for start in range(0, len(rows), CHUNK):
            chunk = [inside(grid.cells[row]) for row in rows[start : start + CHUNK]]
            if any(map(any, chunk)) or any(0.0 in cells for cells in chunk):
                found |= {at for cells in chunk for at, cell in enumerate(cells, start=first) if at not in found and not is_blank((cell,))}
                if len(found.intersection(range(first, end))) == end - first:
                    break
    return frozenset(found)


def _spans(columns: Sequence[int]) -> list[tuple[int, int]]:
    """Runs of neighbouring columns, so that a row's cells in them can be looked at together."""
    spans: list[tuple[int, int]] = []
    for column in sorted(columns):
        if spans and spans[-1][1] == column:
            spans[-1] = spans[-1][0], column + 1
        else:
            spans.append((column, column + 1))
    return spans
