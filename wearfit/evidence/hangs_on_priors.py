"""What hangs on what was believed beforehand: each prior, and the likelihood, raised to a power, and how far the forecasts then move."""

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from wearfit import law
from wearfit.calibration import Calibration
from wearfit.forecasts.ahead import look_ahead
from wearfit.forecasts.outlook import read_outlook
from wearfit.model.importance import MOVES, sensitivity, smoothed
from wearfit.model.prior_parts import prior_parts
from wearfit.model.priors import parse_priors

Array = np.ndarray

HALF: Final = 0.5  # powers that are told in numbers: a prior half as firm,
TWICE: Final = 2.0  # and one twice as firm

YEAR_DAYS: Final = 365
WEAR_OUTS: Final = "wear_outs"


@dataclass(frozen=True)
class Forecast:
    """One figure that decisions rest on.

    Parameters
    ----------
    name : str
        `WEAR_OUTS`, or a service class.
    draws : array, shape (sample,)
        By each draw of what is believed, luck averaged out.
    """

    name: str
    draws: Array


@dataclass(frozen=True)
class LiveAhead:
    """What lies ahead of the live tools of which something can be told, by each draw, luck averaged out. Arrays of shape (sample, tool)."""

    tool_id: Array  # (tool,)
    service_class: Array  # (tool,) index, -1
    within: Array  # chance of a wear-out in the next 12 months
    log_left: Array  # log of the median wear left [log reference shots]


def live_ahead(calibration: Calibration) -> LiveAhead:
    """What lies ahead of the live tools by a calibration; those that are worn are left out."""
    live, day = calibration.live, dt.date.fromisoformat(calibration.identity.as_of)
    rows = np.flatnonzero(live.status != "worn")
    ahead = look_ahead(calibration, read_outlook(calibration), rows, day, float(YEAR_DAYS))
    known = np.flatnonzero(~ahead.unknown)
    wear = sum((use.wear for use, _ in ahead.use.between(day, day + dt.timedelta(days=YEAR_DAYS))), np.zeros(1))
    clocks = replace(ahead.clocks, unseen=np.zeros_like(ahead.clocks.unseen))  # found good today, as the fleet's dates take it
    even = np.full(clocks.spent.shape, np.log(2.0))
    for i, left in clocks.left.items():
        even[:, i] = left.rise_at(np.full(len(even), 0.5))
    with np.errstate(invalid="ignore"):
        left_over = law.wear_at(clocks.hazard(clocks.spent) + even, clocks.log_life, clocks.shape) - clocks.spent
        within = clocks.ends_before(clocks.spent + wear)
        log_left = np.log(np.maximum(left_over, 1e-9))
    names = calibration.levels.tool[live.tool[rows]]
    return LiveAhead(names[known], live.service_class[rows][known], within[:, known], log_left[:, known])


def forecasts_of(calibration: Calibration) -> tuple[Forecast, ...]:
    """Wear-outs to expect in the next 12 months, and for each class the median wear left of its live tools (their geometric mean)."""
    ahead = live_ahead(calibration)
    found = [Forecast(WEAR_OUTS, ahead.within.sum(axis=1))]
    for place, name in enumerate(calibration.levels.service_class):
        mine = np.flatnonzero(ahead.service_class == place)
        if len(mine):
            found.append(Forecast(str(name), np.exp(ahead.log_left[:, mine].mean(axis=1))))
    return tuple(found)


def prior_report(calibration: Calibration) -> dict[str, Any]:
    """How far each prior, and the likelihood, move what they are of and the forecasts.

    Returns
    -------
    dict
        `forecasts`, by name the mean and how far it hangs on the likelihood; `priors`, a row each, the one on which the wear-outs hang
        most first.

    Notes
    -----
    A prior is scaled in the joint posterior that was saved: draws are weighed, nothing is sampled. The likelihood is that of each
    life given all that is drawn.
    """
    parts = prior_parts(calibration, parse_priors(calibration.identity.priors))
    forecasts = forecasts_of(calibration)
    told = np.asarray(calibration.draws.log_likelihood, dtype=float).sum(axis=1)
    rows: list[dict[str, Any]] = []
    for part in parts:
        by_half, by_twice = (smoothed((power - 1.0) * part.log_density) for power in (HALF, TWICE))
        moved = {}
        for forecast in forecasts:
            told_in_numbers = {
                name: float(w.mean(forecast.draws)) if w.reliable else None for name, w in (("half", by_half), ("twice", by_twice))
            }
            moved[forecast.name] = {"sensitivity": sensitivity(forecast.draws, part.log_density), **told_in_numbers}
        own = max(sensitivity(column, part.log_density) for column in part.values.T)
        rows.append({"entry": part.entry, "own": own, "forecasts": moved})
    rows.sort(key=lambda row: -float(row["forecasts"][WEAR_OUTS]["sensitivity"]))
    return {
        "limit": MOVES,
        "forecasts": {f.name: {"mean": float(f.draws.mean()), "likelihood": sensitivity(f.draws, told)} for f in forecasts},
        "priors": rows,
    }
