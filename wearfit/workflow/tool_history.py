"""What one tool has been through: its lives, runs, events and readings, where its wear came from, and what moved its forecast."""

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.exposures.lives import CENSORED
from wearfit.forecasts.fleet import live_row
from wearfit.forecasts.quantiles import Quantiles, as_numbers, weighted_quantiles
from wearfit.forecasts.wear_spent import WearSpent, wear_spent
from wearfit.records.frames import BELOW

if TYPE_CHECKING:
    import pandas as pd

    from wearfit.workflow.recorded import Recorded

Array = np.ndarray

IN_STORE: Final = "in store or idle"
WORTH_TELLING: Final = 0.05  # of the log of what is left; less moved nothing that a reader would act on, judgement


@dataclass(frozen=True)
class Life:
    """One life of the tool.

    Parameters
    ----------
    number : int
        From 1.
    began, ended : str or None
        ISO days; None where it began before the records, or goes on.
    ending : str
        How it ended, in words.
    shots : float or None
        Recorded, a known opening included; None where nothing tells of its age.
    reckoned : bool
        Whether more shots were made before its records, which are reckoned and not among `shots`.
    wear : Quantiles or None
        Where the clock stood at its end, what was carried over from the life before included. [reference shots]
    share : Quantiles or None
        The same over the tool's characteristic life.
    """

    number: int
    began: str | None
    ended: str | None
    ending: str
    shots: float | None
    reckoned: bool
    wear: Quantiles | None
    share: Quantiles | None


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
class Source:
    """Where a part of the wear on the clock came from.

    Parameters
    ----------
    name : str
        A plant or a resin, or in words what it was.
    shots : float
        Recorded there since the surface was last new; 0 where the tool stood.
    wear : Quantiles
        What is left of it on the clock. [reference shots]
    share : Quantiles
        Of all that is on the clock.
    """

    name: str
    shots: float
    wear: Quantiles
    share: Quantiles


@dataclass(frozen=True)
class Moved:
    """What moved the forecast, in words, and by which factor on the life that is left."""

    what: str
    factor: float


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
    lives, opens = _lives(recorded, calibration, spent, live, tool)
    return ToolHistory(
        tool_id=tool,
        facts=_facts(tables["tools"], calibration, live),
        lives=lives,
        runs=tuple(sorted(map(_run, _dicts(tables["runs"])), key=lambda run: (run.started_on, run.ended_on))),
        events=tuple(sorted(map(_event, _dicts(tables["events"])), key=lambda event: event.day)),
        readings=_readings(tables["readings"], opens),
        by_plant=_sources(recorded, spent, spent.plant, recorded.exposures.plant_ids, "plant not stated"),
        by_resin=_sources(recorded, spent, spent.resin, tuple(recorded.exposures.resins.resin_id), "resin not stated"),
        moved=_moved(calibration, live),
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


def _iso_of_day(day: float) -> str | None:
    return str(np.datetime64(int(np.floor(day)), "D")) if np.isfinite(day) else None


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


def _lives(
    recorded: "Recorded", calibration: Calibration, spent: WearSpent, live: int, tool: str
) -> tuple[tuple[Life, ...], tuple[float, ...]]:
    """The tool's lives in order, and the days on which they began."""
    exposures = recorded.exposures
    episodes, cells = exposures.episodes, exposures.cells
    of_tool = exposures.tools.tool_id.index(tool)
    own = np.flatnonzero(episodes.tool == of_tool)
    eta = np.asarray(calibration.draws.characteristic_life[:, live], dtype=float)
    episode_of_cell = exposures.history.source[cells.episode[spent.cell]]
    lives, opens = [], []
    for number, life in enumerate(np.unique(episodes.life[own]), start=1):
        parts = own[episodes.life[own] == life]
        first, last = parts[0], parts[-1]
        rows = np.flatnonzero(np.isin(spent.episode, parts))
        inside = np.isin(episode_of_cell, parts)
        unknown = inside & spent.reckoned
        wear = spent.at_end[:, rows[-1]] if len(rows) else None
        began = episodes.opens[first] if np.isfinite(episodes.opens[first]) else exposures.tools.commissioned[of_tool]
        opens.append(float(began))
        lives.append(
            Life(
                number=number,
                began=_iso_of_day(began),
                ended=_iso_of_day(episodes.closes[last]),
                ending=_ending(recorded, int(last), parts),
                shots=float(cells.shots[spent.cell][inside & ~unknown].sum()) if len(rows) else None,
                reckoned=bool(unknown.any()),
                wear=None if wear is None else _quantiles(wear),
                share=None if wear is None else _quantiles(wear / eta),
            )
        )
    return tuple(lives), tuple(opens)


def _ending(recorded: "Recorded", last: int, parts: Array) -> str:
    """How a life ended, in words."""
    episodes, events = recorded.exposures.episodes, recorded.exposures.events
    worn = episodes.worn_at[parts].min()
    closer = int(episodes.closer[last])
    if closer < 0 or not np.isfinite(episodes.closes[last]):
        return f"worn out on {_iso_of_day(worn)}, not renewed" if np.isfinite(worn) else "under way"
    kind, cause = str(events.kind[closer]), str(events.cause[closer])
    then = {"retool": "new cavity set", "refurbish": "refurbished", "retire": "retired"}.get(kind, kind)
    if np.isfinite(worn):
        return f"worn out on {_iso_of_day(worn)}; {then}"
    why = {
        "wear": "worn out",
        "damage": "damaged",
        "planned": "ahead of wear",
        "obsolete": "no longer needed",
        "design_change": "for a change of design",
        "": "cause not stated" if kind == "retire" or episodes.ending[last] == CENSORED else "cause not stated, perhaps worn",
    }.get(cause, cause)
    return f"{then}: {why}"


def _sources(recorded: "Recorded", spent: WearSpent, of_cell: Array, names: tuple[str, ...], nameless: str) -> tuple[Source, ...]:
    cells = recorded.exposures.cells
    total = spent.left.sum(axis=1)
    on_clock = spent.left.any(axis=0) if len(spent.cell) else np.zeros(0, dtype=bool)
    label = np.where(spent.stood, IN_STORE, np.where(of_cell >= 0, np.array([*names, ""])[of_cell], nameless))
    found = []
    for name in np.unique(label[on_clock]):
        mine = on_clock & (label == name)
        wear = spent.left[:, mine].sum(axis=1)
        shots = float(cells.shots[spent.cell[mine & ~spent.reckoned]].sum())
        found.append(Source(str(name), shots, _quantiles(wear), _quantiles(wear / np.maximum(total, 1e-12))))
    return tuple(sorted(found, key=lambda source: -(source.wear["p50"] or 0.0)))


def _moved(calibration: Calibration, live: int) -> tuple[Moved, ...]:
    table = calibration.live
    said = (
        ("its readings, against what its shots alone would say", table.moved_by_readings[live]),
        ("what its history says of a cavity steel that is not on record", table.moved_by_steel[live]),
        ("what its history says of the shots before its records", table.moved_by_past[live]),
        ("time in store and idle", table.moved_by_storage[live]),
    )
    moved = [Moved(what, float(np.exp(log))) for what, log in said if np.isfinite(log) and abs(log) >= WORTH_TELLING]
    return tuple(sorted(moved, key=lambda m: -abs(np.log(m.factor))))


def _quantiles(values: Array) -> Quantiles:
    return as_numbers(weighted_quantiles(values[:, None], np.ones((len(values), 1)))[:, 0])
