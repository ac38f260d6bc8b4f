"""One name under several spellings: rows are written under one of them."""

import json
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from itertools import accumulate, combinations
from types import MappingProxyType
from typing import Final

from wearfit.records.cells import quoted
from wearfit.records.findings import Finding, listed
from wearfit.records.identity import Values
from wearfit.records.moved_rows import Moves, agree, moved
from wearfit.records.rows import Rows, TableRows
from wearfit.records.spellings import one_name, script_of, spelling_key
from wearfit.records.tables import TABLES

# By column: the table whose spelling is used where it has one. Makers are named nowhere else than in tools.
NAMED_IN: Final[Mapping[str, str]] = {
    "tool_id": "tools", "plant_id": "plants", "resin_id": "resins", "design_id": "tools", "maker_id": "tools", "product_id": "bill",
}  # fmt: skip
_COLUMNS: Final[Mapping[str, tuple[str, ...]]] = {
    table.name: tuple(name for name in table.names if name in NAMED_IN) for table in TABLES.values()
}
_LONGEST_LIST: Final = 360  # letters that the spellings in one sentence may take; more would not be read


def respell(rows: Rows, chosen: Moves = MappingProxyType({})) -> tuple[Rows, list[Finding]]:
    """Write every name in one spelling.

    Parameters
    ----------
    rows : Rows
        Rows in force, before old numbers of tools are followed.
    chosen : mapping of str to mapping of str to str
        By column: a name to the one that is meant, as the user decided; to itself where it is to stay.

    Returns
    -------
    Rows
        Names that share a `spelling_key` have the spelling of the table that describes them, else the one in most rows. Where that
        table has several and says different things of them, all are left as they are; so is an old number of the aliases table.
        Rows that thereby say what another row says are there once.
    list of Finding
    """
    given = _Given.of(rows)
    asked = {column: _asked(names, chosen.get(column, {})) for column, names in given.names.items()}
    moves = {}
    for column, names in given.names.items():
        decided = asked[column]
        found = _moves(column, (names - set(chosen.get(column, {})) - set(decided)) | set(decided.values()), given)
        all_moves = {**{name: found.get(meant, meant) for name, meant in decided.items()}, **found}
        if all_moves := {name: meant for name, meant in all_moves.items() if name != meant}:  # choices in a chain may lead back
            moves[column] = all_moves
    if not moves:
        return rows, []
    kept, merged = moved(rows, moves)
    return kept, [*_told(moves, asked, given), *merged]


def choice_of(column: str, name: str, meant: str) -> str:
    """The line of the choices that says what is meant by a name, and where it goes, for a sentence."""
    line = " = ".join(json.dumps(quoted(text), ensure_ascii=False) for text in (name, meant))
    return f"{line} under [names.{column}] in the choices"


def _asked(names: Collection[str], chosen: Mapping[str, str]) -> dict[str, str]:
    """What the user decided of the names that are there, however they are spelt."""
    by_key = {spelling_key(name): meant for name, meant in chosen.items() if name != meant}
    decided = {name: chosen[name] if name in chosen else by_key.get(spelling_key(name), name) for name in names} if chosen else {}
    return {name: meant for name, meant in decided.items() if name != meant}


@dataclass(frozen=True)
class _Given:
    """The rows by table, and the names in each column of NAMED_IN."""

    tables: Mapping[str, TableRows]
    names: Mapping[str, set[str]]

    @classmethod
    def of(cls, rows: Rows) -> "_Given":
        names: dict[str, set[str]] = {}
        for some in rows.tables:
            for column in _COLUMNS[some.table]:
                names.setdefault(column, set()).update(some.column(column).counts())
            if some.table == "aliases":
                names.setdefault("tool_id", set()).update(some.column("old_tool_id").counts())
        return cls({some.table: some for some in rows.tables}, {column: found - {""} for column, found in names.items()})

    def rows_of(self, table: str) -> Iterator[Values]:
        """Cells of the rows of one table."""
        return (row.values for row in self.tables.get(table, ()))

    def counts(self, column: str, names: Collection[str]) -> dict[str, Counter[str]]:
        """Rows by table that have one of some names, name by name."""
        found = {}
        for table, some in self.tables.items():
            if column in _COLUMNS[table]:
                found[table] = Counter({name: count for name, count in some.column(column).counts().items() if name in names})
        return found


def _moves(column: str, names: Collection[str], given: _Given) -> dict[str, str]:
    """Which spellings give way to which."""
    groups: dict[str, list[str]] = {}
    for name in names:
        groups.setdefault(spelling_key(name), []).append(name)
    doubtful = [group for group in groups.values() if len(group) > 1 and one_name(group)]
    if not doubtful:
        return {}
    counts: Counter[str] = Counter()
    for of_table in given.counts(column, {name for group in doubtful for name in group}).values():
        counts.update(of_table)
    home = TABLES[NAMED_IN[column]]
    described: dict[str, Values] = {cells.get(column, ""): cells for cells in given.rows_of(home.name)}
    old_numbers = {cells["old_tool_id"] for cells in given.rows_of("aliases")} if column == "tool_id" else set()
    moves = {}
    for group in doubtful:
        at_home = [name for name in group if name in described]
        if home.key == (column,) and not all(agree(home, described[a], described[b]) for a, b in combinations(at_home, 2)):
            continue
        candidates = at_home or [name for name in group if name in old_numbers] or group
        used = min(candidates, key=lambda name: (-counts[name], name))
        moves.update({name: used for name in group if name != used and name not in old_numbers})
    return moves


def _told(moves: Moves, asked: Moves, given: _Given) -> Iterator[Finding]:
    """Of each column of each table in which names were written otherwise, one finding for what was decided and one for the rest."""
    for column, of_names in moves.items():
        for table, counts in given.counts(column, of_names).items():
            for by_choice in (False, True):
                names = sorted((name for name in counts if (name in asked[column]) == by_choice), key=lambda name: (-counts[name], name))
                if names:
                    rows = sum(counts[name] for name in names)
                    yield _said(table, column, {name: of_names[name] for name in names}, rows, by_choice)


def _said(table: str, column: str, read_as: Mapping[str, str], count: int, by_choice: bool) -> Finding:
    names = list(read_as)
    pairs = [f"'{quoted(name)}'{_script(name)} as '{quoted(read_as[name])}'" for name in names]
    shown = max(1, sum(letters <= _LONGEST_LIST for letters in accumulate(map(len, pairs))))
    said, left = listed(pairs[:shown]), len(pairs) - shown
    more = f", and so on for {left:,} more" if left else ""
    rows = "one row" if count == 1 else f"{count:,} rows"
    if by_choice:
        problem = f"By your choice {column} is read in {rows} otherwise than it is written: {said}{more}."
        return Finding(table, None, column, names[0], problem, "Nothing needs doing.", "note")
    problem = f"In {rows} {column} is spelt otherwise than elsewhere; read is {said}{more}."
    another = f"if '{quoted(names[0])}' is another, write {choice_of(column, names[0], names[0])}."
    repair = f"Nothing needs doing if that is right; {another}"
    return Finding(table, None, column, names[0], problem, repair, "repaired")


def _script(name: str) -> str:
    script = script_of(name)
    return f" with {script} letters" if script else ""
