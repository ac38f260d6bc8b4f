"""A tool's past walked day by day in plain Python: what the vectorised exposures must come to.

Nothing here is shared with wearfit. A day's shots are a run's over its days. An event comes before a day's shots where its
date lies before that day, or is that day, save that on a run's last day it comes after all of the run.
"""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from histories import Cells

SAME_DAY = ("release", "take_out", "move", "service", "modify", "worn", "refurbish", "retool", "hold", "store", "order", "retire")
ONE_DAY = dt.timedelta(1)


@dataclass(frozen=True)
class Shots:
    """The shots that a run made in a day, or those before the records."""

    day: dt.date | None
    row: Cells
    shots: float
    setups: float
    production: int
    modifications: int


@dataclass
class Episode:
    """A stretch between two changes of the clock, and how it ended."""

    made: list[Shots] = field(default_factory=list)
    virtual_age: float = 0.0
    known: bool = True
    ending: str = "censored"
    unstated: bool = False
    sudden: bool = False
    in_doubt: tuple[Shots, ...] = ()


Wear = Callable[[Shots], float]


def _date(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def _days(row: Cells) -> list[dt.date]:
    start, end = _date(row["started_on"]), _date(row["ended_on"])
    return [start + ONE_DAY * i for i in range((end - start).days + 1)]


def _comes_before(event: Cells, day: dt.date, row: Cells) -> bool:
    date = _date(event["date"])
    return date < day or (date == day and day != _date(row["ended_on"]))


def _set_up(runs: Sequence[Cells]) -> list[tuple[float, int]]:
    """Set-ups and production run of each row, in order of time."""
    found: list[tuple[float, int]] = []
    for i, row in enumerate(runs):
        alike = [j for j in range(i) if (runs[j]["plant_id"], runs[j]["resin_id"]) == (row["plant_id"], row["resin_id"])]
        idle = 10**6
        if alike:
            idle = (_date(row["started_on"]) - max(_date(runs[j]["ended_on"]) for j in alike)).days - 1
        setups = float(row["setups"]) if row.get("setups") else 0.0 if idle <= 3 else 1.0
        production = found[alike[-1]][1] if alike and idle <= 0 and setups == 0 else i
        found.append((setups, production))
    return found


def walk(
    tool: Cells, runs: Sequence[Cells], events: Sequence[Cells], wear: Wear, kept_by_refurbishment: Callable[[int], float]
) -> list[Episode]:
    """The episodes of one tool, with the wear spent before each.

    Parameters
    ----------
    tool, runs, events
        Of one tool alone, `shots` and `setups` in runs, no `shots_at`.
    wear : callable
        Wear of some shots and their set-ups.
    kept_by_refurbishment : callable
        Share of the age that the j-th refurbishment since the last new surface leaves, j from 1.
    """
    runs = sorted(runs, key=lambda r: (r["started_on"], r["ended_on"], r["plant_id"], r["resin_id"], float(r["shots"])))
    events = sorted(events, key=lambda e: (e["date"], SAME_DAY.index(e["event"]), e.get("cause", "")))
    opening = float(tool["opening_life_shots"]) if tool.get("opening_life_shots") else None
    if opening is None and runs and (_date(runs[0]["started_on"]) - _date(tool["commissioned_on"])).days <= 60:
        opening = 0.0
    walked: list[Episode] = [Episode(known=opening is not None)]
    clock, refurbished, modified = 0.0, 0, 0
    worn, retired = False, False
    opened = not opening
    waiting = list(events)

    def happen(event: Cells) -> None:
        nonlocal clock, refurbished, modified, worn, retired
        kind, cause = event["event"], event.get("cause", "")
        here = walked[-1]
        share = float(event.get("renewed_share") or 0.0) if kind == "modify" else 0.0
        if kind == "worn" and not worn:
            worn = True
            _end(here, "worn", event)
        if kind in ("retool", "refurbish", "retire") and not worn:
            here.sudden = cause == "damage"
            here.unstated = cause == "" and kind != "retire"
            if cause == "wear" or here.unstated:
                _end(here, "worn", event)
        if kind == "modify":
            modified += 1
        if kind == "retire":
            retired = True
        if kind == "retool":
            clock, refurbished, modified = 0.0, 0, 0
        if kind == "refurbish" and cause != "damage":
            refurbished += 1
            clock *= kept_by_refurbishment(refurbished)
        if share > 0:
            clock *= 1.0 - share
            refurbished = 0 if share == 1 else refurbished
        if kind in ("retool", "refurbish") or share > 0:
            fresh = kind == "retool" or share == 1
            worn = worn and share > 0 and share < 1
            walked.append(Episode(virtual_age=clock, known=here.known or fresh))

    for row, (setups, production) in zip(runs, _set_up(runs), strict=True):
        days = _days(row)
        for i, day in enumerate(days):
            while waiting and _comes_before(waiting[0], day, row):
                happen(waiting.pop(0))
            if not opened:
                opened = True
                before = Shots(None, row, opening or 0.0, 0.0, -1, 0)
                walked[-1].made.append(before)
                clock += wear(before)
            if worn or retired:
                continue
            made = Shots(day, row, float(row["shots"]) / len(days), setups if i == 0 else 0.0, production, modified)
            walked[-1].made.append(made)
            clock += wear(made)
    while waiting:
        happen(waiting.pop(0))
    return walked


def _end(here: Episode, ending: str, event: Cells) -> None:
    """Wear-out at an event: exact, or in doubt since the last good day; nothing where no recorded shot of the episode lies behind it."""
    recorded = [shots for shots in here.made if shots.day is not None]
    if not recorded:
        here.unstated = False
        return
    here.ending = "exact"
    if event.get("last_good_on"):
        here.ending = "interval"
        after = [shots for shots in recorded if shots.day is not None and shots.day > _date(event["last_good_on"])]
        here.in_doubt = tuple(after or [shots for shots in recorded if shots.production == recorded[-1].production])
