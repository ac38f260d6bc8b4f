"""When each live tool will wear out, and the last day to order its replacement."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.ahead import lead_time_weeks, look_ahead
from wearfit.forecasts.clock import Clocks, question_day
from wearfit.forecasts.conditions import position
from wearfit.forecasts.in_pieces import piece_of, pieces
from wearfit.forecasts.news import NO_NEWS, NOTHING, News, Since
from wearfit.forecasts.noted import noted_defects
from wearfit.forecasts.outlook import Outlook, read_outlook
from wearfit.forecasts.quantiles import (
    Quantiles,
    as_numbers,
    date_ahead,
    dates_of_each,
    finite,
    last_within,
    numbers_of_each,
    singly,
    weighted_mean,
    weighted_quantiles,
)
from wearfit.forecasts.since import heed
from wearfit.processors import shared_out

Array = np.ndarray

YEAR: Final = 365.25  # [day]
DRAWS: Final = ("wear_spent", "characteristic_life", "opening_shots", "read_told", "noted_share", "law")  # that are asked for
NO_USE: Final = "No use of it is planned, stated or recorded of late, so no dates can be told. Enter shots_per_month."
UNKNOWN_AGE: Final = (
    "It has no recorded run, and where it made how many shots is unknown, so its remaining life cannot be told. "
    "Enter plant_id, and opening_life_shots."
)


@dataclass(frozen=True)
class FleetForecast:
    """Forecasts of live tools, ready to be written."""

    as_of: dt.date
    tools: tuple[dict[str, Any], ...]

    def as_json(self) -> dict[str, Any]:
        return {"tools": list(self.tools)}


def forecast_fleet(
    calibration: Calibration,
    as_of: dt.date | None = None,
    horizon_years: float = 10.0,
    tolerance: float = 0.10,
    tools: Sequence[str] | None = None,
    news: News = NO_NEWS,
) -> FleetForecast:
    """Forecast the live tools.

    Parameters
    ----------
    as_of : date, optional
        Now; later than the calibration's day, clocks are moved on by expected use.
    horizon_years : float
        Dates beyond are null. [year]
    tolerance : float
        Accepted chance of having no usable tool before an ordered replacement arrives, in (0, 1).
    tools : sequence of str, optional
        Only these.
    news : News
        Readings as they stand now; those that the calibration has not seen are counted.

    Raises
    ------
    Refusal
        Where a tool is not live, or the day lies before the calibration's.

    Notes
    -----
    A stored or held tool is taken to be back in use from the day of the question on, and found good: what the dates say of it
    holds then. Both of the calibration's day: `storage_share` is the share of the wear spent that came in store and in long
    idle times, `moved_by_storage` the log of the median wear left with it over that without.
    """
    check_accepted(horizon_years, tolerance)
    calibration, day = calibration.as_drawn(), question_day(calibration, as_of)
    rows, outlook = live_rows(calibration, tools), read_outlook(calibration, DRAWS)
    calibration, since = heed(calibration, outlook, rows, news, day)
    parts = list(pieces(calibration, rows, piece_of(len(rows))))
    told = shared_out(lambda part: _forecast(calibration, outlook, rows[part], since, day, horizon_years * YEAR, tolerance), parts)
    by_place = {
        place: answer for part, answers in zip(parts, told, strict=True) for place, answer in zip(part.tolist(), answers, strict=True)
    }
    return FleetForecast(day, tuple(by_place[place] for place in range(len(rows))))


def check_accepted(horizon_years: float, tolerance: float) -> None:
    """Refuse, with status 2, a tolerance that is no probability and a horizon that cannot be walked."""
    if not 0 < tolerance < 1:
        raise Refusal(f"A tolerance of {tolerance:g} is no probability.", "Give one between 0 and 1, such as 0.1.", 2)
    if not 0 < horizon_years <= 100:
        raise Refusal(f"A horizon of {horizon_years:g} years cannot be used.", "Give one above 0 and up to 100 years.", 2)


def live_rows(calibration: Calibration, tools: Sequence[str] | None) -> Array:
    """Rows of some tools in the live table, of all where none are named; refuses as `live_row`."""
    if tools is None:
        return np.arange(len(calibration.live.tool))
    return np.array([live_row(calibration, tool) for tool in tools], dtype=np.int64)


def live_row(calibration: Calibration, tool: str) -> int:
    """Row of a tool in the live table.

    Raises
    ------
    Refusal
        Where it is not live.
    """
    names = calibration.levels.tool[calibration.live.tool]
    row = position(names, tool)
    if row < 0:
        known = tool in set(calibration.levels.tool)
        raise Refusal(f"Tool {tool} is {'retired' if known else 'not in the records'}.", "Name a live tool; `wearfit forecast` lists them.")
    return row


def _forecast(
    calibration: Calibration, outlook: Outlook, rows: Array, since: Mapping[int, Since], day: dt.date, horizon: float, tolerance: float
) -> list[dict[str, Any]]:
    ahead = look_ahead(calibration, outlook, rows, day, max(horizon, YEAR), since)
    clocks, arrival, worn, weights = ahead.clocks, ahead.arrival, ahead.worn, ahead.clocks.weights
    margin = ahead.order_margin
    order_in = last_within(margin, weights, tolerance)
    gap = weighted_mean(margin < 0, weights)
    months = ahead.wear_months  # later is later in months and days: what is asked of some draws needs no days of all
    within_year = weighted_mean(months <= arrival.calendar.months(YEAR), weights)
    dates = dates_of_each(arrival.calendar.days(weighted_quantiles(months, weights).astype(float)), day, horizon)
    used = numbers_of_each(weighted_quantiles(singly(ahead.of_good(clocks.spent / ahead.capacity, 1.0)), weights))
    shots = numbers_of_each(weighted_quantiles(singly(ahead.of_good(arrival.wear_shots, 0.0)), weights))
    stored = numbers_of_each(calibration.live.storage_share[rows].T)
    lead_weeks = lead_time_weeks(calibration, rows)
    per_month = weighted_mean(ahead.use.shots_per_month(day), weights)
    this_life = _shots_this_life(calibration, rows, clocks)
    noted = noted_defects(calibration, rows, np.where(worn, clocks.spent, ahead.capacity) if worn.any() else ahead.capacity, weights)
    answers = []
    for i, row in enumerate(rows.tolist()):
        answer = state_of(calibration, row, float(per_month[i]), this_life[i])
        answer |= {"lead_time_weeks": float(lead_weeks[i])} | since.get(row, NOTHING).as_json()
        answer["noted"] = noted[i]
        if ahead.unknown[i] and not worn[i]:
            answer |= _nothing(UNKNOWN_AGE)
        else:
            overdue = bool(order_in[i] < 0)
            answer |= {
                "life_used": used[i],
                "remaining_shots": shots[i],
                "wear_out_on": dates[i],
                # Days of order are counted whole, rounded to the safe side.
                "order_by": day.isoformat() if overdue else date_ahead(float(np.floor(order_in[i])), day, horizon),
                "overdue": overdue,
                "gap_risk_if_ordered_today": finite(gap[i]),
                "p_within_12_months": finite(within_year[i]),
                "storage_share": stored[i],
                "moved_by_storage": finite(calibration.live.moved_by_storage[row]),
                "problem": NO_USE if arrival.never[i] and not worn[i] else None,
            }
        answers.append(answer)
    return answers


def _nothing(problem: str) -> dict[str, Any]:
    nothing = dict.fromkeys(as_numbers(np.full(7, np.nan)))
    return {
        "life_used": dict(nothing), "remaining_shots": dict(nothing), "wear_out_on": dict(nothing), "order_by": None, "overdue": False,
        "gap_risk_if_ordered_today": None, "p_within_12_months": None, "storage_share": dict(nothing), "moved_by_storage": None,
        "problem": problem,
    }  # fmt: skip


def _shots_this_life(calibration: Calibration, rows: Array, clocks: Clocks) -> list[float | Quantiles | None]:
    """Shots of the life under way: a number, or quantiles where what it had behind it before its records is reckoned."""
    opening = calibration.of_live("opening_shots", rows)
    recorded = calibration.live.shots_this_life[rows] + weighted_mean(clocks.shots_since, clocks.weights)
    told: list[float | Quantiles | None] = [finite(shots) for shots in recorded.tolist()]
    for i in np.flatnonzero(opening.any(axis=0)).tolist():
        reckoned = weighted_quantiles(opening[:, [i]] + recorded[i], clocks.weights[:, [i]])
        told[i] = as_numbers(reckoned[:, 0])
    return told


def state_of(
    calibration: Calibration, row: int, shots_per_month: float, shots_this_life: float | Quantiles | None = None
) -> dict[str, Any]:
    """What a tool is, and the conditions that its forecast is given for."""
    live, levels = calibration.live, calibration.levels
    service_class, due = int(live.service_class[row]), live.replacement_due[row]
    plant_id = str(levels.plant[live.plant[row]]) if live.plant[row] >= 0 else None
    mix = live.resin_share[row]
    return {
        "tool_id": str(levels.tool[live.tool[row]]),
        "service_class": "unknown" if service_class < 0 else str(levels.service_class[service_class]),
        "design_id": str(levels.design[live.design[row]]) if live.design[row] >= 0 else None,
        "plant_id": plant_id,
        "status": str(live.status[row]),
        "shots_this_life": shots_this_life,
        "conditions": {
            "plant_id": plant_id,
            "resins": [str(levels.resin[r]) for r in np.argsort(-mix, kind="stable") if mix[r] > 0],
            "shots_per_month": shots_per_month,
        },
        "replacement_due_on": None if np.isnan(due) else (dt.date(1970, 1, 1) + dt.timedelta(days=int(due))).isoformat(),
    }
