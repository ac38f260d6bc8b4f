"""What the reader could not tell by itself: findings that name a choice, as questions with their possible answers."""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from wearfit.errors import Refusal
from wearfit.records.choices import COUNTED_IN, DATE_ORDERS, DECIMALS
from wearfit.records.decisions import Place
from wearfit.records.findings import Finding
from wearfit.records.tables import TABLES

# Findings write a choice as the file of choices does: a section, and a line of it.
_QUOTED: Final = r"""'(?P<single>[^']*)'|"(?P<double>(?:[^"\\]|\\.)*)\""""
_LINE: Final = re.compile(rf"(?:{_QUOTED}|(?P<bare>\w+))" + r'\s=\s"(?P<word>(?:[^"\\]|\\.)*)"')
_SECTION: Final = re.compile(r"under \[(?P<section>tables|encodings|columns|dates|decimals|names)(?:\.(?P<within>[^\]]+))?\]")
_COUNT: Final = re.compile(r"\[\[counts\]\] tool_id = '(?P<tool>.*?)', (?:plant_id = '(?P<plant>.*?)', )?counted_in = '(?P<word>\w+)'")
_AS: Final = re.compile(r"'(?P<header>[^']*)' (?:is read )?as (?P<column>[a-z_0-9]+)")
_NAMED: Final = re.compile(_QUOTED)
_MEANING: Final = re.compile(r"""; (?P<headers>(?:(?:'[^']*'|"(?:[^"\\]|\\.)*")(?:, | and )?)+) means? nothing yet""")
_NOT_READ: Final = "not named as a table"  # nor is it by its columns: half of the records may stand there

ENCODINGS: Final = ("utf-8", "cp1250", "cp1251", "cp1252", "cp1253", "cp1254", "gb18030", "shift_jis", "mac_roman")  # common in practice
LEFT_OUT: Final = "leave it out"
UNUSED: Final = "nothing: keep it unused"
_ORDER_WORDS: Final[Mapping[str, str]] = {
    "day month year": "day, month, year (31.3.2024)",
    "month day year": "month, day, year (3/31/2024)",
    "year month day": "year, month, day (2024-03-31), as it stands",
}

Urgency = Literal["open", "settled"]


@dataclass(frozen=True)
class OpenQuestion:
    """One question.

    Parameters
    ----------
    place : Place
        Where its answer goes among the choices.
    asks : str
        The question.
    answers : mapping of str to str
        The words that may stand there, and what each means.
    offered : str
        The word that the finding offers.
    open : bool
        Whether something is not used before it is answered; else the reader has decided, and may be corrected.
    because : tuple of Finding
        What was noticed; none where the records as a whole were refused, and `problem` says why.
    problem : str
    """

    place: Place
    asks: str
    answers: Mapping[str, str]
    offered: str
    open: bool
    because: tuple[Finding, ...]
    problem: str


def open_questions(findings: Iterable[Finding], refusal: Refusal | None = None) -> tuple[OpenQuestion, ...]:
    """The questions that findings and a refusal ask, those that keep something from being used first.

    Parameters
    ----------
    findings : iterable of Finding
    refusal : Refusal, optional
        Why the records could not be read or used as a whole.
    """
    asked: dict[Place, OpenQuestion] = {}
    if refusal is not None:
        for place, word in named_choices(refusal.repair):
            asked[place] = _question(place, word, True, (), refusal.problem)
    for finding in findings:
        for place, word in (*named_choices(finding.repair), *_read_by_word(finding)):
            before = asked.get(place)
            because = (*(before.because if before else ()), finding)
            keeps_out = finding.severity == "set_aside" or any(
                said in finding.problem for said in ("not used", "none of them is used", _NOT_READ)
            )
            is_open = keeps_out or (before is not None and before.open)
            asked[place] = _question(
                place, before.offered if before else word, is_open, because, before.problem if before else finding.problem
            )
    return tuple(sorted(asked.values(), key=lambda question: not question.open))


def named_choices(text: str) -> list[tuple[Place, str]]:
    """The choices that a sentence names, each with the word that it offers."""
    found = [(Place("counts", "", m["tool"], m["plant"] or ""), m["word"]) for m in _COUNT.finditer(text)]
    sections, before = list(_SECTION.finditer(text)), 0
    for at, section in enumerate(sections):
        after = sections[at + 1].start() if at + 1 < len(sections) else len(text)
        # A line stands behind its section, or just before it.
        line = _LINE.search(text, section.end(), after) or next(reversed(list(_LINE.finditer(text, before, section.start()))), None)
        before = section.end()
        if line is None:
            continue
        word = json.loads(f'"{line["word"]}"')
        names = [_name(line)]
        if headers := _MEANING.search(text, section.end(), after):
            names += [_name(key) for key in _NAMED.finditer(headers["headers"])]
        found += [(Place(section["section"], section["within"] or "", name), word) for name in dict.fromkeys(names)]
    return found


def _name(key: re.Match[str]) -> str:
    """A key as it is meant, whichever way it is quoted."""
    found = key.groupdict()
    name: str = found["single"] if found["single"] is not None else json.loads(f'"{found["double"]}"') if found["double"] else found["bare"]
    return name


def _read_by_word(finding: Finding) -> list[tuple[Place, str]]:
    """Headers that were taken for columns by what they mean: each may be corrected, not the first alone."""
    if finding.row is not None or finding.table not in TABLES or "[columns." not in finding.repair:
        return []
    pairs = [(m["header"], m["column"]) for m in _AS.finditer(finding.problem)]
    return [(Place("columns", finding.table, header), column) for header, column in pairs if column in TABLES[finding.table].names]


def _question(place: Place, word: str, is_open: bool, because: tuple[Finding, ...], problem: str) -> OpenQuestion:
    answers = answers_at(place, word)
    return OpenQuestion(place, asked_at(place), answers, word, is_open, because, problem)


def asked_at(place: Place) -> str:
    """The question that a decision at a place answers."""
    match place.section:
        case "tables":
            return f"What does '{place.name}' hold?"
        case "columns":
            return f"What is the column '{place.name}' of {place.within}?"
        case "dates":
            return f"In which order are the days of {place.name} in {place.within} written?"
        case "decimals":
            return f"What marks the decimals of {place.name} in {place.within}?"
        case "encodings":
            return f"How are the letters of {place.name} stored?"
        case "names":
            return f"Which {_kind(place.within)} does '{place.name}' mean?"
    return f"What do the counts of tool {place.name}{f' at {place.plant_id}' if place.plant_id else ''} count?"


def answers_at(place: Place, offered: str = "") -> dict[str, str]:
    """The words that may stand at a place, and what each means.

    Parameters
    ----------
    offered : str
        A word that is among them where the words are not from a list.
    """
    match place.section:
        case "tables":
            return {**{name: name for name in TABLES}, "": LEFT_OUT}
        case "columns":
            columns = TABLES[place.within].columns if place.within in TABLES else ()
            return {**{column.name: column.name for column in columns}, "": UNUSED}
        case "dates":
            return {order: _ORDER_WORDS[order] for order in DATE_ORDERS}
        case "decimals":
            return {mark: f"a {mark}" for mark in DECIMALS}
        case "encodings":
            return {name: name for name in dict.fromkeys((offered, *ENCODINGS)) if name}
        case "names":
            return {**({offered: f"the same as '{offered}'"} if offered not in ("", place.name) else {}), place.name: "one of its own"}
    return {word: f"{word}" for word in COUNTED_IN}


def _kind(column: str) -> str:
    return column.removesuffix("_id")
