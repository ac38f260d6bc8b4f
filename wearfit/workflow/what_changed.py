"""What a new calibration changed: tool by tool, how far its forecast moved, and because of which records."""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from wearfit.workflow.downloads import Value
from wearfit.workflow.new_records import NewRecords, ToolRecords
from wearfit.workflow.wording import count, month_in_words, shots

Became = Literal["earlier", "later", "same", "new", "gone"]

USE_CHANGED: Final = 0.05  # of shots a month, by which expected use is told as a cause; judgement
TURNS: Final[Mapping[str, str]] = {"worn": "worn out", "held": "held", "stored": "in store"}
"""What a tool may have turned into, by its status, and what that is called; to run or stand idle is no such turn."""
DAYS_PER_YEAR: Final = 365.25
MONTH_DAYS: Final = 30.4
NEAR_DAYS: Final = 31  # less is told as days; and a fleet's small moves are counted by it
OF_OTHERS: Final = "Nothing new of its own: what was learned from the other tools, plants and resins."
BY_CHANCE: Final = "Nothing new of its own: random draws alone may move it by "
COLUMNS: Final = (
    "Tool", "Design", "Plant", "Likely wear-out before", "Likely wear-out now", "Moved by days", "Shots left before", "Shots left now",
    "New records of this tool", "Why",
)  # fmt: skip
"""Days in ISO form, blank past the horizon; where one of the two lies past it, the days moved are the least."""


@dataclass(frozen=True)
class Change:
    """How one tool's forecast moved.

    Parameters
    ----------
    tool_id, design_id, plant_id : str
    became : str
        Whether it is likely to wear out earlier or later than was forecast before; "new" and "gone" where only one forecast has it.
    before, after : str or None
        Median wear-out day in ISO form; None past the horizon, unknown or absent.
    days : int or None
        From the one to the other; None where either is unknown.
    at_least : bool
        Whether one of the two lies past the horizon, so that it moved by more than `days`.
    shots_before, shots_after : float or None
        Median remaining shots.
    records : ToolRecords
        Of the tool, new since.
    why : str
        In sentences.
    turned : str
        What the tool became since, such as "worn out"; "" where it stands as before.
    by_chance : bool
        Whether nothing is new of it and it moved no further than chance may move it, where the forecast tells how far that is.
    """

    tool_id: str
    design_id: str
    plant_id: str
    became: Became
    before: str | None
    after: str | None
    days: int | None
    at_least: bool
    shots_before: float | None
    shots_after: float | None
    records: ToolRecords
    why: str
    turned: str = ""
    by_chance: bool = False

    @property
    def moved(self) -> float:
        """How far it moved, to sort by: days, else the change of remaining shots in years of it."""
        if self.days is not None:
            return abs(self.days)
        if self.shots_before and self.shots_after:
            return abs(math.log(self.shots_after / self.shots_before)) * DAYS_PER_YEAR
        return 0.0


@dataclass(frozen=True)
class Changes:
    """What changed between two forecasts for the same day.

    Parameters
    ----------
    changes : tuple of Change
        Every tool of either forecast: first those that came, went or turned into something else, then those that moved furthest,
        and last those that moved by chance.
    fleet : tuple of str
        Causes that bear on every tool, in sentences.
    """

    changes: tuple[Change, ...]
    fleet: tuple[str, ...]


def what_changed(before: Mapping[str, Any], after: Mapping[str, Any], new: NewRecords, horizon_years: float) -> Changes:
    """Compare two forecasts.

    Parameters
    ----------
    before, after : mapping
        As `answers.forecast` gives them, for the same day. Where a tool has `about_days` after, chance may move it by as much.
    new : NewRecords
        What came between the two calibrations.
    horizon_years : float
        That both look ahead.

    Raises
    ------
    ValueError
        Where the two answer for different days, as then the passing of time would look like a change.
    """
    if before["as_of"] != after["as_of"]:
        raise ValueError(f"forecasts for {before['as_of']} and {after['as_of']} cannot be compared")
    end = dt.date.fromisoformat(after["as_of"]) + dt.timedelta(days=DAYS_PER_YEAR * horizon_years)
    was, now = ({tool["tool_id"]: tool for tool in forecast["tools"]} for forecast in (before, after))
    changes = [_change(was.get(name), now.get(name), new, end) for name in sorted({*was, *now})]
    return Changes(tuple(sorted(changes, key=lambda c: (not c.turned, c.by_chance, -c.moved, c.tool_id))), new.fleet)


def change_table(changes: Sequence[Change]) -> list[tuple[Value, ...]]:
    """Rows of COLUMNS."""
    return [
        (
            c.tool_id, c.design_id, c.plant_id, c.before, c.after, c.days, _whole(c.shots_before), _whole(c.shots_after),
            c.records.sentence, c.why,
        )
        for c in changes
    ]  # fmt: skip


def _change(was: Mapping[str, Any] | None, now: Mapping[str, Any] | None, new: NewRecords, end: dt.date) -> Change:
    either = now or was
    assert either is not None
    records = new.by_tool.get(either["tool_id"], ToolRecords())
    before, after = (None if tool is None else tool["wear_out_on"]["p50"] for tool in (was, now))
    left = [None if tool is None else tool["remaining_shots"]["p50"] for tool in (was, now)]
    known = [
        tool is not None and tool["remaining_shots"]["p50"] is not None and bool(tool["conditions"]["shots_per_month"])
        for tool in (was, now)
    ]
    days, at_least = None, False
    # Past the horizon a day has no name; the horizon's end bounds it where the tool is in use at all.
    if (before or known[0]) and (after or known[1]) and (before or after):
        first, second = (end if day is None else dt.date.fromisoformat(day) for day in (before, after))
        days, at_least = (second - first).days, before is None or after is None
    if was is None or now is None:
        became: Became = "new" if was is None else "gone"
    else:
        by = days if days is not None else (left[1] or 0.0) - (left[0] or 0.0)
        became = "earlier" if by < 0 else "later" if by > 0 else "same"
    why = _why(was, now, records, new)
    may = None if now is None else now.get("about_days")
    by_chance = why == OF_OTHERS and may is not None and days is not None and abs(days) <= may
    return Change(
        either["tool_id"], either["design_id"], either["plant_id"], became, before, after, days, at_least, left[0], left[1], records,
        f"{BY_CHANCE}{count(math.ceil(may or 0.0), 'day', 'days')}." if by_chance else why, _turned(was, now), by_chance,
    )  # fmt: skip


def _why(was: Mapping[str, Any] | None, now: Mapping[str, Any] | None, records: ToolRecords, new: NewRecords) -> str:
    if was is None:
        return "It had no forecast before." if records.none else f"It had no forecast before; new of it: {records.sentence}."
    if now is None:
        return "It is live no longer." if records.none else f"It is live no longer; new of it: {records.sentence}."
    turned = _turned(was, now)
    causes = [f"Now {turned}."] if turned else []
    causes += [] if records.none else [f"New of it: {records.sentence}."]
    causes += _of_use(was, now)
    if causes:
        return " ".join(causes)
    if new.by_tool or new.fleet:
        return OF_OTHERS
    return "No record is new: random draws alone."


def _turned(was: Mapping[str, Any] | None, now: Mapping[str, Any] | None) -> str:
    if was is None or now is None:
        return "new" if was is None else "no longer live"
    before, after = was["status"], now["status"]
    if before == after or after not in TURNS:
        return "released" if before == "held" and after != "held" else ""
    return TURNS[after]


def _of_use(was: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    """What is expected of the tool from now on, where that became different, in sentences."""
    before, after = was["conditions"], now["conditions"]
    said = []
    old, use = before["shots_per_month"] or 0.0, after["shots_per_month"] or 0.0
    if abs(use - old) > USE_CHANGED * max(old, use):
        said.append(f"Expected use: {shots(old)} shots a month before, {shots(use)} now.")
    if before["plant_id"] != after["plant_id"]:
        said.append(f"Expected at {after['plant_id'] or 'no plant'}, at {before['plant_id'] or 'no plant'} before.")
    return said


def _whole(number: float | None) -> int | None:
    return None if number is None else round(number)


def wear_out_in_words(change: Change) -> str:
    """The likely wear-out before and now."""
    if change.became == "new":
        return f"now {_month(change.after)}"
    if change.became == "gone":
        return f"was {_month(change.before)}"
    return f"{_month(change.before)} → {_month(change.after)}"


def _month(day: str | None) -> str:
    return "past the horizon" if day is None else month_in_words(day)


def moved_in_words(change: Change) -> str:
    """How far it moved, or what the tool turned into."""
    if change.turned:
        return change.turned
    if change.days is None:
        return f"{shots(change.shots_before)} → {shots(change.shots_after)} shots left"
    if change.days == 0:
        return "not at all"
    size = abs(change.days)
    by = count(size, "day", "days") if size < NEAR_DAYS else count(round(size / MONTH_DAYS), "month", "months")
    return f"{by} {change.became}{' at least' if change.at_least else ''}"
