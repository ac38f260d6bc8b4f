"""Readings as the records say them now: those of the store, and those of a file that is named with the question."""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.ways import ways_of
from wearfit.forecasts.news import EPOCH, NewReading, News
from wearfit.records.cells import Unreadable
from wearfit.records.choices import Choices
from wearfit.records.renumbering import renumber
from wearfit.records.respelling import respell
from wearfit.records.rows import Rows
from wearfit.records.tables import TABLES
from wearfit.store.store import Store
from wearfit.workflow.asked_file import canonical_cells, read_asked_file
from wearfit.workflow.known_names import known_tool

# What tells which tool a reading is of, and whether it was renewed; the larger tables are not asked for.
_ASKED_OF_STORE: Final = ("tools", "events", "readings", "aliases")
_COLUMNS: Final = TABLES["readings"].columns


@dataclass(frozen=True)
class Uncounted:
    """Readings that the answer does not count.

    Parameters
    ----------
    later : tuple of date
        Days of the stored ones that lie after the day of the question.
    rows : int or None
        How many rows a file of readings has; None without one.
    problems : tuple of (int, str)
        Row of the file, and why it is not counted, with what would help.
    """

    later: tuple[dt.date, ...]
    rows: int | None = None
    problems: tuple[tuple[int, str], ...] = ()

    def as_json(self) -> dict[str, Any]:
        later = {"count": len(self.later), "latest_on": max(self.later).isoformat()} if self.later else None
        problems = [{"row": row, "problem": problem} for row, problem in self.problems]
        given = {} if self.rows is None else {"readings_given": {"rows": self.rows, "problems": problems}}
        return {"readings_later": later, **given}


NONE_UNCOUNTED: Final = Uncounted(())


def read_news(store: Store, calibration: Calibration, choices: Choices, day: dt.date, path: Path | None = None) -> tuple[News, Uncounted]:
    """Readings of the live tools as they stand now, and those that are not counted.

    Parameters
    ----------
    day : date
        Of the question; what is dated later is not known yet.
    path : Path, optional
        A CSV file with the columns of the readings table. Nothing of it is stored; a row of it takes the place of what the store
        has for the same tool, day and feature.

    Raises
    ------
    Refusal
        Status 2, where the file cannot be read, lacks a column or has no row.
    """
    stored, renewed = _stored(Rows.of(store.rows(_ASKED_OF_STORE)), calibration, choices, day)
    uncounted = Uncounted(tuple(reading.day for reading in stored if reading.day > day))
    given: list[NewReading] = []
    if path is not None:
        given, rows_given, problems = _given(path, calibration, choices, day)
        uncounted = replace(uncounted, rows=rows_given, problems=tuple(problems))
    replaced = {(r.tool_id, r.day, r.feature) for r in given}
    kept = [r for r in stored if (r.tool_id, r.day, r.feature) not in replaced]
    return News((*kept, *given), renewed), uncounted


def news_among(rows: Rows, calibration: Calibration, choices: Choices, day: dt.date) -> News:
    """What `read_news` finds in the rows of a store, at hand already."""
    asked = Rows(tuple(some for some in rows.tables if some.table in _ASKED_OF_STORE))
    return News(*_stored(asked, calibration, choices, day))


def _stored(rows: Rows, calibration: Calibration, choices: Choices, day: dt.date) -> tuple[tuple[NewReading, ...], dict[str, dt.date]]:
    """Readings of the live tools and what was renewed, of the rows of _ASKED_OF_STORE."""
    named, _ = renumber(respell(rows, choices.names)[0])
    of_table, live = {some.table: some for some in named.tables}, _live(calibration)
    found = new_readings(of_table["readings"].values() if "readings" in of_table else ())
    readings = tuple(reading for reading in found if reading.tool_id in live)
    return readings, renewed_since(calibration, of_table["events"].values() if "events" in of_table else (), day)


def _live(calibration: Calibration) -> dict[str, int]:
    return {str(calibration.levels.tool[t]): i for i, t in enumerate(calibration.live.tool)}


def new_readings(values: Iterable[Mapping[str, str]]) -> Iterator[NewReading]:
    """Readings out of canonical cells; those that say nothing are left out."""
    rows = list(values)

    def numbers(name: str, blank: float) -> np.ndarray:
        return np.array([float(row[name].removeprefix("<")) if row.get(name) else blank for row in rows], dtype=float)

    flagged = np.array([row["value"].startswith("<") for row in rows], dtype=bool)
    new = numbers("new_value", float(TABLES["readings"].column("new_value").default))
    ways = ways_of(numbers("value", np.nan), flagged, numbers("limit", np.nan), new, numbers("resolution", np.nan))
    for i in np.flatnonzero(ways.used):
        row = rows[i]
        yield NewReading(
            row["tool_id"], dt.date.fromisoformat(row["date"]), row["feature"], float(ways.log_way[i]), bool(ways.below[i]),
            float(ways.rounding[i]), bool(row.get("new_value")),
        )  # fmt: skip


def renewed_since(calibration: Calibration, events: Iterable[Mapping[str, str]], day: dt.date) -> dict[str, dt.date]:
    """Live tools with a renewal, a wear-out or a retirement by a day that the calibration does not know, and its date.

    The calibration knows how many renewals lie behind the life under way, and that this was not ended by its own day.
    """
    live, own_day = _live(calibration), calibration.identity.as_of
    renewals: dict[str, list[str]] = {}
    ends: dict[str, list[str]] = {}
    for values in events:
        tool, date, kind = (values[name] for name in ("tool_id", "date", "event"))
        if tool not in live or date > day.isoformat():
            continue
        if kind in ("retool", "refurbish") or (kind == "modify" and float(values.get("renewed_share") or 0.0) > 0.0):
            renewals.setdefault(tool, []).append(date)
        elif kind in ("worn", "retire"):
            ends.setdefault(tool, []).append(date)
    found = {}
    for tool in renewals.keys() | ends.keys():
        i = live[tool]
        first = (EPOCH + dt.timedelta(days=int(calibration.live.read_from[i]))).isoformat()
        of_tool = renewals.get(tool, [])
        more = len([date for date in of_tool if date <= own_day]) > calibration.live.renewals[i]
        late = [date for date in of_tool if date > own_day or (more and date >= first)]
        late += [date for date in ends.get(tool, []) if date >= first]
        if late:
            found[tool] = dt.date.fromisoformat(max(late))
    return found


def _given(path: Path, calibration: Calibration, choices: Choices, day: dt.date) -> tuple[list[NewReading], int, list[tuple[int, str]]]:
    """Readings of a file that are counted, how many rows it has, and why some of them are not."""
    live, readings = _live(calibration), []
    problems: list[tuple[int, str]] = []
    asked = read_asked_file(path, "reading", _COLUMNS)
    for row in asked:
        try:
            values = canonical_cells(row.cells, _COLUMNS)
        except Unreadable as unreadable:
            problems.append((row.number, f"{unreadable.problem} {unreadable.repair}"))
            continue
        tool, date = known_tool(values["tool_id"], calibration, choices), dt.date.fromisoformat(values["date"])
        if tool not in live:
            known = tool in set(calibration.levels.tool)
            problems.append((row.number, f"Tool {tool} is {'retired' if known else 'not in the records'}. Name a live tool."))
            continue
        first = EPOCH + dt.timedelta(days=int(calibration.live.read_from[live[tool]]))
        said = list(new_readings([{**values, "tool_id": tool}]))
        if date > day:
            problems.append((row.number, f"It is dated {date}, after {day}, for which the answer is. Ask with `--as-of {date}` or later."))
        elif date < first:
            problems.append(
                (row.number, f"It is dated {date}; those of the life under way begin on {first}. Store it and recalibrate to count it.")
            )
        elif not said:
            problems.append((row.number, "It does not say how far the tool has come. Check its limit, its new_value and the sign '<'."))
        readings += said if first <= date <= day else []
    return readings, len(asked), problems
