"""Readings on their way to the limit, each in its episode and at its place on the clock."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from wearfit.exposures.event_order import episode_seen
from wearfit.exposures.lives import Episodes, Events
from wearfit.exposures.table import History, Readings
from wearfit.exposures.timeline import days, positions
from wearfit.records.frames import BELOW
from wearfit.records.tables import TABLES

Array = np.ndarray

UNSTATED_RESOLUTION: Final = 0.02  # of the way from new to the limit, judgement


@dataclass(frozen=True)
class Marks:
    """Readings that tell how far a life has come, in order of (episode, time, feature). Arrays of shape (mark,)."""

    feature_ids: tuple[str, ...]
    reading: Array  # position in the readings table
    tool: Array
    episode: Array
    time: Array  # [day] the end of the day on which it was taken
    feature: Array
    log_way: Array  # log of the share of the way from new to the limit; of the least that the gauge tells where it is below that
    below: Array  # bool
    rounding: Array  # standard deviation that rounding brings to log_way


def read_marks(readings: pd.DataFrame, tool_ids: Sequence[str], events: Events, episodes: Episodes) -> Marks:
    """Readings as marks of their episodes.

    Parameters
    ----------
    readings : DataFrame
        The record table, cut at the as-of day; of tools in `tool_ids`.
    events, episodes
        Of the same records, wear-outs that readings show among them.

    Notes
    -----
    A reading on the day of an event stands where a `worn` would, before a renewal. What lies on the far side of new, or
    closer to it than the gauge tells, is known to be below the gauge's least. A reading known to lie beyond a value towards
    its limit ("<7.9" of a pin that gets thinner) is left out, as is one whose limit is its new value.
    """
    feature_ids = tuple(sorted({str(f) for f in readings["feature"]}))
    tool, day = positions(readings["tool_id"], tool_ids), days(readings["date"])
    new = readings["new_value"].fillna(float(TABLES["readings"].column("new_value").default)).to_numpy(dtype=float)
    limit, value, resolution = (readings[name].to_numpy(dtype=float) for name in ("limit", "value", "resolution"))
    reach = np.where(limit == new, np.nan, limit - new)
    way = (value - new) / reach
    step = np.where(np.nan_to_num(resolution) > 0, resolution / np.abs(reach), UNSTATED_RESOLUTION)
    flagged = readings[BELOW].to_numpy(dtype=bool)
    below = flagged | (way < 0.5 * step)
    least = np.where(flagged & (way > 0), way, step)
    rounding = np.where(below | (np.nan_to_num(resolution) == 0), 0.0, step / (np.sqrt(12.0) * np.maximum(way, 1e-12)))
    used = np.flatnonzero(~np.isnan(way) & ~(flagged & (reach < 0)))
    episode = episode_seen(tool[used], day[used], events, episodes)
    feature = positions(readings["feature"], feature_ids)
    order = np.lexsort((readings["value"].to_numpy(dtype=float)[used], feature[used], day[used], episode))
    used, episode = used[order], episode[order]
    return Marks(
        feature_ids=feature_ids,
        reading=used,
        tool=tool[used],
        episode=episode,
        time=day[used] + 1.0,
        feature=feature[used],
        log_way=np.log(np.where(below, least, np.maximum(way, 1e-12)))[used],
        below=below[used],
        rounding=rounding[used],
    )


def readings_of_rows(marks: Marks, history: History, boundary: Array, of_row: Array, of_mark: Array) -> Readings:
    """Marks repeated for each row of the likelihood that their episode has, in order of (row, feature, time).

    Parameters
    ----------
    boundary, of_row, of_mark : arrays, shape (pair,)
        Number of cells that come before a mark, for each row and mark of the row's episode.

    Notes
    -----
    Where no wear has come before it, a reading says nothing of how it grows, and is left out.
    """
    worn_before = (boundary > history.cell_start[of_row]) | (history.chain[of_row] < of_row)
    order = np.lexsort((of_mark, marks.feature[of_mark], of_row))
    order = order[worn_before[order]]
    mark = of_mark[order]
    return Readings(
        feature_ids=marks.feature_ids,
        row=of_row[order],
        stop=boundary[order],
        time=marks.time[mark],
        feature=marks.feature[mark],
        log_way=marks.log_way[mark],
        below=marks.below[mark],
        rounding=marks.rounding[mark],
    )
