"""Which rows below a header are records, and which are totals, lines of text and headers printed again."""

from array import array
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import Final, Literal

from wearfit.records.names import bare_name
from wearfit.records.readers.grid import Cell, Grid
from wearfit.records.sheets.header_units import speaks_of_thousands
from wearfit.records.sheets.headers import Match, text_of
from wearfit.records.sheets.layout import Band, cells_of, is_blank
from wearfit.records.sheets.synonyms import columns_wanted, tables_by_word

CHUNK: Final = 1024  # rows looked at together; one that is not plain costs its chunk a look at each row

_SUMS: Final = frozenset(
    ("total", "totals", "subtotal", "subtotals", "sum", "sums",
     "summe", "gesamt", "gesamtsumme", "zwischensumme")
)  # fmt: skip
_TOTALS: Final = _SUMS | {"average", "averages", "avg", "mean", "median", "min", "minimum", "max", "maximum"}
# First words of a line that is printed below a table, and of those that need a second word to be told from a name.
_FOOTERS: Final = frozenset(
    ("printed", "prepared", "checked", "approved", "signed", "source", "note", "notes", "nb", "legend", "continued", "generated",
     "exported", "confidential", "remark", "remarks", "key")
)  # fmt: skip
_FOOTERS_WITH: Final = frozenset(
    (("page", "of"), ("end", "of"), ("last", "updated"), ("last", "update"), ("last", "changed"), ("created", "by"), ("created", "on"),
     ("updated", "by"), ("updated", "on"), ("revision", "date"))
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A row below a header that is no record: its row, counted from 0, what stands in it, and what it is."""

    row: int
    text: str
    kind: Literal["total", "text"]


@dataclass(frozen=True)
class Body:
    """The rows of one table: its records, what was left out, and the row at which it ends."""

    records: Sequence[int]
    left_out: tuple[LeftOut, ...]
    stop: int


def find_body(grid: Grid, band: Band, match: Match, start: int, repeats: Callable[[int], int], begins: Callable[[int], bool]) -> Body:
    """Tell the records below a header from what else stands there.

    Parameters
    ----------
    grid : Grid
    band : Band
    match : Match
        The header, complete.
    start : int
        First row below it.
    repeats : callable
        How many rows the same header takes again in a row, 0 where it is not there.
    begins : callable
        Whether another table begins in a row.

    Returns
    -------
    Body
        A row with its required cells filled is always a record; so is any other that is neither blank nor, by the words in
        it, a total or a line of text. Whether it can be used is not asked here.

    Notes
    -----
    Nearly all rows of a long sheet have an id and a day: for those a look at these two cells is enough, many rows at once, and
    each text in them is judged once.
    """
    judge = _Judge(band, match)
    records, loose = array("q"), array("q")
    left_out: list[LeftOut] = []
    cells, row, stop = grid.cells, start, len(grid.cells)
    chunk_end = row
    while row < stop:
        if row >= chunk_end:
            chunk_end = min(row + CHUNK, stop)
            if judge.are_plain(cells[row:chunk_end]):
                _settle(grid, band, judge, loose, records, left_out, last=False)
                records.extend(range(row, chunk_end))
                row = chunk_end
                continue
        try:
            plain = judge.name_of(cells[row]) in judge.plain_ids and judge.mark_of(cells[row]) in judge.plain_marks
        except IndexError:
            plain = False
        if plain or judge.is_plain(cells_of(grid, band, row)):
            if loose:
                _settle(grid, band, judge, loose, records, left_out, last=False)
            records.append(row)
        elif not is_blank(cells_of(grid, band, row)):
            if again := repeats(row):
                row += again
                continue
            if begins(row):
                break
            if judge.is_record(cells_of(grid, band, row)):
                _settle(grid, band, judge, loose, records, left_out, last=False)
                records.append(row)
            else:
                loose.append(row)
        row += 1
    followed = row < stop
    while followed and loose and len(title := _filled(cells_of(grid, band, loose[-1]), band.first)) == 1:
        left_out.append(LeftOut(loose.pop(), " | ".join(title.values()), "text"))
    _settle(grid, band, judge, loose, records, left_out, last=True)
    whole = len(records) and records[-1] - records[0] + 1 == len(records)
    left_out.sort(key=lambda left: left.row)
    return Body(range(records[0], records[-1] + 1) if whole else records, tuple(left_out), row)


class _Judge:
    """What is required of a record of one header."""

    def __init__(self, band: Band, match: Match) -> None:
        table = match.table
        at = {column.name: position for position, column in match.known.items()}
        required = [column for column in table.columns if column.required]
        days = [column for column in required if column.kind in ("date", "month", "timestamp")]
        self.first = band.first
        self.id = at[required[0].name]
        self.mark = at[(days or required)[-1].name]
        self.mark_is_day = bool(days)
        self.name_of, self.mark_of = itemgetter(self.id), itemgetter(self.mark)
        self.required = {at[column.name] for column in required}
        self.days = {at[column.name] for column in days}
        self.all_days = {position for position, column in match.known.items() if column.kind in ("date", "month", "timestamp")}
        self.groups = [[at[name] for name in group if name in at] for group in table.one_of]
        self.one_column = columns_wanted(table) == 1
        self.plain_ids: set[Cell] = set()
        self.plain_marks: set[Cell] = set()

    def is_plain(self, cells: Sequence[Cell]) -> bool:
        """Whether a row has an id and a day, which no header and no total has; both are remembered."""
        if len(cells) <= max(self.id, self.mark) - self.first:
            return False
        name, mark = cells[self.id - self.first], cells[self.mark - self.first]
        if not self.mark_is_day or not _has_digit(text_of(mark)) or not _is_plain_id(text_of(name)):
            return False
        self.plain_ids.add(name)
        self.plain_marks.add(mark)
        return True

    def is_record(self, cells: Sequence[Cell]) -> bool:
        """Whether a row has its required cells filled; where the table needs no day, its id is remembered."""
        filled = _filled(cells, self.first)
        if not (self.required <= filled.keys() and all(any(at in filled for at in group) for group in self.groups)):
            return False
        if not all(_has_digit(filled[at]) for at in self.days) or (
            self.one_column and len(filled) == 1 and _is_surely_no_name(filled[self.id])
        ):
            return False
        if not self.mark_is_day and _is_plain_id(filled[self.id]) and bare_name(filled[self.mark]) not in tables_by_word():
            self.plain_ids.add(cells[self.id - self.first])
            self.plain_marks.add(cells[self.mark - self.first])
        return True

    def are_plain(self, rows: Sequence[Sequence[Cell]]) -> bool:
        """Whether every row has an id and a day that were seen in a record."""
        try:
            return self.plain_ids.issuperset(map(self.name_of, rows)) and self.plain_marks.issuperset(map(self.mark_of, rows))
        except IndexError:
            return False

    def kind_of(self, filled: dict[int, str]) -> Literal["total", "text", ""]:
        """What a row that is no record is by its words, "" where they do not tell."""
        first = next(iter(filled.values()))
        in_id = filled.get(self.id, "")
        dated = any(at in filled and _has_digit(filled[at]) for at in self.all_days)
        if _kind(in_id) == "total" or (_kind(first) == "total" and not dated) or (not dated and _says_sum_of(in_id)):
            return "total"
        return "text" if _kind(first) == "text" and len(filled) <= 3 else ""

    def is_text(self, filled: dict[int, str]) -> bool:
        """Whether a row below the last record is a line of text rather than a record that was begun."""
        if len(filled) > 2 or (self.one_column and self.id in filled):
            return False
        return any(len(text.split()) >= 3 or ":" in text or text[0] in "*†©-=_" or speaks_of_thousands(text) for text in filled.values())

    def is_sum(self, filled: dict[int, str]) -> bool:
        """Whether a row below the last record holds nothing but amounts, and those in columns that no record needs all of."""
        ids = self.required - self.days
        return bool(filled) and ids.isdisjoint(filled) and self.all_days.isdisjoint(filled) and all(map(_is_amount, filled.values()))


def _settle(grid: Grid, band: Band, judge: _Judge, loose: "array[int]", records: "array[int]", left_out: list[LeftOut], last: bool) -> None:
    """Decide on the rows since the last record that lack something a record needs; `last`: no record comes after them."""
    for row in loose:
        filled = _filled(cells_of(grid, band, row), band.first)
        kind = judge.kind_of(filled)
        if not kind and last:
            kind = "total" if judge.is_sum(filled) else "text" if judge.is_text(filled) else ""
        if kind:
            left_out.append(LeftOut(row, " | ".join(filled.values()), kind))
        else:
            records.append(row)
    del loose[:]


def _filled(cells: Sequence[Cell], first: int) -> dict[int, str]:
    return {at: text for at, cell in enumerate(cells, start=first) if (isinstance(cell, float) or cell) and (text := text_of(cell))}


def _kind(text: str) -> Literal["total", "text", ""]:
    """Whether a text begins as the line of a total or as one that is printed below a table."""
    words = ["".join(filter(str.isalnum, word)) for word in text[:200].casefold().split()]
    words = [word for word in words if word]
    if not words:
        return ""
    if words[0] in _TOTALS or (words[0] in ("grand", "sub", "running", "overall") and words[1:2] == ["total"]):
        return "total"
    if words[0] in _FOOTERS and (len(words) > 1 or ":" in text):
        return "text"
    return "text" if any(words[0] == first and second in words[1:4] for first, second in _FOOTERS_WITH) else ""


def _is_plain_id(text: str) -> bool:
    return bool(text) and not _kind(text) and not _says_sum_of(text) and bare_name(text) not in tables_by_word()


def _is_surely_no_name(text: str) -> bool:
    """Whether a text that stands where a name is looked for is certainly none: "Total", "Printed on 3 March", not "Key Point"."""
    words = text.casefold().replace(":", " ").split()
    if _kind(text) == "total":
        return words[-1] in _SUMS
    return _kind(text) == "text" and (":" in text or words[1] in ("by", "on", "at", "of") or text.startswith("Page "))


def _says_sum_of(text: str) -> bool:
    """Whether an id is that of a sum over other rows, such as "T-104 total"."""
    words = text.casefold().replace(":", " ").split()
    return len(words) > 1 and words[-1] in _SUMS


def _is_amount(text: str) -> bool:
    return text[-1].isdigit() and not any(letter.isalpha() for letter in text)


def _has_digit(text: str) -> bool:
    return any(map(str.isdigit, text))
