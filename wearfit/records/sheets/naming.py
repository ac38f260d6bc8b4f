"""What the name of a sheet or file says of the table it holds."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import cache
from typing import Final

from wearfit.records.choices import Choices
from wearfit.records.names import bare_name
from wearfit.records.readers.grid import Grid
from wearfit.records.sheets.synonyms import TABLE_WORDS
from wearfit.records.tables import TABLES

# Words that say of a sheet that it is none to be read; "old" is not among them, for an old sheet may hold the earlier years.
_NOT_FOR_READING: Final = frozenset(("copy", "backup", "bak", "draft", "template", "example", "superseded"))
# These say so only beside a table's name: "Test results" may well be what was measured.
_NOT_FOR_READING_BESIDE: Final = _NOT_FOR_READING | {"test", "blank", "empty"}
_ORDERS: Final = tuple(tuple(words.split()) for words in ("do not use", "don t use", "dont use", "not in use", "do not read", "not valid"))

# Words that say of a sheet that it tells what is to be, or sums up what stands elsewhere. Common practice.
_AHEAD: Final = frozenset(
    ("plan", "plans", "planned", "planning", "forecast", "forecasts", "demand", "budget", "budgets", "budgeted", "target", "targets",
     "projection", "projected", "outlook", "scenario", "scenarios", "schedule", "scheduled")
)  # fmt: skip
_SUMS: Final = frozenset(("summary", "summaries", "totals", "subtotals", "pivot", "averages"))
# With one of these it tells what was, whatever else it says: "planned maintenance log".
_DONE: Final = frozenset(("log", "history", "actual", "actuals", "done", "made", "record", "records", "maintenance"))


class Named(IntEnum):
    """How plainly a name says which table a sheet holds."""

    NOT = 0
    LOOSELY = 1  # by a word of the trade, or with other words around it
    NUMBERED = 2  # by the table's own name with a year or number
    EXACTLY = 3
    CHOSEN = 4


@dataclass(frozen=True)
class Naming:
    """Tables that a sheet may hold by its name: one, or several where a word stands for more than one.

    `left_out`: the user wants it left out. `set_by`: words in the name by which it is none to be read, such as "copy".
    `no_history`: a word by which it does not tell what was done, such as "budget" or "summary".
    """

    tables: tuple[str, ...] = ()
    named: Named = Named.NOT
    left_out: bool = False
    set_by: str = ""
    no_history: str = ""


def naming_of(grid: Grid, choices: Choices) -> Naming:
    """What the user's choice says of a sheet, else its name: "runs", "Tool list", "runs 2023", "2024 runs", "runs_north"."""
    chosen = choices.table_of(grid.source)
    if chosen is None:
        chosen = choices.table_of(grid.name)
    if chosen is not None:
        return Naming((chosen,), Named.CHOSEN) if chosen else Naming(left_out=True)
    bare = bare_name(grid.name)
    if bare in TABLES:
        return Naming((bare,), Named.EXACTLY)
    words = _words(grid.name)
    no_history = _no_history(words)
    if bare in _table_words():
        return Naming(_table_words()[bare], Named.LOOSELY, no_history=no_history)
    for length in range(min(len(words), 5), 0, -1):
        for part, rest in ((words[:length], words[length:]), (words[-length:], words[:-length])):
            name = "".join(part)
            if name in TABLES and all(map(_is_number, rest)):
                return Naming((name,), Named.NUMBERED, no_history=no_history)
            tables = (name,) if name in TABLES else _table_words().get(name, ())
            if tables:
                return Naming(tables, Named.LOOSELY, set_by=_refused(words, _NOT_FOR_READING_BESIDE), no_history=no_history)
    return Naming(set_by=_refused(words, _NOT_FOR_READING), no_history=no_history)


def _refused(words: Sequence[str], refusing: Collection[str]) -> str:
    """The words by which a sheet is none to be read, "" where there are none."""
    for order in _ORDERS:
        if any(tuple(words[at : at + len(order)]) == order for at in range(len(words))):
            return " ".join(order).replace("don t", "don't")
    return next((word for word in words if word in refusing), "")


def _no_history(words: Sequence[str]) -> str:
    """The word by which a sheet tells of what is to be, or sums up; "" where there is none, or another says that it tells what was."""
    return "" if not _DONE.isdisjoint(words) else next((word for word in words if word in _AHEAD | _SUMS), "")


@cache
def _table_words() -> dict[str, tuple[str, ...]]:
    tables: dict[str, tuple[str, ...]] = {}
    for table, words in TABLE_WORDS.items():
        for word in words:
            tables[bare_name(word)] = (*tables.get(bare_name(word), ()), table)
    return tables


def _words(name: str) -> list[str]:
    """The words of a name, letters and digits apart: "runs2023" is "runs" and "2023"."""
    text = "".join(letter if letter.isalnum() else " " for letter in name[:200])
    apart = "".join(
        f" {letter}" if before.isalnum() and letter.isdigit() != before.isdigit() else letter
        for before, letter in zip(" " + text, text, strict=False)
    )
    return [word for word in map(bare_name, apart.split()) if word]


def _is_number(word: str) -> bool:
    return word.isdigit() or word in ("fy", "q", "h", "v", "year", "sheet", "part")
