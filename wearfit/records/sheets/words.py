"""Words that people write in cells: for nothing known, for yes and no, and other spellings of the words of a list."""

import re
from collections.abc import Mapping
from typing import Final

from wearfit.records.columns import Column
from wearfit.records.names import plain_name

# Put where nothing is known. Common practice; those in other languages from memory.
BLANK_WORDS: Final = frozenset({
    "n/a", "n.a.", "n.a", "na", "n/k", "nk", "-", "--", "---", "–", "—", "?", "??", "???", ".", "/", "unknown", "not known", "unk",
    "none", "null", "nil", "nan", "tbd", "t.b.d.", "tba", "tbc", "not stated", "not recorded", "no data", "missing", "k.a.", "k. a.", "k.a",
})  # fmt: skip

# In a text these may say something: that there is no coating, or a maker of that name.
_SAY_SOMETHING: Final = frozenset({"none", "nil", "null", "nan", "na", "nk", ".", "/", "missing"})

_ERROR = re.compile(
    r"#(REF!|N/A|N/V|NV|DIV/0!|VALUE!|NAME\?|NUM!|NULL!|SPILL!|CALC!|FIELD!|GETTING_DATA|#+)|Err:\d{3}", re.ASCII | re.IGNORECASE
)

FLAGS: Final[Mapping[str, str]] = {
    "1": "1", "yes": "1", "y": "1", "true": "1", "t": "1", "x": "1", "✓": "1", "✔": "1",
    "0": "0", "no": "0", "n": "0", "false": "0", "f": "0",
}  # fmt: skip

_EVENTS: Final[Mapping[str, tuple[str, ...]]] = {
    "worn": ("worn out", "wear out", "found worn"),
    "retool": ("retooled", "retooling", "new cavities", "new cavity set", "new cavity inserts"),
    "refurbish": ("refurbished", "refurbishment", "refurbishing", "refurb"),
    "retire": ("retired", "retirement", "scrap", "scrapped", "decommissioned", "disposed", "disposed of"),
    "service": ("serviced", "servicing", "preventive maintenance", "cleaned and greased"),
    "modify": ("modified", "modification", "modifying"),
    "store": ("stored", "storing", "put in store", "put into store", "put in storage", "into storage"),
    "take_out": ("taken out", "taken out of store", "out of store", "out of storage", "from storage"),
    "move": ("moved", "moving", "transfer", "transferred", "relocated", "relocation"),
    "hold": ("held", "on hold", "put on hold"),
    "release": ("released", "hold released"),
    "order": ("ordered", "replacement ordered"),
}
_CAUSES: Final[Mapping[str, tuple[str, ...]]] = {
    "wear": ("worn", "worn out", "wear out", "normal wear", "wear and tear"),
    "damage": ("damaged", "crash", "crashed", "broken", "breakage", "accident"),
    "planned": ("plan", "preventive", "preventative", "scheduled"),
    "obsolete": ("obsolescence", "discontinued", "product discontinued"),
    "design_change": ("design changed", "redesign", "redesigned", "engineering change", "change of design"),
}
# Steels by the grade that is usual for the word: AISI and EN numbers, from memory; common practice, since a grade can be hardened
# in more than one way. A hardness beside it is what counts.
_STEELS: Final[Mapping[str, tuple[str, ...]]] = {
    "prehard": ("prehardened", "pre hardened steel", "prehard steel", "p20", "1.2311", "1.2312", "1.2738"),
    "hard": ("hardened", "hardened steel", "through hardened", "hard steel", "h13", "1.2343", "1.2344", "1.2767"),
    "stainless": ("stainless steel", "stainless tool steel", "420 stainless", "420ss", "1.2083", "1.2316"),
    "aluminium": ("aluminum", "alu", "aluminium alloy", "aluminum alloy"),
    "copper_alloy": ("copper", "beryllium copper", "becu", "copper beryllium", "cube"),
}
_PLACES: Final[Mapping[str, tuple[str, ...]]] = {
    "outdoor": ("outdoors", "outside", "outside air", "outdoor air"),
    "hall": ("indoor", "indoors", "inside", "in the hall", "press hall", "moulding hall", "molding hall"),
}


def _spellings(words: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    return {plain_name(other): word for word, others in words.items() for other in others}


VARIANTS: Final[Mapping[str, Mapping[str, str]]] = {
    "event": _spellings(_EVENTS), "cause": _spellings(_CAUSES), "cavity_steel": _spellings(_STEELS), "place": _spellings(_PLACES),
}  # fmt: skip

_CLASS = re.compile(r"(?:(?:spi|mould|mold|service|tool|class|klasse|cl)[ .:\-]*){1,3}(10[1-5])|(10[1-5]) ?(?:spi|\(spi\))", re.ASCII)


def says_nothing(column: Column, text: str) -> bool:
    """Whether a cell of a column that may be blank holds a word for nothing known."""
    if column.required or column.free:
        return False
    word = text.casefold()
    if column.names_something and word == "none":  # no tool, plant or maker goes by that name
        return True
    return word in BLANK_WORDS and not (column.kind == "text" and word in _SAY_SOMETHING)


def is_error(text: str) -> bool:
    """Whether a cell holds what a spreadsheet shows where a formula has failed."""
    return text[0] in "#Ee" and _ERROR.fullmatch(text.casefold()) is not None


def variant_of(column: Column, text: str) -> str | None:
    """The word of a column's list that another spelling means, None where it is none that is known."""
    if column.name == "service_class":
        found = _CLASS.fullmatch(text.casefold())
        return (found[1] or found[2]) if found else None
    return VARIANTS.get(column.name, {}).get(plain_name(text))


def flag_of(text: str) -> str | None:
    """1 or 0 for the words of yes and no, None for others."""
    return FLAGS.get(text.casefold().removesuffix(".0"))
