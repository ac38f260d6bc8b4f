"""Where the headers of a sheet stand: in one line or two, above one table or above tables side by side."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from wearfit.records.choices import Choices
from wearfit.records.columns import Table
from wearfit.records.names import bare_name, plain_name
from wearfit.records.readers.grid import Cell, Grid
from wearfit.records.sheets.header_units import is_unit_line, split_unit
from wearfit.records.sheets.headers import LONGEST, Heading, Match, match_header, text_of
from wearfit.records.sheets.synonyms import TABLE_WORDS, columns_wanted, tables_by_word
from wearfit.records.tables import TABLES

# Groups that say no more than the columns below them do; "planned" over a start and an end says more.
_NEUTRAL_GROUPS: Final = frozenset(
    bare_name(word)
    for word in (
        "run", "production run", "production", "date", "dates", "day", "days", "period", "time", "details", "data", "quantity",
        "quantities", "counts", "general", "info", "information", "identification", "output", "result", "results", "tool", "mould",
        "plant", "resin", "material", "event", "measurement", "measurements", "air", "values",
        *(word for table, words in TABLE_WORDS.items() if table != "plan" for word in (table, *words)),
    )
)  # fmt: skip


@dataclass(frozen=True)
class Band:
    """Columns first <= column < end of a grid that are looked at by themselves; `end` None: to the end of each row."""

    first: int = 0
    end: int | None = None


@dataclass(frozen=True)
class Header:
    """A header found in a sheet: its columns, its first row, counted from 0, how many rows it takes, what its table makes of it."""

    band: Band
    row: int
    lines: int
    match: Match

    @property
    def below(self) -> int:
        return self.row + self.lines


def cells_of(grid: Grid, band: Band, row: int) -> Sequence[Cell]:
    """The cells of a row inside a band, none where the grid has no such row."""
    return grid.cells[row][band.first : band.end] if 0 <= row < len(grid.cells) else ()


def is_blank(cells: Sequence[Cell]) -> bool:
    """Whether no cell holds anything but blanks."""
    if not any(cells):
        return 0.0 not in cells
    return not any(isinstance(cell, float) or (cell and text_of(cell)) for cell in cells)


def header_at(grid: Grid, band: Band, row: int, tables: Sequence[Table], choices: Choices) -> list[Header]:
    """What each table makes of the header that may stand in a row, alone or with the row below.

    Parameters
    ----------
    grid : Grid
    band : Band
    row : int
        Counted from 0.
    tables : sequence of Table
    choices : Choices

    Returns
    -------
    list of Header
        One a table, complete or not; empty where the row holds nothing that looks like a header.
    """
    words, below = count_words(cells_of(grid, band, row), choices), count_words(cells_of(grid, band, row + 1), choices)
    if not words:
        return []
    single = one_line(grid, band, row)
    two_lines = bool(below) and _are_labels(cells_of(grid, band, row + 1))
    pair = _two_lines(grid, band, row) if two_lines else ()
    found = []
    for table in tables:
        match, lines = match_header(table, single, choices), 1
        if two_lines:
            joined = match_header(table, pair, choices)
            if joined.complete and len(joined.known) > len(match.known):
                alone = match_header(table, one_line(grid, band, row + 1), choices)
                if len(joined.known) > len(alone.known):
                    match, lines = joined, 2
        found.append(_with_units(grid, Header(band, row, lines, match), choices))
    return found


def told_by_header(headers: Sequence[Header], preferred: Sequence[str]) -> Header | None:
    """Of the tables whose columns are all there, the one that the header is of; None where that is not plain.

    The preferred ones first, then the one that makes sense of the most columns: a header of runs holds all of the plants' one
    required column, too. A table that needs but one column must make sense of half of them.
    """
    complete = [header for header in headers if header.match.complete]
    wanted = [header for header in complete if header.match.table.name in preferred]
    for some in (wanted, [header for header in complete if _is_telling(header.match)]):
        ranked = sorted(some, key=_weight, reverse=True)
        if ranked and (len(ranked) == 1 or _weight(ranked[0]) > _weight(ranked[1])):
            return ranked[0]
    return None


def one_line(grid: Grid, band: Band, row: int) -> tuple[Heading, ...]:
    """A row as a header of one line, whatever stands in it."""
    return _labelled(band, [(text_of(cell), "") for cell in cells_of(grid, band, row)])


def possible_tables(grid: Grid, band: Band, row: int, choices: Choices, least: int | None = None) -> list[Table]:
    """The tables that a header in a row, alone or with the row below, may be of: enough cells read like their columns.

    `least`: how many cells; None: as many as the table needs. A quick look, for most rows are no header.
    """
    counts = {name: len(headers) for name, headers in choices.columns.items()}  # any cell may be one of these, a blank one too
    cells = {*cells_of(grid, band, row), *cells_of(grid, band, row + 1)}
    for tables in (_tables_of(cell[:LONGEST]) for cell in cells if cell and isinstance(cell, str)):
        for name in tables:
            counts[name] = counts.get(name, 0) + 1
    return [table for name, table in TABLES.items() if counts.get(name, 0) >= (columns_wanted(table) if least is None else least)]


def count_words(cells: Sequence[Cell], choices: Choices) -> int:
    """How many cells read like the header of some column of some table."""
    chosen = {plain_name(header) for headers in choices.columns.values() for header in headers}
    texts = (cell[:LONGEST] for cell in cells if cell and isinstance(cell, str))
    return sum(bool(_tables_of(text)) or (bool(chosen) and plain_name(text) in chosen) for text in texts)


@lru_cache(maxsize=50_000)
def _tables_of(text: str) -> frozenset[str]:
    """The tables of which some column may be called so."""
    if text[:1].isdigit():
        return frozenset()
    by_word = tables_by_word()
    return by_word.get(bare_name(text)) or by_word.get(bare_name(split_unit(text_of(text))[0])) or frozenset()


def _is_telling(match: Match) -> bool:
    filled = sum(bool(heading.text) for heading in match.headings)
    return len(match.known) >= 2 and (columns_wanted(match.table) > 1 or 2 * len(match.known) >= filled)


def _weight(header: Header) -> tuple[int, int]:
    return len(header.match.known), header.match.required_found


def _two_lines(grid: Grid, band: Band, row: int) -> tuple[Heading, ...]:
    lines = [[text_of(cell) for cell in cells_of(grid, band, line)] for line in (row, row + 1)]
    width = max(map(len, lines))
    return _labelled(band, _joined(grid, band, row, [line + [""] * (width - len(line)) for line in lines]))


def _joined(grid: Grid, band: Band, row: int, lines: list[list[str]]) -> list[tuple[str, str]]:
    """The two lines of each column as one, and the lower one alone where the upper only names a group.

    A group's name reaches as far as its merged cells do; where nothing is merged in its line, over the blanks to its right.
    """
    upper, lower = lines
    merged = [area for area in grid.merged if area[0] <= row <= area[2] and area[3] > area[1]]
    groups, last = list(upper), ""
    for at in range(len(upper)):
        last = upper[at] or last
        if not merged:
            groups[at] = last
    for _, start, _, stop in merged:
        inside = range(max(start - band.first, 0), min(stop - band.first + 1, len(groups)))
        for at in inside:
            groups[at] = groups[inside[0]]
    texts = []
    for at, below in enumerate(lower):
        group = groups[at] if below else upper[at]
        joined = " ".join(filter(None, (group, below)))
        texts.append((joined, below if group and below and bare_name(group) in _NEUTRAL_GROUPS else ""))
    return texts


def _labelled(band: Band, texts: Sequence[tuple[str, str]]) -> tuple[Heading, ...]:
    headings: list[Heading] = []
    labels: set[str] = set()
    for at, (text, lower) in enumerate(texts, start=band.first):
        name = text or f"column {at + 1}"
        label, copy = name, 2
        while label in labels:
            label, copy = f"{name} ({copy})", copy + 1
        labels.add(label)
        headings.append(Heading(at, label, text, lower))
    return tuple(headings)


def _with_units(grid: Grid, header: Header, choices: Choices) -> Header:
    """The header with the line of units that may stand below it."""
    band = header.band
    texts = [text_of(cell) for cell in cells_of(grid, band, header.below)]
    units = {at: text.strip("()[] ") for at, text in enumerate(texts, start=band.first) if text}
    if not units or not all(map(is_unit_line, units.values())):
        return header
    ids = {at for at, column in header.match.known.items() if column.required and column.kind == "text"}
    if not any(is_unit_line(text) and at not in ids for at, text in units.items()):
        return header
    pairs = [(f"{h.text} ({units[h.position]})" if h.position in units and h.text else h.text, h.lower) for h in header.match.headings]
    return Header(band, header.row, header.lines + 1, match_header(header.match.table, _labelled(band, pairs), choices))


def _are_labels(cells: Sequence[Cell]) -> bool:
    """Whether no cell is a number or a date, as in the lower line of a header."""
    return not any(isinstance(cell, float) or text_of(cell)[:1].isdigit() for cell in cells if isinstance(cell, float) or cell)
