"""The records that came between two calibrations, by tool, and what else became different for the whole fleet."""

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.identity import Row
from wearfit.records.tables import TABLES
from wearfit.store.calibrations import CalibrationEntry
from wearfit.store.store import Store
from wearfit.workflow.known_names import known_tool
from wearfit.workflow.laws_in_words import listed
from wearfit.workflow.wording import count, day_in_words, shots

# The day by which a row of a tool is known; a row of another table is known from the upload on that brought it.
_DAY: Final[Mapping[str, str]] = {"runs": "ended_on", "counter": "date", "events": "date", "readings": "date"}
_FLEET: Final = ("plants", "climate", "resins", "plan", "bill", "aliases")
MOST_EVENTS: Final = 3  # that a sentence names


@dataclass(frozen=True)
class ToolRecords:
    """Records of one tool that are new to a calibration.

    Parameters
    ----------
    runs, shots : int, float
        Runs, and the shots that they state.
    events : tuple of str
        Such as "worn on 3 May 2026", in order of their days.
    readings, counters : int
        Measurements, and readings of the shot counter.
    corrected : int
        Rows that were there before and say something else now, or that were taken out.
    listed : bool
        Whether its line on the list of tools is new or says something else.
    """

    runs: int = 0
    shots: float = 0.0
    events: tuple[str, ...] = ()
    readings: int = 0
    counters: int = 0
    corrected: int = 0
    listed: bool = False

    @property
    def none(self) -> bool:
        return self == ToolRecords()

    @property
    def sentence(self) -> str:
        """What is new, for a table: "2 runs (90,000 shots), worn on 3 May 2026"."""
        said = []
        if self.events:
            more = len(self.events) - MOST_EVENTS
            said += [*self.events[-MOST_EVENTS:], *([count(more, "earlier event", "earlier events")] if more > 0 else [])]
        if self.runs:
            said.append(f"{count(self.runs, 'run', 'runs')}{f' ({shots(self.shots)} shots)' if self.shots else ''}")
        if self.readings:
            said.append(count(self.readings, "reading", "readings"))
        if self.counters:
            said.append(count(self.counters, "counter reading", "counter readings"))
        if self.corrected:
            said.append(count(self.corrected, "row corrected or taken out", "rows corrected or taken out"))
        if self.listed:
            said.append("its line on the list of tools")
        return ", ".join(said)


@dataclass(frozen=True)
class NewRecords:
    """What came between two calibrations.

    Parameters
    ----------
    by_tool : mapping of str to ToolRecords
        By the name that the newer calibration has; tools without a new record are not there.
    fleet : tuple of str
        What bears on every tool, in sentences.
    """

    by_tool: Mapping[str, ToolRecords] = field(default_factory=dict)
    fleet: tuple[str, ...] = ()


@dataclass(frozen=True)
class Made:
    """The line of the store's history after whose state a calibration was made, and up to which day it knows the records."""

    line: int
    as_of: dt.date


@dataclass(frozen=True)
class Version:
    """The newest version of a row: the line of the history that it came with, and whether there was one before or it takes the row out.

    Lines count up in the order in which things were done, which a clock that is set back does not tell.
    """

    row: Row
    line: int
    changed: bool = False
    withdrawn: bool = False


def read_new_records(
    store_url: str, before: CalibrationEntry, after: CalibrationEntry, calibrations: tuple[Calibration, Calibration]
) -> NewRecords:
    """What came to a store between two of its calibrations.

    Parameters
    ----------
    calibrations : (Calibration, Calibration)
        The same two, loaded.

    Raises
    ------
    Refusal
        Where the history does not tell when one of them was kept.
    """
    with Store.open(store_url, must_exist=True) as store:
        former, newer = (Made(line_rested_on(store, entry.id), entry.summary.as_of) for entry in (before, after))
        versions = read_versions(store, newer.line)
        choices, decided = store.choices(), store.choices_line()
    by_tool, tables = new_between(versions, former, newer, known_names(calibrations[1], choices))
    return NewRecords(by_tool, (*tables, *_of_calibrations(*calibrations), *_of_choices(decided, former, newer)))


def read_versions(store: Store, up_to: int | None = None, since: int | None = None) -> list[Version]:
    """The newest version of every row of a store, now or after a line of its history, or of rows alone that have one since a line."""
    return [Version(row, v.line, v.version > 1, v.withdrawn) for row, v in store.versions(up_to, since)]


def line_rested_on(store: Store, calibration: int) -> int:
    """The line of the history after whose state a calibration was made; `Refusal` where the history does not tell."""
    line = store.line_of_calibration(calibration)
    if line is None:
        raise Refusal(f"The store does not tell when calibration {calibration} was kept.", "Recalibrate.")
    return line


def new_between(
    versions: Iterable[Version], before: Made, after: Made, named: Callable[[str], str] = str
) -> tuple[dict[str, ToolRecords], tuple[str, ...]]:
    """Rows that the newer of two calibrations knows and the former did not.

    Parameters
    ----------
    versions : iterable of Version
    before, after : Made
    named : callable
        Gives the name of a tool from what is typed.

    Returns
    -------
    dict of str to ToolRecords
    tuple of str
        What is new in the tables that speak of no single tool, a sentence each.

    Notes
    -----
    A row is new if it came after the former calibration was kept, or if its day lies after the day up to which that one knew
    the records.
    """
    by_tool: dict[str, ToolRecords] = defaultdict(ToolRecords)
    dated: list[tuple[str, str, str]] = []
    others: dict[str, int] = defaultdict(int)
    first, last = before.as_of.isoformat(), after.as_of.isoformat()
    for version in versions:
        row = version.row
        day = row.values.get(_DAY.get(row.table, ""), "")[:10]
        if version.line > after.line or day > last:
            continue
        if not (version.line > before.line or day > first):
            continue
        if row.table in _FLEET:
            others[row.table] += 1
            continue
        # Of a row that is taken out no cell is left but its key.
        tool = named(_tool_of(row))
        known = by_tool[tool]
        if version.withdrawn or (version.changed and row.table != "tools"):
            by_tool[tool] = replace(known, corrected=known.corrected + 1)
        elif row.table == "runs":
            by_tool[tool] = replace(known, runs=known.runs + 1, shots=known.shots + _number(row.values.get("shots", "")))
        elif row.table == "events":
            dated.append((day, tool, f"{row.values['event'].replace('_', ' ')} on {day_in_words(day)}"))
        elif row.table == "readings":
            by_tool[tool] = replace(known, readings=known.readings + 1)
        elif row.table == "counter":
            by_tool[tool] = replace(known, counters=known.counters + 1)
        elif row.table == "tools":
            by_tool[tool] = replace(known, listed=True)
    for _, tool, event in sorted(dated):
        by_tool[tool] = replace(by_tool[tool], events=(*by_tool[tool].events, event))
    tables = tuple(f"{count(others[name], 'row', 'rows')} of {name} are new or changed." for name in _FLEET if others[name])
    return dict(by_tool), tables


def _tool_of(row: Row) -> str:
    table = TABLES[row.table]
    return str(row.values.get("tool_id") or json.loads(row.key)[table.key.index("tool_id")])


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return 0.0


def known_names(calibration: Calibration, choices: Choices) -> Callable[[str], str]:
    """Gives the name that a calibration has for a tool from what is typed."""
    known: dict[str, str] = {}

    def named(tool: str) -> str:
        if tool not in known:
            known[tool] = known_tool(tool, calibration, choices)
        return known[tool]

    return named


def _of_calibrations(before: Calibration, after: Calibration) -> list[str]:
    """What became different between two calibrations beside the rows."""
    was, now = before.identity, after.identity
    said = []
    if now.wear_outs != was.wear_outs:
        more = now.wear_outs - was.wear_outs
        said.append(
            f"{count(abs(more), 'wear-out', 'wear-outs')} {'more' if more > 0 else 'fewer'} to learn from ({now.wear_outs:,} in all)."
        )
    if now.lives != was.lives:
        more = now.lives - was.lives
        said.append(f"{count(abs(more), 'life', 'lives')} {'more' if more > 0 else 'fewer'} ({now.lives:,} in all).")
    if now.priors != was.priors:
        said.append("The shot-life bands or what else is assumed beforehand were changed.")
    if now.model_version != was.model_version:
        said.append("The model itself is a newer one.")
    if now.wear_law != was.wear_law:
        said.append(f"The law of wear is another: {listed(was.wear_law)} before, {listed(now.wear_law)} now.")
    if now.seed != was.seed:
        said.append("The random draws are others.")
    return said


def _of_choices(decided: int, before: Made, after: Made) -> list[str]:
    if not before.line < decided <= after.line:
        return []
    return ["Choices about reading the records were changed, so that stored rows may say something else now."]
