"""What one tool has been through: its lives, runs, events and readings, where its wear came from, and what moved its forecast."""

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.fleet import live_row
from wearfit.forecasts.wear_spent import wear_spent
from wearfit.records.frames import BELOW
from wearfit.workflow.tool_wear import Life, Moved, Source, lives_of, moved_of, sources_of

if TYPE_CHECKING:
    import pandas as pd

    from wearfit.workflow.recorded import Recorded


@dataclass(frozen=True)
class Run:
    """One run; days in ISO form, both ends counted."""

    started_on: str
    ended_on: str
    plant_id: str
    resin_id: str
    shots: float
    setups: float | None


@dataclass(frozen=True)
class Event:
    """One event; `details` in words, `note` as it was written down."""

    day: str
    event: str
    details: str
    note: str


@dataclass(frozen=True)
class Reading:
    """One reading; `below` where only that it lies below the value is known. `life` as `Life.number`."""

    day: str
    feature: str
    value: float
    below: bool
    new_value: float
    limit: float
    life: int


@dataclass(frozen=True)
class ToolHistory:
    """What one live tool has been through, as of the calibration's day.

    Parameters
    ----------
    facts : tuple of (str, str)
        What the list of tools says of it.
    runs, events : tuple of Run, tuple of Event
        In order of time.
    by_plant, by_resin : tuple of Source
        Largest first.
    moved : tuple of Moved
        Largest first; those too small to act on are left out.
    same_records : bool
        False where the store holds other records by now than the calibration rests on.
    """

    tool_id: str
    facts: tuple[tuple[str, str], ...]
    lives: tuple[Life, ...]
    runs: tuple[Run, ...]
    events: tuple[Event, ...]
    readings: tuple[Reading, ...]
    by_plant: tuple[Source, ...]
    by_resin: tuple[Source, ...]
    moved: tuple[Moved, ...]
    same_records: bool


def tool_history(recorded: "Recorded", calibration: Calibration, tool: str) -> ToolHistory:
    """Look one tool up.

    Parameters
    ----------
    recorded : Recorded
        Up to the calibration's day.
    tool : str
        A live tool, as the calibration names it.

    Raises
    ------
    Refusal
        Where it is not live in the calibration, or not in the records any more.
    """
    live = live_row(calibration, tool)
    if tool not in recorded.exposures.tools.tool_id:
        raise Refusal(f"Tool {tool} is not in the records any more.", "Recalibrate, so that the fleet is what the records say.")
    spent = wear_spent(calibration, recorded.exposures, tool)
    tables = {name: _rows_of(recorded.records.tables[name], tool) for name in ("tools", "runs", "events", "readings")}
    lives, opens = lives_of(recorded, calibration, spent, live, tool)
    return ToolHistory(
        tool_id=tool,
        facts=_facts(tables["tools"], calibration, live),
        lives=lives,
        runs=tuple(sorted(map(_run, _dicts(tables["runs"])), key=lambda run: (run.started_on, run.ended_on))),
        events=tuple(sorted(map(_event, _dicts(tables["events"])), key=lambda event: event.day)),
        readings=_readings(tables["readings"], opens),
        by_plant=sources_of(recorded, spent, spent.plant, recorded.exposures.plant_ids, "plant not stated"),
        by_resin=sources_of(recorded, spent, spent.resin, tuple(recorded.exposures.resins.resin_id), "resin not stated"),
        moved=moved_of(calibration, live),
        same_records=recorded.fingerprint == calibration.identity.fingerprint,
    )


def _rows_of(frame: "pd.DataFrame", tool: str) -> "pd.DataFrame":
    return frame[frame["tool_id"] == tool]


def _dicts(frame: "pd.DataFrame") -> list[dict[Hashable, Any]]:
    return frame.to_dict("records")


def _iso(value: Any) -> str:
    """ISO day of a date cell, "" where it is blank."""
    day = str(value)[: len("2026-06-30")]
    return "" if day == "NaT" else day


def _number(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def _facts(frame: "pd.DataFrame", calibration: Calibration, live: int) -> tuple[tuple[str, str], ...]:
    (row,) = _dicts(frame)
    of_class = int(calibration.live.service_class[live])
    klass = str(row["service_class"]) or "not stated" + ("" if of_class < 0 else f", taken as {calibration.levels.service_class[of_class]}")
    low, high, cavities = ("" if math.isnan(row[name]) else f"{row[name]:,.0f}" for name in ("band_low", "band_high", "cavities"))
    band = f"{low} to {high} shots" if low and high else f"at least {low} shots" if low else f"up to {high} shots" if high else ""
    facts = (
        ("Service class", klass),
        ("Band", band),
        ("Design", row["design_id"]),
        ("Maker", row["maker_id"]),
        ("Cavities", cavities),
        ("Cavity steel", str(row["cavity_steel"]).replace("_", " ")),
        ("Coating", row["coating"]),
        ("Commissioned", _iso(row["commissioned_on"])),
    )
    return tuple((name, str(value)) for name, value in facts if value)


def _run(row: Mapping[Hashable, Any]) -> Run:
    days = _iso(row["started_on"]), _iso(row["ended_on"])
    return Run(*days, row["plant_id"], row["resin_id"], float(row["shots"]), _number(row["setups"]))


def _event(row: Mapping[Hashable, Any]) -> Event:
    details = (
        f"cause: {row['cause'].replace('_', ' ')}" if row["cause"] else "",
        f"last known good on {_iso(row['last_good_on'])}" if _iso(row["last_good_on"]) else "",
        f"at {row['plant_id']}" if row["plant_id"] else "",
        f"{100 * row['renewed_share']:.0f} % of the surface cut new" if row["renewed_share"] > 0 else "",
        "oiled or wrapped" if row["preserved"] == 1 else "",
        f"due on {_iso(row['due_on'])}" if _iso(row["due_on"]) else "",
    )
    return Event(_iso(row["date"]), row["event"].replace("_", " "), "; ".join(filter(None, details)), row["note"])


def _readings(frame: "pd.DataFrame", opens: Sequence[float]) -> tuple[Reading, ...]:
    found = []
    for row in _dicts(frame):
        value, limit, new = _number(row["value"]), _number(row["limit"]), _number(row["new_value"])
        if value is None or limit is None:
            continue
        # A reading on the day of a renewal was taken before it.
        day = float(np.datetime64(row["date"], "D").astype(np.int64))
        life = 1 + int(np.searchsorted(np.asarray(opens[1:]), day, side="left"))
        found.append(Reading(_iso(row["date"]), row["feature"], value, bool(row[BELOW]), new or 0.0, limit, life))
    return tuple(sorted(found, key=lambda reading: (reading.feature, reading.day)))
