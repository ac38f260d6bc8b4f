"""Rows written under other names: those that thereby are one and the same are there once."""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from wearfit.records.cells import quoted
from wearfit.records.columns import Table
from wearfit.records.findings import Finding
from wearfit.records.identity import Row, Values, key_of
from wearfit.records.rows import Rows, TableRows
from wearfit.records.tables import TABLES

Moves = Mapping[str, Mapping[str, str]]  # by column: a name to the one that is used


def agree(table: Table, one: Values, other: Values) -> bool:
    """Whether two rows say nothing different in the columns beside the key; what one leaves blank the other may fill."""
    return all(one[name] == other[name] for name in table.names if name not in table.key and name in one and name in other)


def moved(rows: Rows, moves: Moves) -> tuple[Rows, list[Finding]]:
    """Write rows under other names.

    Parameters
    ----------
    rows : Rows
    moves : mapping of str to mapping of str to str

    Returns
    -------
    Rows
        In their order. Of a table whose rows repeat, those that thereby say what another row says are there once. Of another, the row
        that stood under the name already is used, its blanks filled out of those that agree with it.
    list of Finding
        What counts once, a table at a time, and each row that says something else than the one used.
    """
    tables: list[TableRows] = []
    findings: list[Finding] = []
    for some in rows.tables:
        of_table = {name: moves[name] for name in TABLES[some.table].names if name in moves}
        if all(names.keys().isdisjoint(some.column(column).counts()) for column, names in of_table.items()):
            tables.append(some)
            continue
        kept, told = _moved(list(some), TABLES[some.table], of_table)
        tables += Rows.of(kept).tables
        findings += told
    return Rows(tuple(tables)), findings


def _moved(rows: Sequence[Row], table: Table, moves: Moves) -> tuple[list[Row], list[Finding]]:
    respelt: dict[int, Row] = {}
    for place, row in enumerate(rows):
        read_as = {name: names[cell] for name, names in moves.items() if (cell := row.values.get(name, "")) in names}
        if read_as:
            values = {**row.values, **read_as}
            respelt[place] = replace(row, key=key_of(table, values), values=values)
    kept = [respelt.get(place, row) for place, row in enumerate(rows)]
    # Where rows do not repeat, one that came under another key gives way; one that stood under its own stays, whatever else was respelt.
    giving_way = respelt.keys() if table.repeats else {place for place, row in respelt.items() if row.key != rows[place].key}
    findings: list[Finding] = []
    gone: set[int] = set()
    for group in _of_one_key(kept, giving_way):
        if table.repeats:
            lost = _said_before(kept, group, giving_way)
        else:
            lost = [place for place in group[1:] if place in giving_way]
            findings += _merged(table, rows, kept, group[0], lost)
        gone.update(lost)
    if count := len(gone) - len(findings):
        findings.append(_doubled(table.name, count))
    return [row for place, row in enumerate(kept) if place not in gone], findings


def _of_one_key(kept: Sequence[Row], giving_way: Collection[int]) -> Iterable[list[int]]:
    """Places of rows that share a key, one that gives way among them; those that do not go first."""
    counts = Counter(row.key for row in kept)
    shared: dict[str, list[int]] = {kept[place].key: [] for place in giving_way if counts[kept[place].key] > 1}
    for place in sorted(range(len(kept)), key=lambda place: place in giving_way) if shared else ():
        if (key := kept[place].key) in shared:
            shared[key].append(place)
    return shared.values()


def _said_before(kept: Sequence[Row], group: Iterable[int], giving_way: Collection[int]) -> list[int]:
    """Respelt rows that say what another row of their key says."""
    said: set[frozenset[tuple[str, str]]] = set()
    again = []
    for place in group:
        cells = frozenset(kept[place].values.items())
        if cells in said and place in giving_way:
            again.append(place)
        said.add(cells)
    return again


def _merged(table: Table, rows: Sequence[Row], kept: list[Row], first: int, others: Iterable[int]) -> Iterator[Finding]:
    """Fill the blanks of the row that is used out of those that agree with it; set the others aside."""
    for place in others:
        held, row = kept[first], kept[place]
        if agree(table, held.values, row.values):
            kept[first] = replace(held, values={**row.values, **held.values})
        else:
            yield _contradicted(rows[place], row, held)


def _doubled(table: str, count: int) -> Finding:
    rows, say = ("One row", "says") if count == 1 else (f"{count:,} rows", "say")
    problem = f"{rows} of {table} {say} nothing else than a row under another spelling of the same name; the two count once."
    return Finding(table, None, None, None, problem, "Nothing needs doing.", "note")


def _contradicted(before: Row, row: Row, held: Row) -> Finding:
    column = next(name for name in TABLES[row.table].names if before.values.get(name) != row.values.get(name))
    old, new = before.values[column], row.values[column]
    where = f"row {held.row}" + (f" of {held.source}" if held.source and held.source != row.source else "")
    problem = f"Once '{quoted(old)}' is read as '{quoted(new)}', this row is about the same as {where} and says something else."
    return Finding(
        row.table, row.row, column, old, problem, "Keep the right one of the two rows; the other is used.", "set_aside", row.source
    )
