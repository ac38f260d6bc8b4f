"""What the name of a sheet or file says of the table it holds."""

from dataclasses import dataclass
from enum import IntEnum
from functools import cache
from typing import Final

from wearfit.records.choices import Choices
from wearfit.records.names import bare_name
from wearfit.records.readers.grid import Grid
from wearfit.records.sheets.synonyms import TABLE_WORDS
from wearfit.records.tables import TABLES

# Words beside a table's name that say the sheet is none to be read; "old" is not among them, for an old sheet may hold the earlier years.
_NOT_FOR_READING: Final = frozenset(("copy", "backup", "bak", "draft", "template", "example", "test", "blank", "empty"))


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

    `left_out`: the user wants it left out. `set_by`: a word in the name by which it is none to be read, such as "copy".
    """

    tables: tuple[str, ...] = ()
    named: Named = Named.NOT
    left_out: bool = False
    set_by: str = ""


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
    if bare in _table_words():
        return Naming(_table_words()[bare], Named.LOOSELY)
    words = _words(grid.name)
    refused = next((word for word in words if word in _NOT_FOR_READING), "")
    for length in range(min(len(words), 5), 0, -1):
        for part, rest in ((words[:length], words[length:]), (words[-length:], words[:-length])):
            name = "".join(part)
            if name in TABLES and all(map(_is_number, rest)):
                return Naming((name,), Named.NUMBERED)
            tables = (name,) if name in TABLES else _table_words().get(name, ())
            if tables:
                return Naming(tables, Named.LOOSELY, set_by=refused)
    return Naming()


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
