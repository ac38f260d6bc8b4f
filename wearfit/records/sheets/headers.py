"""Which column of a table each header of a sheet stands for."""

import unicodedata
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import IntEnum
from functools import lru_cache
from typing import Final

from wearfit.records.choices import Choices
from wearfit.records.columns import Column, Table
from wearfit.records.names import bare_name, nearest_name, plain_name
from wearfit.records.readers.grid import Cell
from wearfit.records.sheets.conversions import Conversion, conversion_of
from wearfit.records.sheets.header_units import length_unit, split_unit, verdict
from wearfit.records.sheets.synonyms import exact_names, names_without_unit, phrases, trade_words
from wearfit.records.tables import TABLES

LONGEST: Final = 200  # letters of a header or a quoted cell; more would make a sentence that nobody reads


class Fit(IntEnum):
    """How a header came to stand for a column; of two headers for one column the greater wins."""

    NONE = 0
    CONVERTED = 1
    LOWER_LINE = 2
    WORD = 3
    EXACT = 4
    CHOSEN = 5


@dataclass(frozen=True, slots=True)
class Heading:
    """What stands above one column of a sheet.

    `label` is what it is called in messages and choices, no two alike; `text` is what stands there, the two lines of a
    two-line header joined, "" where nothing does; `lower` is the lower line alone where the upper one only names a group, else "".
    """

    position: int
    label: str
    text: str
    lower: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """What one header says by itself: the column it fits and how, or why it is not taken for the column that it resembles."""

    fit: Fit
    column: str = ""
    resembles: str = ""
    wrong_unit: str = ""
    conversion: Conversion | None = None


@dataclass(frozen=True)
class Match:
    """A header set against a table.

    Parameters
    ----------
    table : Table
    headings : tuple of Heading
    known : mapping of int to Column
        By position.
    fits : mapping of int to Fit
        How each header that fits some column does so.
    beaten : mapping of int to str
        Headers that fit a column for which a better one is there.
    rivals : mapping of str to tuple of int
        Columns for which two headers are equally good: none of them is taken.
    wrong_units : mapping of int to (str, str)
        Headers of a column in another unit that cannot be turned into its own: the column and that unit.
    conversions : mapping of int to Conversion
        Headers of a column in another unit that can.
    resembling : mapping of int to str
        Headers that say more than the name of the column.
    left_unused : frozenset of int
        Headers that the user wants kept unused.
    """

    table: Table
    headings: tuple[Heading, ...]
    known: Mapping[int, Column]
    fits: Mapping[int, Fit] = field(default_factory=dict)
    beaten: Mapping[int, str] = field(default_factory=dict)
    rivals: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    wrong_units: Mapping[int, tuple[str, str]] = field(default_factory=dict)
    resembling: Mapping[int, str] = field(default_factory=dict)
    left_unused: frozenset[int] = frozenset()
    conversions: Mapping[int, Conversion] = field(default_factory=dict)

    @property
    def names(self) -> frozenset[str]:
        return frozenset(column.name for column in self.known.values())

    @property
    def missing(self) -> tuple[str, ...]:
        """Required columns that no header stands for."""
        names = self.names
        return tuple(column.name for column in self.table.columns if column.required and column.name not in names)

    @property
    def missing_groups(self) -> tuple[tuple[str, ...], ...]:
        """Groups of columns of which one must be there, and none is."""
        return tuple(group for group in self.table.one_of if self.names.isdisjoint(group))

    @property
    def complete(self) -> bool:
        return not self.missing and not self.missing_groups

    @property
    def required_found(self) -> int:
        return sum(column.required for column in self.known.values())

    def label(self, position: int) -> str:
        """What the header of a column is called; a column beyond the header goes by its number."""
        return next((heading.label for heading in self.headings if heading.position == position), f"column {position + 1}")

    def unknown_labels(self, filled: Container[int]) -> dict[int, str]:
        """The headers that stand for no column, each under a name that no column has; a blank one where its column is filled."""
        taken = {plain_name(name) for name in self.table.names}
        others = (heading for heading in self.headings if heading.position not in self.known)
        labels = {heading.position: heading.label for heading in others if heading.text or heading.position in filled}
        return {at: f"{label} (not used)" if plain_name(label) in taken else label for at, label in labels.items()}


def text_of(cell: Cell) -> str:
    """A cell as one line of text: a whole number without a decimal point, no unseen marks, blanks single, at most `LONGEST` letters."""
    if not isinstance(cell, str):
        return str(int(cell)) if cell.is_integer() else repr(cell)
    text = " ".join(unicodedata.normalize("NFC", cell[: 4 * LONGEST]).split())
    if not text.isprintable():
        text = "".join(letter for letter in text if letter.isprintable())
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"


def match_header(table: Table, headings: Sequence[Heading], choices: Choices) -> Match:
    """Set a header against a table.

    Parameters
    ----------
    table : Table
    headings : sequence of Heading
    choices : Choices
        What the user has said of its headers comes first; then the names themselves, then the trade's words for them.

    Returns
    -------
    Match
        Complete or not: who calls decides whether that is a fault.
    """
    claims: dict[str, list[tuple[Fit, int]]] = {}
    wrong_units: dict[int, tuple[str, str]] = {}
    resembling: dict[int, str] = {}
    left_unused: set[int] = set()
    conversions: dict[int, Conversion] = {}
    for heading in headings:
        chosen = choices.column_of(table.name, heading.label) if choices.columns else None
        if chosen == "":
            left_unused.add(heading.position)
            continue
        reading = _read_lines(table.name, heading)
        if chosen:
            reading = Reading(Fit.CHOSEN, chosen, conversion=reading.conversion if reading.column == chosen else None)
        if reading.conversion:
            conversions[heading.position] = reading.conversion
        if reading.column:
            claims.setdefault(reading.column, []).append((reading.fit, heading.position))
        elif reading.wrong_unit:
            wrong_units[heading.position] = reading.resembles, reading.wrong_unit
        elif reading.resembles:
            resembling[heading.position] = reading.resembles
    known: dict[int, Column] = {}
    fits: dict[int, Fit] = {}
    beaten: dict[int, str] = {}
    rivals: dict[str, tuple[int, ...]] = {}
    for name, claimed in claims.items():
        best = max(fit for fit, _ in claimed)
        fits.update({position: fit for fit, position in claimed})
        winners = tuple(position for fit, position in claimed if fit == best)
        if len(winners) > 1:
            rivals[name] = winners
        else:
            known[winners[0]] = table.column(name)
            beaten.update({position: name for _, position in claimed if position != winners[0]})
    converted = {at: conversion for at, conversion in conversions.items() if at in known}
    match = Match(table, tuple(headings), known, fits, beaten, rivals, wrong_units, resembling, frozenset(left_unused), converted)
    return _with_one_unit_of_length(match)


def nearest_column(match: Match, position: int, wanted: Sequence[str]) -> str | None:
    """Of the columns wanted, the one that a header stands for most likely; for an offer only."""
    if match.resembling.get(position) in wanted:
        return match.resembling[position]
    label = match.label(position)
    by_phrase = phrases(match.table.name)
    bare = bare_name(label)
    for phrase, columns in by_phrase.items():
        if bare_name(phrase) == bare:
            return next((column for column in columns if column in wanted), None)
    near = nearest_name(label, (phrase for phrase, columns in by_phrase.items() if set(columns) & set(wanted)))
    return next(column for column in by_phrase[near] if column in wanted) if near else None


def _read_lines(table: str, heading: Heading) -> Reading:
    reading = read_heading(table, heading.text)
    if reading.column or reading.resembles or not heading.lower:
        return reading
    lower = read_heading(table, heading.lower)
    return Reading(Fit.LOWER_LINE, lower.column) if lower.column else lower


@lru_cache(maxsize=30_000)
def read_heading(table: str, text: str) -> Reading:
    """What a header says by itself in a table."""
    bare = bare_name(text)
    if not bare:
        return Reading(Fit.NONE)
    if column := exact_names(table).get(bare):
        return Reading(Fit.EXACT, column)
    name, unit = split_unit(text)
    bracketed = unit if text.rstrip(" *:").endswith((")", "]")) else ""
    column = trade_words(table).get(bare)
    if column and not (bracketed and verdict(TABLES[table].column(column), bracketed) == "differs"):  # "Cycle (s)" counts no cycles
        return Reading(Fit.WORD, column)
    if not unit:
        return Reading(Fit.NONE)
    bare = bare_name(name)
    exact = exact_names(table).get(bare) or names_without_unit(table).get(bare)
    column = exact or trade_words(table).get(bare) or ""
    if not column:
        return Reading(Fit.NONE)
    said = verdict(TABLES[table].column(column), unit)
    same = bare_name(unit)
    if said == "agrees" or column in (exact_names(table).get(same), trade_words(table).get(same)):
        return Reading(Fit.EXACT if exact else Fit.WORD, column)
    if said == "differs" and (conversion := conversion_of(TABLES[table].column(column), unit)):
        return Reading(Fit.CONVERTED, column, conversion=conversion)
    return Reading(Fit.NONE, resembles=column, wrong_unit=unit if said == "differs" else "")


def _with_one_unit_of_length(match: Match) -> Match:
    """Measurements and their limits must be in one unit: those not in the unit of the value are in a wrong one."""
    lengths = {at: length_unit(split_unit(match.label(at))[1]) for at, column in match.known.items() if column.unit == "as measured"}
    value = next((lengths[at] for at in lengths if match.known[at].name == "value"), "")
    wrong = {at: (match.known[at].name, unit) for at, unit in lengths.items() if value and unit and unit != value}
    if not wrong:
        return match
    known = {at: column for at, column in match.known.items() if at not in wrong}
    return replace(match, known=known, wrong_units={**match.wrong_units, **wrong})
