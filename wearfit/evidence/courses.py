"""The course of each life: its runs and times of standing in order of time, and the share of its wear that had come by the end of each.

The likelihood needs no order in time within a life; what is asked here does: where a tool was, what it ran and what month it was when
it wore out, or came through. Wear is weighed at the middle of the posterior, which hardly differs from draw to draw once it is a
share of a life; how much wear a life spent in all is taken draw by draw.
"""

from dataclasses import dataclass

import numpy as np

from wearfit.evidence.believed_draws import Believed, MeanWear, mean_wear
from wearfit.exposures.classes import setup_share
from wearfit.exposures.covariates import JOB_COVARIATES, MONTH_COVARIATES, Jobs, columns
from wearfit.exposures.lives import modifications_before
from wearfit.exposures.looks import Looks
from wearfit.exposures.pieces import rounded_speed
from wearfit.exposures.places import recorded_places
from wearfit.exposures.plant_climate import LOG_CORROSIVITY_UNKNOWN
from wearfit.exposures.stood import Stood
from wearfit.exposures.table import Exposures
from wearfit.exposures.timeline import TimeKeys, month_of
from wearfit.exposures.worn_segments import worn_segments
from wearfit.model.layout import coefficient_index
from wearfit.model.storage import STORAGE

Array = np.ndarray

YEAR = 365.25  # [day]


@dataclass(frozen=True)
class Courses:
    """Pieces of the episodes that carry a likelihood, in order of (episode, time). Arrays of shape (piece,)."""

    episode: Array  # index into `Exposures.episodes`
    tool: Array
    part: Array  # 1 up to the last day known good, 2 after it
    run: Array  # index into `Exposures.runs`, -1 of a time of standing
    plant: Array  # -1 where nobody knows
    resin: Array  # -1
    month: Array  # since 1970-01
    start: Array  # [day]
    modifications: Array
    shots: Array
    share: Array  # of the wear of its part of the episode that had come by its end, 0..1


def build_courses(b: Believed) -> Courses:
    """The courses of all lives of a history."""
    e, mean, log_band = b.exposures, mean_wear(b), b.log_band
    as_of = float(e.as_of.astype(np.int64))
    keys = TimeKeys(min([as_of, *e.runs.start.tolist(), *e.events.time.tolist()]), as_of)
    nothing = np.zeros(0)
    looks = Looks(nothing.astype(np.int64), nothing.astype(np.int64), nothing)
    worn = worn_segments(len(e.tools.tool_id), e.runs, e.events, e.episodes, e.past, looks, e.standing, keys)
    used = np.zeros(len(e.episodes.tool), dtype=bool)
    used[e.history.source] = True
    seg, stood = worn.segments, worn.stood
    kept, of_stood = np.flatnonzero(worn.wearing & used[worn.episode]), np.flatnonzero(used[stood.episode])
    modified = modifications_before(seg, e.events, keys)[kept]
    made = _log_wear(e, mean, seg.run[kept], seg.month[kept], modified, _steel_group(e))
    amount = seg.shots[kept] + np.exp(mean.coefficient[coefficient_index("log_setup")]) * seg.setups[kept] * setup_share(
        log_band[seg.tool[kept]]
    )
    columns_of = {
        "episode": (worn.episode[kept], stood.episode[of_stood]),
        "part": (worn.part[kept], stood.part[of_stood]),
        "run": (seg.run[kept], np.full(len(of_stood), -1)),
        "plant": (e.runs.plant[seg.run[kept]], stood.plant[of_stood]),
        "resin": (e.runs.resin[seg.run[kept]], np.full(len(of_stood), -1)),
        "month": (seg.month[kept], month_of(stood.start[of_stood])),
        "start": (seg.start[kept], stood.start[of_stood]),
        "modifications": (modified, np.zeros(len(of_stood), dtype=np.int64)),
        "shots": (seg.shots[kept], np.zeros(len(of_stood))),
        "wear": (np.exp(made) * amount, _stood_wear(e, mean, stood, log_band)[of_stood]),
    }
    table = {name: np.concatenate(parts) for name, parts in columns_of.items()}
    order = np.lexsort((table["start"], table["part"], table["episode"]))
    table = {name: values[order] for name, values in table.items()}
    wear = table.pop("wear")
    return Courses(tool=e.episodes.tool[table["episode"]], share=_share(table["episode"] * 3 + table["part"], wear), **table)


def _steel_group(e: Exposures) -> Array:
    first = np.searchsorted(e.candidates.tool, np.arange(len(e.tools.tool_id)), side="left")
    return np.asarray(e.candidates.steel_group[first])


def _log_wear(e: Exposures, mean: MeanWear, run: Array, month: Array, modified: Array, steel_group: Array) -> Array:
    runs, resins = e.runs, e.resins
    of_month, of_job = (
        mean.coefficient[[coefficient_index(f"slope.{c.name}") for c in which]] for which in (MONTH_COVARIATES, JOB_COVARIATES)
    )
    plant, resin = runs.plant[run], runs.resin[run]
    jobs = Jobs(
        resin, steel_group[runs.tool[run]], modified, rounded_speed(runs.speed[run]), np.append(resins.filler, 0.0)[resin],
        np.append(resins.corrosive, 0.0)[resin],
    )  # fmt: skip
    air = columns(recorded_places(plant, month, e.climate).months) @ of_month
    log_wear = np.append(mean.plant, 0.0)[plant] + air + np.append(mean.resin, 0.0)[resin] + columns(jobs) @ of_job
    return np.asarray(log_wear)


def _stood_wear(e: Exposures, mean: MeanWear, stood: Stood, log_band: Array) -> Array:
    air = np.append(e.climate.log_corrosivity, LOG_CORROSIVITY_UNKNOWN)[stood.plant]
    terms = np.stack([np.ones(len(air)), stood.preserved, air], axis=1)
    per_year = np.exp(terms @ mean.coefficient[list(STORAGE)] + log_band[e.episodes.tool[stood.episode]])
    return np.asarray(per_year * stood.days / YEAR)


def _share(group: Array, wear: Array) -> Array:
    """Running share of each group's total, groups lying together; one at the end of each, shape (piece,)."""
    first = np.searchsorted(group, group, side="left")
    come = np.cumsum(wear)
    before = np.concatenate([[0.0], come])[first]
    total = come[np.searchsorted(group, group, side="right") - 1] - before if len(group) else before
    return np.asarray(np.where(total > 0.0, (come - before) / np.where(total > 0.0, total, 1.0), 1.0))
