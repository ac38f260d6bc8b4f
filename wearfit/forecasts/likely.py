"""When each live tool is likely to wear out, and nothing else of its forecast: what a comparison of two forecasts rests on."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.arrival import walk
from wearfit.forecasts.clock import question_day, read_clocks
from wearfit.forecasts.fleet import YEAR, live_rows, state_of
from wearfit.forecasts.in_pieces import CHUNK, pieces
from wearfit.forecasts.news import NO_NEWS, News, Since
from wearfit.forecasts.outlook import Outlook, read_outlook
from wearfit.forecasts.own_luck import exponential_draws
from wearfit.forecasts.quantiles import date_ahead, finite, singly, weighted_mean, weighted_quantiles
from wearfit.forecasts.since import heed
from wearfit.forecasts.use_ahead import UseAhead

Array = np.ndarray

MIDDLE: Final = 0.5


def likely_wear_outs(
    calibration: Calibration, as_of: dt.date | None, horizon_years: float, news: News = NO_NEWS, about: float = 0.0
) -> tuple[dict[str, Any], ...]:
    """The middle of each live tool's forecast, as `fleet.forecast_fleet` has it.

    Parameters
    ----------
    as_of, horizon_years, news
        As `fleet.forecast_fleet` takes them.
    about : float, optional
        How far the probability of a middle may be off a half, either way, because draws are few. A bound: luck is stratified, and
        does not stray.

    Returns
    -------
    tuple of dict
        Of an entry of `forecast_fleet`: what the tool is, its conditions, and p50 of `remaining_shots` and `wear_out_on`. Also
        `about_days`: how far the middle day may be off for that, None where it lies past what was asked for.
    """
    calibration, day = calibration.as_drawn(), question_day(calibration, as_of)
    rows, outlook = live_rows(calibration, None), read_outlook(calibration)
    calibration, since = heed(calibration, outlook, rows, news, day)
    answers: list[dict[str, Any]] = [{}] * len(rows)
    for piece in pieces(calibration, rows, CHUNK):
        told = _likely(calibration, outlook, rows[piece], since, day, horizon_years * YEAR, about)
        for place, answer in zip(piece.tolist(), told, strict=True):
            answers[place] = answer
    return tuple(answers)


def _likely(
    calibration: Calibration,
    outlook: Outlook,
    rows: Array,
    since: Mapping[int, Since],
    day: dt.date,
    horizon: float,
    about: float,
) -> list[dict[str, Any]]:
    use = UseAhead(calibration, outlook, rows)
    clocks = read_clocks(calibration, rows, use, day, since)
    arrival = walk(use, day, max(horizon, YEAR), clocks.capacity(exponential_draws(calibration, rows, "wear")) - clocks.spent)
    worn, unknown = calibration.live.status[rows] == "worn", np.isnan(clocks.spent[0])
    shots = weighted_quantiles(singly(np.where(worn, 0.0, arrival.wear_shots)), clocks.weights, (MIDDLE,))[0]
    months = weighted_quantiles(singly(np.where(worn, 0.0, arrival.wear_months)), clocks.weights, (MIDDLE - about, MIDDLE, MIDDLE + about))
    sooner, days, later = arrival.calendar.days(months.astype(float))  # what is later in months is later in days
    per_month = weighted_mean(use.shots_per_month(day), clocks.weights)
    answers = []
    for i, row in enumerate(rows.tolist()):
        told = worn[i] or not unknown[i]
        answers.append(
            state_of(calibration, row, float(per_month[i]))
            | {
                "remaining_shots": {"p50": finite(shots[i]) if told else None},
                "wear_out_on": {"p50": date_ahead(days[i], day, horizon) if told else None},
                "about_days": 0.5 * float(later[i] - sooner[i]) if later[i] < np.inf else None,
            }
        )
    return answers
