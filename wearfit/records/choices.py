"""What the user has decided about files that can be read in more than one way."""

import json
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Final, Literal

from wearfit.errors import Refusal
from wearfit.records.names import offer, plain_name
from wearfit.records.spellings import spelling_key
from wearfit.records.tables import TABLES

DateOrder = Literal["day month year", "month day year", "year month day"]
Decimals = Literal["point", "comma"]
CountedIn = Literal["shots", "parts"]

DATE_ORDERS: Final[tuple[DateOrder, ...]] = ("day month year", "month day year", "year month day")
DECIMALS: Final[tuple[Decimals, ...]] = ("point", "comma")
COUNTED_IN: Final[tuple[CountedIn, ...]] = ("shots", "parts")

EVERY_COLUMN: Final = tuple(dict.fromkeys(name for table in TABLES.values() for name in table.names))
NAMES: Final = ("tool_id", "plant_id", "resin_id", "design_id", "maker_id", "product_id")
SECTIONS: Final = ("tables", "columns", "dates", "decimals", "encodings", "names", "counts")


@dataclass(frozen=True)
class CountChoice:
    """What a tool's run counts count: at one plant where it is named, else wherever the tool ran."""

    tool_id: str
    counted_in: CountedIn
    plant_id: str = ""


@dataclass(frozen=True)
class Choices:
    """The user's decisions; whatever is not decided is read as the file itself tells.

    Parameters
    ----------
    tables : mapping of str to str
        Name of a sheet or file to the table it holds; "" to leave it out.
    columns : mapping of str to mapping of str to str
        By table: header to the column it is; "" to keep it unused.
    dates : mapping of str to mapping of str to DateOrder
        By column, under its table or, where one sheet is written otherwise, under the sheet: the order in which its dates are written.
    decimals : mapping of str to mapping of str to Decimals
        By column, under its table or sheet: what marks the decimals.
    encodings : mapping of str to str
        Name of a text file to its encoding.
    names : mapping of str to mapping of str to str
        By column of NAMES: a name as it is written to the one that is meant; to itself where it is not to be made one with another.
    counts : tuple of CountChoice
        The last one that fits a run holds.
    """

    tables: Mapping[str, str] = field(default_factory=dict)
    columns: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    dates: Mapping[str, Mapping[str, DateOrder]] = field(default_factory=dict)
    decimals: Mapping[str, Mapping[str, Decimals]] = field(default_factory=dict)
    encodings: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    counts: tuple[CountChoice, ...] = ()

    def table_of(self, name: str) -> str | None:
        """Table that a sheet or file holds, "" where it is left out, None where that is not decided."""
        return _looked_up(self.tables, name)

    def column_of(self, table: str, header: str) -> str | None:
        """Column that a header stands for, "" where it is to be kept unused, None where that is not decided."""
        return _looked_up(self.columns.get(table, {}), header)

    def date_order_of(self, table: str, column: str, sheets: Sequence[str] = ()) -> DateOrder | None:
        """Order of a column's dates, None where it is not decided; what is said of its sheet, by any of its names, goes first."""
        return _of_column(self.dates, table, column, sheets)

    def decimals_of(self, table: str, column: str, sheets: Sequence[str] = ()) -> Decimals | None:
        """What marks a column's decimals, None where it is not decided; what is said of its sheet, by any of its names, goes first."""
        return _of_column(self.decimals, table, column, sheets)

    def encoding_of(self, filename: str) -> str | None:
        return _looked_up(self.encodings, filename)

    def counted_in(self, tool_id: str, plant_id: str) -> CountedIn | None:
        """What a run's count counts, None where that is not decided."""
        fitting = [
            choice.counted_in
            for choice in self.counts
            if _same(choice.tool_id, tool_id) and (not choice.plant_id or _same(choice.plant_id, plant_id))
        ]
        return fitting[-1] if fitting else None

    def later(self, other: "Choices") -> "Choices":
        """These choices with those of another put over them."""
        both: dict[str, Any] = {name: {**getattr(self, name), **getattr(other, name)} for name in ("tables", "encodings")}
        for name in ("columns", "dates", "decimals", "names"):
            mine, theirs = getattr(self, name), getattr(other, name)
            both[name] = {table: {**mine.get(table, {}), **theirs.get(table, {})} for table in {**mine, **theirs}}
        decided = {(choice.tool_id, choice.plant_id) for choice in other.counts}
        kept = tuple(choice for choice in self.counts if (choice.tool_id, choice.plant_id) not in decided)
        return replace(self, **both, counts=kept + other.counts)

    def to_json(self) -> str:
        return json.dumps(asdict(self), ensure_ascii=False, sort_keys=True)


def read_choices(text: str) -> Choices:
    """Choices as their TOML file says them.

    Parameters
    ----------
    text : str

    Raises
    ------
    Refusal
        Where it is not TOML, or a section, table, column or word in it is none; names it. Status 2.
    """
    try:
        said = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Refusal(f"The choices are not TOML: {error}.", "Correct the file.", status=2) from None
    return _checked(said)


def choices_of_json(text: str) -> Choices:
    """The inverse of `Choices.to_json`."""
    return _checked(json.loads(text))


def _checked(said: Mapping[str, Any]) -> Choices:
    for section in said:
        _one_of(section, SECTIONS, "a section of the choices")
    tables, encodings = _texts(said, "tables"), _texts(said, "encodings")
    for table in tables.values():
        _one_of(table, ("", *TABLES), "a table")
    for encoding in encodings.values():
        try:
            "".encode(encoding)
        except LookupError:
            raise Refusal(f"The choices name '{encoding}', which is no encoding.", "Write utf-8, cp1250 or another.", status=2) from None
    return Choices(
        tables=tables,
        encodings=encodings,
        columns=_by_table(said),
        dates=_by_column(said, "dates", DATE_ORDERS),  # type: ignore[arg-type]
        decimals=_by_column(said, "decimals", DECIMALS),  # type: ignore[arg-type]
        names=_names(said),
        counts=tuple(_count(entry) for entry in _entries(said)),
    )


def _texts(said: Mapping[str, Any], section: str) -> dict[str, str]:
    entries = said.get(section, {})
    if not isinstance(entries, Mapping) or not all(isinstance(value, str) for value in entries.values()):
        raise Refusal(f"The section {section} of the choices is not one of names and words.", 'Write lines as "name" = "word".', status=2)
    return dict(entries)


def _by_table(said: Mapping[str, Any]) -> dict[str, dict[str, str]]:
    """The section of headers and the columns they are, by table."""
    read = {}
    for table in _sections(said, "columns"):
        _one_of(table, TABLES, "a table")
        read[table] = _texts(said["columns"], table)
        for column in read[table].values():
            _one_of(column, ("", *TABLES[table].names), f"a column of {table}")
    return read


def _by_column(said: Mapping[str, Any], section: str, words: Iterable[str]) -> dict[str, dict[str, str]]:
    """A section of columns and words, by table or sheet."""
    words = tuple(words)
    read = {}
    for where in _sections(said, section):
        names = TABLES[where].names if where in TABLES else EVERY_COLUMN
        read[where] = _texts(said[section], where)
        for column, word in read[where].items():
            _one_of(column, names, f"a column of {where}")
            _one_of(word, words, f"a choice for {section}")
    return read


def _names(said: Mapping[str, Any]) -> dict[str, dict[str, str]]:
    """The section of names and what is meant by them, by column."""
    read = {}
    for column in _sections(said, "names"):
        _one_of(column, NAMES, "a column of names")
        read[column] = _texts(said["names"], column)
        if not all(map(str.strip, read[column].values())):
            raise Refusal(f"The section names.{column} of the choices has a blank name.", "Write the name that is meant.", status=2)
    return read


def _sections(said: Mapping[str, Any], section: str) -> Mapping[str, Any]:
    parts = said.get(section, {})
    what, such_as = ("column", "plant_id") if section == "names" else ("table", "runs")
    if not isinstance(parts, Mapping):
        raise Refusal(f"The section {section} of the choices names no {what}.", f"Write it as [{section}.{such_as}].", status=2)
    return parts


def _entries(said: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    entries = said.get("counts", [])
    if not isinstance(entries, list | tuple) or not all(isinstance(entry, Mapping) for entry in entries):
        raise Refusal("The section counts of the choices is not a list.", "Write each entry under [[counts]].", status=2)
    return list(entries)


def _count(entry: Mapping[str, Any]) -> CountChoice:
    wanted = {"tool_id", "counted_in"}
    if not wanted <= set(entry) <= wanted | {"plant_id"} or not all(isinstance(value, str) for value in entry.values()):
        raise Refusal("An entry of counts does not say tool_id and counted_in.", "Write both, and plant_id where it holds there alone.", 2)
    _one_of(entry["counted_in"], COUNTED_IN, "what a run counts")
    return CountChoice(entry["tool_id"], entry["counted_in"], entry.get("plant_id", ""))


def _one_of(word: str, words: Iterable[str], what: str) -> None:
    words = list(words)
    if word not in words:
        listed = ", ".join(f"'{each}'" for each in words if each)
        raise Refusal(f"The choices name '{word}', which is not {what}.", offer(word, words, f"Write one of {listed}."), status=2)


def _same(one: str, other: str) -> bool:
    return one == other or spelling_key(one) == spelling_key(other)


def _looked_up[Said](said: Mapping[str, Said], name: str) -> Said | None:
    """What is said of a name, whatever its case, spaces and hyphens."""
    if name in said:
        return said[name]
    plain = plain_name(name)
    return next((value for key, value in said.items() if plain_name(key) == plain), None)


def _of_column[Word](said: Mapping[str, Mapping[str, Word]], table: str, column: str, sheets: Sequence[str]) -> Word | None:
    # A sheet that goes by the table's name has no section of its own.
    of_sheets = [_looked_up(said, sheet) or {} for sheet in sheets if plain_name(sheet) not in TABLES]
    return next((words[column] for words in (*of_sheets, said.get(table, {})) if column in words), None)
