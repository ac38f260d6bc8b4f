"""The single decisions among the user's choices: where each stands, what it says, how one is made or taken back."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from wearfit.records.choices import Choices, CountChoice

FLAT: Final = ("tables", "encodings")
NESTED: Final = ("columns", "dates", "decimals", "names")


@dataclass(frozen=True, order=True)
class Place:
    """Where one decision stands in the file of choices.

    Parameters
    ----------
    section : str
        One of `choices.SECTIONS`.
    within : str
        Table, sheet or column that the section is divided by; "" in a section that is not.
    name : str
        What is decided about: a sheet or file, a header, a column, a name; the tool of a count.
    plant_id : str
        Of a count that is decided at one plant alone.
    """

    section: str
    within: str
    name: str
    plant_id: str = ""


def decisions(choices: Choices) -> dict[Place, str]:
    """Every decision, by its place."""
    found = {Place(section, "", name): word for section in FLAT for name, word in getattr(choices, section).items()}
    for section in NESTED:
        for within, words in getattr(choices, section).items():
            found |= {Place(section, within, name): word for name, word in words.items()}
    return found | {Place("counts", "", count.tool_id, count.plant_id): count.counted_in for count in choices.counts}


def decide(choices: Choices, place: Place, word: str) -> Choices:
    """Choices with one decision put over them; whether the word makes sense there is for `read_choices` to say."""
    one: dict[str, Any]
    if place.section == "counts":
        one = {"counts": (CountChoice(place.name, word, place.plant_id),)}  # type: ignore[arg-type]
    elif place.within:
        one = {place.section: {place.within: {place.name: word}}}
    else:
        one = {place.section: {place.name: word}}
    return choices.later(Choices(**one))


def take_back(choices: Choices, places: Iterable[Place]) -> Choices:
    """Choices without some decisions: what they were about is read again as the files themselves tell."""
    gone = set(places)
    kept: dict[str, Any] = {
        section: {name: word for name, word in getattr(choices, section).items() if Place(section, "", name) not in gone}
        for section in FLAT
    }
    for section in NESTED:
        left = {
            within: {name: word for name, word in words.items() if Place(section, within, name) not in gone}
            for within, words in getattr(choices, section).items()
        }
        kept[section] = {within: words for within, words in left.items() if words}
    counts = tuple(count for count in choices.counts if Place("counts", "", count.tool_id, count.plant_id) not in gone)
    return replace(choices, **kept, counts=counts)


def toml_of(choices: Choices) -> str:
    """The file of choices that `choices.read_choices` reads, in the order of its sections; "" where nothing is decided."""
    parts = [_section(f"[{section}]", getattr(choices, section)) for section in FLAT]
    parts += [_section(f"[{section}.{_key(within)}]", words) for section in NESTED for within, words in getattr(choices, section).items()]
    for count in choices.counts:
        said = {"tool_id": count.tool_id, "plant_id": count.plant_id, "counted_in": count.counted_in}
        parts.append(_section("[[counts]]", {name: word for name, word in said.items() if word}, bare=True))
    return "\n".join(filter(None, parts))


def _section(head: str, words: Mapping[str, str], bare: bool = False) -> str:
    lines = [f"{name if bare else _quoted(name)} = {_quoted(word)}\n" for name, word in words.items()]
    return f"{head}\n{''.join(lines)}" if lines else ""


def _key(within: str) -> str:
    return within if within.replace("_", "").isascii() and within.replace("_", "").isalnum() else _quoted(within)


def _quoted(text: str) -> str:
    # What JSON escapes, TOML does in the same way, but for one sign that only TOML forbids.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
