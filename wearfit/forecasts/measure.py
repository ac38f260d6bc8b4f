"""What to measure next: which missing record would narrow a tool's wear-out date most, and by when to look at the tool."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.ahead import Ahead, look_ahead
from wearfit.forecasts.clock import question_day
from wearfit.forecasts.conditions import generator
from wearfit.forecasts.fleet import NO_USE, UNKNOWN_AGE, YEAR, check_accepted, live_rows
from wearfit.forecasts.hangs_on import hangs_on
from wearfit.forecasts.in_pieces import CHUNK, pieces
from wearfit.forecasts.inspection import LOOKED_AFTER, inspections
from wearfit.forecasts.narrowing import range_left, range_now, share_told
from wearfit.forecasts.news import NO_NEWS, NOTHING, News, Since
from wearfit.forecasts.open_records import OpenRecord, open_of_plant, open_of_resin, open_of_tool, open_use, resins_of
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.quantiles import as_dates, weighted_quantiles
from wearfit.forecasts.reading_ahead import Gauges, ToBeRead, read_gauges, to_be_read
from wearfit.forecasts.since import heed
from wearfit.forecasts.tracks import tracks_now, wear_now
from wearfit.law import LEAST_SPENT

Array = np.ndarray

MONTH: Final = YEAR / 12.0  # [day]


@dataclass(frozen=True)
class ToMeasure:
    """Answers for live tools, and for what several of them share, ready to be written."""

    as_of: dt.date
    tools: tuple[dict[str, Any], ...]
    plants: tuple[dict[str, Any], ...]
    resins: tuple[dict[str, Any], ...]

    def as_json(self) -> dict[str, Any]:
        return {"tools": list(self.tools), "plants": list(self.plants), "resins": list(self.resins)}


@dataclass(frozen=True)
class _Shared:
    """What is missing and concerns several tools, and what they are read for."""

    plants: tuple[tuple[OpenRecord, ...], ...]
    resins: tuple[tuple[OpenRecord, ...], ...]
    gauges: Gauges


def what_to_measure(
    calibration: Calibration,
    as_of: dt.date | None = None,
    horizon_years: float = 10.0,
    tolerance: float = 0.10,
    unnoticed: float = 0.05,
    tools: Sequence[str] | None = None,
    news: News = NO_NEWS,
) -> ToMeasure:
    """Hold every missing record of the live tools against what it would narrow.

    Parameters
    ----------
    as_of, horizon_years, tolerance, tools, news
        As for `forecast_fleet`. A wear-out beyond the horizon counts as one at it.
    unnoticed : float
        Accepted chance that a tool wears out before anybody looks at it, in (0, 1).

    Raises
    ------
    Refusal
        As `forecast_fleet`, and where `unnoticed` is no probability.

    Notes
    -----
    The range of a tool is that of the days that hold 8 in 10 of its wear-out. A record narrows it as it does the standard
    deviation, root mean square over what the record may say. A reading is taken now, with the errors that such readings have; any other
    record is taken to leave no doubt of what it says. Of a plant or a resin it is the sum over the tools that are there, or run it.
    """
    check_accepted(horizon_years, tolerance)
    if not 0 < unnoticed < 1:
        raise Refusal(f"A risk of {unnoticed:g} is no probability.", "Give one between 0 and 1, such as 0.05.", 2)
    day, horizon = question_day(calibration, as_of), horizon_years * YEAR
    rows, outlook = live_rows(calibration, tools), read_outlook(calibration)
    calibration, since = heed(calibration, outlook, rows, news, day)
    shared = _Shared(
        tuple(open_of_plant(calibration, plant) for plant in range(len(calibration.levels.plant))),
        tuple(open_of_resin(calibration, resin) for resin in range(len(calibration.levels.resin))),
        read_gauges(calibration),
    )
    answers: list[dict[str, Any]] = [{}] * len(rows)
    for piece in pieces(calibration, rows, CHUNK):
        chunk = rows[piece]
        ahead = look_ahead(calibration, outlook, chunk, day, max(horizon, YEAR), since)
        inspect = inspections(calibration, ahead, chunk, day, horizon, tolerance, unnoticed)
        shots_a_month = ahead.use.shots_per_month_beyond_plan(day)
        for i, row in enumerate(chunk):
            answer = _state(calibration, ahead, i, int(row), day, horizon) | inspect[i]
            if answer["range_months"]:
                tool = _Tool(calibration, int(row), ahead, i, np.minimum(ahead.wear_days[:, i], horizon))
                missing = [*_missing(calibration, int(row), shots_a_month[:, i], shared)]
                answer["records"] = tool.records(missing, since.get(int(row), NOTHING), shared.gauges)
            answers[piece[i]] = answer
    return ToMeasure(day, tuple(answers), _summed(answers, shared.plants), _summed(answers, shared.resins))


def _state(calibration: Calibration, ahead: Ahead, i: int, row: int, day: dt.date, horizon: float) -> dict[str, Any]:
    """Where a tool stands and its wear-out lies; where no date can be told, what record is wanted for one."""
    live, levels = calibration.live, calibration.levels
    tool, status, never = str(levels.tool[live.tool[row]]), str(live.status[row]), bool(ahead.arrival.never[i])
    state: dict[str, Any] = {
        "tool_id": tool,
        "plant_id": str(levels.plant[live.plant[row]]) if live.plant[row] >= 0 else None,
        "status": status,
        "wear_out_on": None,
        "range_months": None,
        "records": [],
        "problem": None,
    }
    if status in LOOKED_AFTER:
        return state
    if ahead.unknown[i] or never:
        wanted = "opening" if ahead.unknown[i] else "use"
        only = {"record": wanted, "of": tool, "feature": None, "range_months": None, "narrows_months": None}
        return state | {"records": [only], "problem": UNKNOWN_AGE if ahead.unknown[i] else NO_USE}
    days, weights = ahead.wear_days[:, i], ahead.clocks.weights[:, i]
    dates = weighted_quantiles(days[:, None], weights[:, None])[:, 0]
    return state | {
        "wear_out_on": as_dates(dates, day, horizon),
        "range_months": range_now(np.minimum(days, horizon), weights) / MONTH,
    }


def _missing(calibration: Calibration, row: int, shots_a_month: Array, shared: _Shared) -> Iterator[OpenRecord]:
    """Records of a tool, its plant and its resins that are not there."""
    plant = int(calibration.live.plant[row])
    yield from open_of_tool(calibration, row)
    yield from open_use(calibration, row, shots_a_month)
    yield from shared.plants[plant] if plant >= 0 else ()
    for resin in resins_of(calibration, row):
        yield from shared.resins[resin]


@dataclass(frozen=True)
class _Tool:
    """A live tool whose wear-out lies `days` ahead, (sample,), as `ahead` has it in its column."""

    calibration: Calibration
    row: int
    ahead: Ahead
    column: int
    days: Array

    def records(self, missing: Sequence[OpenRecord], since: Since, gauges: Gauges) -> list[dict[str, Any]]:
        """What each record would make of the range of its wear-out, the best one first."""
        weights = self.ahead.clocks.weights[:, self.column]
        now = range_now(self.days, weights)
        causes = {str(place): record.says.astype(float) for place, record in enumerate(missing)}
        shares = {int(told.name): told.share for told in hangs_on(self.days, weights, causes)}
        found: list[tuple[str, str, str | None, float]] = [
            (record.record, record.of, None, shares[place]) for place, record in enumerate(missing)
        ]
        tool = str(self.calibration.levels.tool[self.calibration.live.tool[self.row]])
        for feature, reading in self.readings(tool, since, gauges):
            chances = reading.chances(weights, generator(self.calibration, "read", tool, feature))
            found.append(("reading", tool, feature, share_told(self.days, weights, chances)))
        return [
            {
                "record": record, "of": of, "feature": feature, "range_months": range_left(now, share) / MONTH,
                "narrows_months": (now - range_left(now, share)) / MONTH,
            }
            for record, of, feature, share in sorted(found, key=lambda one: -one[3])
        ]  # fmt: skip

    def readings(self, tool: str, since: Since, gauges: Gauges) -> Iterator[tuple[str, ToBeRead]]:
        """A reading now of each feature that its life has readings of; else of the one that its sisters, or the fleet, have most."""
        tracks = tracks_now(self.calibration, self.row, since)
        capacity = self.ahead.capacity[:, self.column]
        now = np.log(np.maximum(self.ahead.clocks.spent[:, self.column], LEAST_SPENT) / capacity)
        then = np.log(wear_now(self.calibration, self.row) / capacity)
        for feature in tracks or (gauges.of_design.get(int(self.calibration.live.design[self.row]), gauges.usual),):
            step = gauges.step.get(feature)
            yield feature, to_be_read(self.calibration, tool, feature, tracks.get(feature), now, then, step)


def _summed(answers: Sequence[Mapping[str, Any]], missing: Sequence[Sequence[OpenRecord]]) -> tuple[dict[str, Any], ...]:
    """What each missing record that tools share would narrow in all, the best one first."""
    found = []
    for record in (record for records in missing for record in records):
        told = [r["narrows_months"] for a in answers for r in a["records"] if (r["record"], r["of"]) == (record.record, record.of)]
        gained = [months for months in told if months is not None]
        found.append({"record": record.record, "of": record.of, "tools": len(gained), "narrows_months": float(sum(gained))})
    return tuple(sorted(found, key=lambda one: -one["narrows_months"]))
