"""What is left of one tool's life: the chance that it is still good, by day and by shots."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.ahead import look_ahead
from wearfit.forecasts.clock import question_day
from wearfit.forecasts.fleet import YEAR, live_row
from wearfit.forecasts.news import NO_NEWS, News
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.quantiles import weighted_quantiles
from wearfit.forecasts.since import heed

Array = np.ndarray

POINTS: Final = 121  # of each curve: every month of ten years
LAST_SHARE: Final = 0.98  # of the draws that the curve over shots goes to


@dataclass(frozen=True)
class RemainingLife:
    """Curves of what is left of a tool's life.

    Parameters
    ----------
    days : array, shape (point,)
        Ahead, evenly spaced from 0. [day]
    good, running : arrays, shape (point,)
        Chance that it is not worn out by then; that it neither is nor was stopped by sudden damage.
    shots : array, shape (point,)
        Machine shots ahead, evenly spaced from 0.
    good_by_shots : array, shape (point,)
        Chance that it is not worn out by then.
    known : bool
        False where its age cannot be told; the curves are NaN then.
    """

    days: Array
    good: Array
    running: Array
    shots: Array
    good_by_shots: Array
    known: bool


def remaining_life(
    calibration: Calibration, tool: str, as_of: dt.date | None = None, horizon_years: float = 10.0, news: News = NO_NEWS
) -> RemainingLife:
    """Curves of what is left of a live tool's life, under the same use and conditions as its forecast.

    Parameters
    ----------
    news : News
        Readings as they stand now; those that the calibration has not seen are counted.

    Raises
    ------
    Refusal
        As `forecast_fleet`.
    """
    day, rows, horizon = question_day(calibration, as_of), np.array([live_row(calibration, tool)]), horizon_years * YEAR
    outlook = read_outlook(calibration)
    heeded, since = heed(calibration, outlook, rows, news, day)
    ahead = look_ahead(heeded, outlook, rows, day, horizon, since)
    weights = ahead.clocks.weights[:, 0]
    days = np.linspace(0.0, horizon, POINTS)
    wear_days, sudden_days = ahead.wear_days[:, 0], np.where(ahead.worn[0], 0.0, ahead.arrival.sudden_days[:, 0])
    made = np.where(ahead.worn[0], 0.0, ahead.arrival.wear_shots[:, 0])
    known = bool(ahead.worn[0] or not ahead.unknown[0])
    if not known:
        nothing = np.full(POINTS, np.nan)
        return RemainingLife(days, nothing, nothing, nothing, nothing, False)
    furthest = float(weighted_quantiles(made[:, None], weights[:, None], (LAST_SHARE,))[0, 0])
    shots = np.linspace(0.0, max(furthest, 1.0), POINTS)
    return RemainingLife(
        days=days,
        good=_share_beyond(wear_days, weights, days),
        running=_share_beyond(np.minimum(wear_days, sudden_days), weights, days),
        shots=shots,
        good_by_shots=_share_beyond(made, weights, shots),
        known=True,
    )


def _share_beyond(values: Array, weights: Array, points: Array) -> Array:
    """Share of the weight with values beyond each point, shape (point,)."""
    order = np.argsort(values, kind="stable")
    reached = np.concatenate([[0.0], np.cumsum(weights[order])])
    return 1.0 - reached[np.searchsorted(values[order], points, side="right")] / reached[-1]
