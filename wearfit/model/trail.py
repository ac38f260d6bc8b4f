"""How the wear of the episodes under way came over time, so that an answer can place a reading that the calibration has not seen.

Runs and times of standing are weighed by their wear at the middle of the posterior, which hardly differs from draw to draw once
it is a share of an episode; how much of the wear spent lay before the records does, and is kept draw by draw.
"""

from dataclasses import dataclass

import numpy as np

from wearfit.exposures.covariates import JOB_COVARIATES, MONTH_COVARIATES, Jobs, columns
from wearfit.exposures.live import LiveTools
from wearfit.exposures.places import calendar_months
from wearfit.exposures.plant_climate import LOG_CORROSIVITY_UNKNOWN
from wearfit.exposures.table import Exposures
from wearfit.exposures.timeline import month_of
from wearfit.model.group_effects import Effects
from wearfit.model.layout import coefficient_index
from wearfit.model.storage import STORAGE

Array = np.ndarray

YEAR = 365.25  # [day]


@dataclass(frozen=True)
class Trail:
    """Fields of `calibration.TrailTable`. Arrays of shape (knot,)."""

    live: Array
    time: Array
    share: Array


@dataclass(frozen=True)
class _Stretches:
    """Runs, or times in which tools stood. Arrays of shape (stretch,)."""

    tool: Array
    start: Array  # [day]
    stop: Array  # [day]
    wear: Array  # [reference shots] over all of it, in a tool of the steel and band given


def build_trail(exposures: Exposures, live: LiveTools, coefficients: Array, effects: Effects, steel_group: Array, log_band: Array) -> Trail:
    """The trail of every live tool.

    Parameters
    ----------
    coefficients : array, shape (sample, coefficient)
    effects : Effects
        Of the same draws.
    steel_group, log_band : arrays, shape (live,)
        What each tool is in most draws.
    """
    middle, n = coefficients.mean(axis=0), len(exposures.tools.tool_id)
    place = np.full(n, -1)
    place[live.tool] = np.arange(len(live.tool))
    parts = (
        _worked(exposures, middle, effects, np.append(steel_group, 0)[place]),
        _stood(exposures, middle, np.append(log_band, 0.0)[place]),
    )
    stretches = _Stretches(*(np.concatenate([getattr(p, name) for p in parts]) for name in ("tool", "start", "stop", "wear")))
    of_tool = np.argsort(stretches.tool, kind="stable")
    low, high = (np.searchsorted(stretches.tool[of_tool], live.tool, side=side) for side in ("left", "right"))
    begins = np.maximum(exposures.episodes.opens[live.episode], exposures.past.from_day[live.tool])
    found = [_knots(stretches, of_tool[slice(*span)], begin) for *span, begin in zip(low, high, begins, strict=True)]
    return Trail(
        live=np.repeat(np.arange(len(found)), [len(time) for time, _ in found]),
        time=np.concatenate([np.zeros(0), *(time for time, _ in found)]),
        share=np.concatenate([np.zeros(0), *(share for _, share in found)]),
    )


def _worked(exposures: Exposures, middle: Array, effects: Effects, steel_group: Array) -> _Stretches:
    """Runs; `middle` (coefficient,), `steel_group` (tool,)."""
    runs, resins = exposures.runs, exposures.resins
    of_month, of_job = (
        middle[[coefficient_index(f"slope.{c.name}") for c in covariates]] for covariates in (MONTH_COVARIATES, JOB_COVARIATES)
    )
    season = (columns(calendar_months(exposures.climate)) @ of_month).reshape(len(exposures.plant_ids), 12)
    by_plant = np.concatenate([(effects.plant + effects.plant_climate).mean(axis=0)[:, None] + season, np.zeros((1, 12))])
    unmodified = np.zeros(len(runs.tool))
    jobs = Jobs(
        runs.resin, steel_group[runs.tool], unmodified, runs.speed, np.append(resins.filler, 0.0)[runs.resin],
        np.append(resins.corrosive, 0.0)[runs.resin],
    )  # fmt: skip
    calendar = month_of(0.5 * (runs.start + runs.end)) % 12
    log_wear = by_plant[runs.plant, calendar] + np.append(effects.resin.mean(axis=0), 0.0)[runs.resin] + columns(jobs) @ of_job
    return _Stretches(runs.tool, runs.start.astype(float), runs.end + 1.0, np.exp(log_wear) * runs.shots)


def _stood(exposures: Exposures, middle: Array, log_band: Array) -> _Stretches:
    """Times in store and long idle times; `log_band` (tool,)."""
    standing = exposures.standing
    air = np.append(exposures.climate.log_corrosivity, LOG_CORROSIVITY_UNKNOWN)[standing.plant]
    terms = np.stack([np.ones(len(air)), standing.preserved, air], axis=1)
    wear = np.exp(terms @ middle[list(STORAGE)] + log_band[standing.tool]) * (standing.end - standing.start) / YEAR
    return _Stretches(standing.tool, standing.start, standing.end, wear)


def _knots(stretches: _Stretches, chosen: Array, begin: float) -> tuple[Array, Array]:
    """Instants from `begin` on, and the share of the wear that had come by each, shapes (knot,); none where there was none."""
    stop = stretches.stop[chosen]
    start = np.minimum(np.maximum(stretches.start[chosen], begin), stop)
    length = np.maximum(stop - stretches.start[chosen], 1e-9)
    wear = stretches.wear[chosen] * (stop - start) / length
    if wear.sum() <= 0.0:
        return np.zeros(0), np.zeros(0)
    time = np.unique(np.concatenate([start, stop])[np.tile(wear > 0, 2)])
    come = np.clip((time[:, None] - start) / np.maximum(stop - start, 1e-9), 0.0, 1.0) @ wear
    return time, come / come[-1]
