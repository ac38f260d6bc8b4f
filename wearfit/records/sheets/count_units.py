"""A column of units beside a count: "pcs", "shots", "k"."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from typing import Final, NamedTuple

from wearfit.records.cells import Unreadable, number_text, quoted
from wearfit.records.findings import Finding, listed
from wearfit.records.names import bare_name
from wearfit.records.sheets.conversions import Conversion
from wearfit.records.sheets.header_units import MILLIONS, SPELLINGS, THOUSANDS, is_unit, spelling_of
from wearfit.records.sheets.headers import Fit, Match
from wearfit.records.sheets.region import Region, RowWords
from wearfit.records.sheets.told import choice_of

# Common practice, from memory.
UNIT_HEADERS: Final = frozenset(
    ("unit", "units", "uom", "um", "unitofmeasure", "unitsofmeasure", "unitofcount", "countunit", "qtyunit", "quantityunit", "countedin")
)
_COUNTS: Final[Mapping[str, tuple[str, ...]]] = {"runs": ("shots", "parts"), "counter": ("counter_shots",)}
_THOUSAND: Final = 1000.0
_MOST_WORDS: Final = 20  # a column of more different words is none of units; judgement
# "Each" and "number" say that things are counted one by one, not which things.
_SINGLY: Final = frozenset(("ea", "each", "count", "number", "no", "nos", "unit", "units"))
_SHOTS: Final = (SPELLINGS["shots"] | {"shot", "cycle", "stroke"}) - _SINGLY
_PARTS: Final = (SPELLINGS["parts"] | {"part", "piece", "pce", "pces", "goodparts", "stk", "stück"}) - _SINGLY


class _Said(NamedTuple):
    """What a unit says: the things counted, "" for none in particular, and how many to the one."""

    things: str
    factor: float


def units_beside(region: Region, match: Match, at: int, words: Counter[str]) -> tuple[Region, tuple[Finding, ...]] | None:
    """Read a count by the units that stand beside it.

    Parameters
    ----------
    region : Region
    match : Match
        Its header.
    at : int
        Column of the grid that may hold units.
    words : Counter of str
        What stands in it, in how many rows; "" for blank.

    Returns
    -------
    Region
        With the count turned into single things where the rows are in thousands, and with what is to be done with rows whose
        unit is another.
    tuple of Finding
        What was decided for the column; of rows that cannot be used it is said where they are read.

    Notes
    -----
    None where the column holds no units of a count.
    """
    count = _count_beside(region, at)
    filled = {word: rows for word, rows in words.items() if word}
    said = {word: read for word in filled if (read := _said(word))}
    # A unit that no count can be in, such as kg, is this count's only where it stands right behind it.
    behind = at - 1 in region.known and region.known[at - 1].name == count
    known = all(word in said or (behind and is_unit(word)) for word in filled)
    if not count or not said or len(filled) > _MOST_WORDS or not known:
        return None
    label = match.label(at)
    choose = choice_of(region.table.name, label, "")
    findings: list[Finding] = []

    def repaired(value: str, problem: str) -> None:
        repair = f"Nothing needs doing if that is right; if not, correct the units, or to have them passed over {choose}"
        findings.append(Finding(region.table.name, None, count, value, problem, repair, "repaired", region.grid.source))

    header_says_thousands = count in region.conversions
    factor = 1.0 if header_says_thousands else _factor_of_most(filled, said)
    others = [word for word in said if said[word].factor != factor and not header_says_thousands]
    refused = {word: _no_count(label, word, count, region.table.name) for word in filled if word not in said}
    refused |= {word: _another(label, word, count, factor) for word in others}
    conversions = dict(region.conversions)
    if factor != 1.0:
        unit = next(word for word in said if said[word].factor == factor)
        conversions[count] = Conversion(unit, factor)
        rows = sum(rows for word, rows in filled.items() if word in said and word not in others)
        repaired(unit, f"'{label}' says '{unit}' in {_rows(rows)}; the numbers of {count} are multiplied by {number_text(factor)}.")
        if others and "" in words:
            refused[""] = _another(label, "", count, factor)
    moved: dict[str, str] = {}
    chosen = next(match.fits[place] == Fit.CHOSEN for place, column in region.known.items() if column.name == count)
    for things in ("shots", "parts"):
        named = [word for word in said if said[word].things == things and word not in refused and not chosen]
        if not named or things == count.removeprefix("counter_"):
            continue
        if region.table.name != "runs" or any(column.name == things for column in region.known.values()):
            refused |= {word: _other_things(label, word, count, things) for word in named}
            continue
        moved |= dict.fromkeys(named, things)
        rows = sum(filled[word] for word in named)
        repaired(named[0], f"'{label}' says {_listed(named)} in {_rows(rows)}; there {count} are read as {things}.")
    row_words = RowWords(region.unknown[at], count, moved, refused)
    return replace(region, conversions=conversions, row_words=(*region.row_words, row_words)), tuple(findings)


def is_header_of_units(text: str) -> bool:
    return bare_name(text) in UNIT_HEADERS


def _count_beside(region: Region, at: int) -> str:
    """The count that a column of units speaks of: the only one of the table, else the nearest to the left of it."""
    counts = {place: column.name for place, column in region.known.items() if column.name in _COUNTS.get(region.table.name, ())}
    left = [place for place in counts if place < at]
    if len(counts) == 1:
        return next(iter(counts.values()))
    return counts[max(left)] if left else ""


def _said(word: str) -> _Said | None:
    unit = spelling_of(word)
    if unit in _SHOTS:
        return _Said("shots", 1.0)
    if unit in _PARTS:
        return _Said("parts", 1.0)
    if unit in _SINGLY:
        return _Said("", 1.0)
    if unit not in THOUSANDS or unit[-1] in "€$£":
        return None
    things = "parts" if "pc" in unit else "shots" if "shot" in unit or "cycle" in unit else ""
    return _Said(things, _THOUSAND)


def _factor_of_most(filled: Mapping[str, int], said: Mapping[str, _Said]) -> float:
    rows: Counter[float] = Counter()
    for word, read in said.items():
        rows[read.factor] += filled[word]
    return max(rows, key=lambda factor: (rows[factor], -factor))


def _no_count(label: str, word: str, count: str, table: str) -> Unreadable:
    things = "shots" if table == "counter" else "shots or parts"
    if spelling_of(word) in MILLIONS:
        return Unreadable(f"'{label}' says '{quoted(word)}', which may be thousands or millions.", f"Write {count} in full.")
    return Unreadable(f"'{label}' says '{quoted(word)}', and {things} are needed.", f"Write {count} as a number of {things}.")


def _another(label: str, word: str, count: str, factor: float) -> Unreadable:
    says = f"says '{quoted(word)}'" if word else "is blank"
    most = "thousands" if factor != 1.0 else "single ones"
    return Unreadable(f"'{label}' {says}, and most rows count {count} in {most}.", f"Write {count} in full in every row.")


def _other_things(label: str, word: str, count: str, things: str) -> Unreadable:
    where = "stands in a column of its own" if count != "counter_shots" else "is not what a counter of shots shows"
    verb = "the number of" if count != "counter_shots" else "a number of"
    return Unreadable(f"'{label}' says '{quoted(word)}' of {count}, and {verb} {things} {where}.", f"Correct the unit, or {count}.")


def _rows(count: int) -> str:
    return "one row" if count == 1 else f"{count:,} rows"


def _listed(words: list[str]) -> str:
    return listed([f"'{word}'" for word in words])
