"""Rows of records column by column, each distinct text once: a history of 400,000 runs says the same few thousand over and over."""

from array import array
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice, repeat
from typing import Self, overload

from wearfit.records.identity import Row, key_of_pieces, key_piece, plan_changes
from wearfit.records.same_again import same_again
from wearfit.records.tables import TABLES

Codes = array[int]  # rather than NumPy's, which reading does without


@dataclass(frozen=True, slots=True)
class TextColumn:
    """Texts of one column.

    Parameters
    ----------
    distinct : sequence of str
        None of them twice; some may stand in no row.
    codes : array of int
        Place among `distinct` of each row's text; no wider than need be.
    """

    distinct: Sequence[str]
    codes: Codes

    def by_row(self) -> Iterator[str]:
        return map(self.distinct.__getitem__, self.codes)

    def counts(self) -> dict[str, int]:
        """In how many rows each text stands; those that stand in none are left out."""
        return {self.distinct[code]: count for code, count in Counter(self.codes).items()}

    def take(self, places: Iterable[int]) -> "TextColumn":
        return TextColumn(self.distinct, _taken(self.codes, places))

    def mapped(self, change: Callable[[str], str]) -> "TextColumn":
        """The column with each text changed."""
        return text_column([change(text) for text in self.distinct], self.codes)

    def with_blank_as(self, default: str) -> "TextColumn":
        return self.mapped(lambda text: text or default) if default else self


def _taken(codes: Codes, places: Iterable[int]) -> Codes:
    return array(codes.typecode, map(codes.__getitem__, places))


def text_column(texts: Sequence[str], codes: Iterable[int]) -> TextColumn:
    """A column out of its texts, of which some may be the same, and the place among them of each row's."""
    known: dict[str, int] = {}
    places = [known.setdefault(text, len(known)) for text in texts]
    width = "B" if len(known) <= 2**8 else "H" if len(known) <= 2**16 else "i"
    return TextColumn(list(known), array(width, codes if len(known) == len(texts) else map(places.__getitem__, codes)))


def one_text(text: str, count: int) -> TextColumn:
    """A column that says the same in every row."""
    return TextColumn((text,), array("B", bytes(count)))


def _column_of(texts: Iterable[str]) -> TextColumn:
    known: dict[str, int] = {}
    codes = array("i", (known.setdefault(text, len(known)) for text in texts))
    return text_column(list(known), codes)


@dataclass(frozen=True)
class TableRows:
    """Rows of one table, in canonical text.

    Parameters
    ----------
    table : str
    columns : mapping of str to TextColumn
        A blank cell as ""; a column that is not there is blank in every row.
    numbers : array of int
        Row of the file or sheet as a spreadsheet counts it, from 1.
    sources : TextColumn
        The file or sheet of each row.
    occurrences : array of int, or None
        As `Row.occurrence`; None: 0 in every row.
    """

    table: str
    columns: Mapping[str, TextColumn]
    numbers: Codes
    sources: TextColumn
    occurrences: Codes | None = None

    def __len__(self) -> int:
        return len(self.numbers)

    def __iter__(self) -> Iterator[Row]:
        names = tuple(self.columns)
        full = all(all(column.distinct) for column in self.columns.values())
        seen = repeat(0, len(self)) if self.occurrences is None else self.occurrences
        beside = (self._keys(), seen, self.numbers, self.sources.by_row())
        for key, occurrence, number, source, *cells in zip(*beside, *(c.by_row() for c in self.columns.values()), strict=True):
            pairs = zip(names, cells, strict=True)
            yield Row(self.table, key, occurrence, dict(pairs) if full else {name: text for name, text in pairs if text}, number, source)

    def values(self) -> Iterator[dict[str, str]]:
        """The cells of each row that are not blank, as `Row.values`; without its key, which takes longer to make."""
        names = tuple(self.columns)
        for cells in zip(*(column.by_row() for column in self.columns.values()), strict=True):
            yield {name: text for name, text in zip(names, cells, strict=True) if text}

    def column(self, name: str) -> TextColumn:
        return self.columns.get(name) or one_text("", len(self))

    def take(self, places: Sequence[int]) -> "TableRows":
        """Some of the rows, in the order of the places."""
        seen = None if self.occurrences is None else _taken(self.occurrences, places)
        columns = {name: column.take(places) for name, column in self.columns.items()}
        return TableRows(self.table, columns, _taken(self.numbers, places), self.sources.take(places), seen)

    def key_codes(self) -> Sequence[int]:
        """A whole number for each row, equal where the keys are."""
        first, *others = self._key_columns()
        joint: Sequence[int] = first.codes
        for column in others:
            size = len(column.distinct)
            joint = [before * size + code for before, code in zip(joint, column.codes, strict=True)]
        return joint

    def shared_keys(self) -> list[int]:
        """Places of the rows whose key stands in more than one."""
        keys = self.key_codes()
        if len(set(keys)) == len(keys):  # nearly always
            return []
        counts = Counter(keys)
        return [place for place, key in enumerate(keys) if counts[key] > 1]

    def _key_columns(self) -> list[TextColumn]:
        table = TABLES[self.table]
        return [self.column(name).with_blank_as(table.column(name).default) for name in table.key]

    def _keys(self) -> Iterator[str]:
        table = TABLES[self.table]
        pieces = []
        for name in table.key:
            column = self.column(name)
            # Of a few rows that were taken most texts stand in none.
            written = {code: key_piece(table.column(name), column.distinct[code]) for code in set(column.codes)}
            pieces.append(map(written.__getitem__, column.codes))
        return map(key_of_pieces, zip(*pieces, strict=True))


@dataclass(frozen=True, eq=False)
class Rows(Sequence[Row]):  # noqa: PLW1641 - as a list, it has no hash
    """Rows of several tables, each made when it is asked for; equal to any sequence of the same rows.

    Parameters
    ----------
    tables : tuple of TableRows
        No table twice.
    """

    tables: tuple[TableRows, ...] = ()

    @classmethod
    def of(cls, rows: Iterable[Row]) -> Self:
        """The rows put together table by table, in the order in which the tables first come; the keys are those of their cells."""
        if isinstance(rows, cls):
            return rows
        of_table: dict[str, list[Row]] = {}
        for row in rows:
            of_table.setdefault(row.table, []).append(row)
        return cls(tuple(_table_of(name, some) for name, some in of_table.items()))

    def __len__(self) -> int:
        return sum(map(len, self.tables))

    def __iter__(self) -> Iterator[Row]:
        return (row for table in self.tables for row in table)

    @overload
    def __getitem__(self, place: int) -> Row: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Row]: ...
    def __getitem__(self, place: int | slice) -> Row | Sequence[Row]:
        if isinstance(place, slice):
            return list(self)[place]
        wanted = range(len(self))[place]
        return next(islice(self, wanted, None))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Sequence) or isinstance(other, str):
            return NotImplemented
        return len(self) == len(other) and all(mine == theirs for mine, theirs in zip(self, other, strict=True))

    def sources(self) -> list[tuple[str, str]]:
        """The tables, each with the files or sheets that its rows stand in."""
        return [(rows.table, source) for rows in self.tables for source in rows.sources.counts()]


def _table_of(name: str, rows: Sequence[Row]) -> TableRows:
    headers = dict.fromkeys(header for row in rows for header in row.values)
    columns = {header: _column_of(row.values.get(header, "") for row in rows) for header in headers}
    numbers, seen = array("i", (row.row for row in rows)), array("i", (row.occurrence for row in rows))
    return TableRows(name, columns, numbers, _column_of(row.source for row in rows), seen if any(seen) else None)


def no_rows(table: str) -> TableRows:
    return TableRows(table, {}, array("i"), one_text("", 0))


def joined(parts: Sequence[TableRows]) -> TableRows:
    """Rows of one table out of several sheets, one sheet after the other."""
    if len(parts) == 1:
        return parts[0]
    columns = {name: _end_to_end([part.column(name) for part in parts]) for name in dict.fromkeys(n for p in parts for n in p.columns)}
    numbers = array("i", (number for part in parts for number in part.numbers))
    return TableRows(parts[0].table, columns, numbers, _end_to_end([part.sources for part in parts]))


def _end_to_end(columns: Sequence[TextColumn]) -> TextColumn:
    first, *others = columns
    known = {text: place for place, text in enumerate(first.distinct)}
    codes = array("i", first.codes)  # of the first, often nearly all, they stay
    for column in others:
        places = [known.setdefault(text, len(known)) for text in column.distinct]
        codes.extend(map(places.__getitem__, column.codes))
    return text_column(list(known), codes)


def rows_in_force(rows: Iterable[Row]) -> Rows:
    """The rows of one upload that count when nothing is stored: the last version of each, once, in the order of the file."""
    return Rows(tuple(_in_force(some.table, some) for some in Rows.of(rows).tables))


@same_again
def _in_force(name: str, table: TableRows) -> TableRows:
    del name  # the table's, by which it is kept
    shared = table.shared_keys()
    if not shared:
        return table if table.occurrences is None else replace(table, occurrences=None)
    first: dict[tuple[str, int], int] = {}
    latest: dict[int, tuple[int, int]] = {}  # where the key first stands: the place of its last version, and its occurrence
    for place, change in zip(shared, plan_changes({}, list(table.take(shared))), strict=True):
        if change.kind != "repeated":
            slot = first.setdefault((change.row.key, change.row.occurrence), place)
            latest[slot] = place, change.row.occurrence
    gone = set(shared).difference(latest)
    order = [latest.get(place, (place, 0)) for place in range(len(table)) if place not in gone]
    places = [place for place, _ in order]
    kept = table if places == list(range(len(table))) else table.take(places)
    return replace(kept, occurrences=array("i", (occurrence for _, occurrence in order)))
