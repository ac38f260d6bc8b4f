"""Readings of live tools that the calibration has not seen, and what they say of what is left of each life.

A life's own offset and growth belong to all readings of a feature, so all of them are weighed again with the new ones among
them, on the one integral over the remaining hazard. Each draw then counts by how much likelier the readings are with the new
ones than without. What one tool's readings say of the fleet waits for the next calibration.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.ways import IN_A_ROW, ROUNDING
from wearfit.forecasts.news import EPOCH, NOTHING, NewReading, News, Since
from wearfit.forecasts.outlook import Outlook
from wearfit.forecasts.read_series import Series, calibrated, placed, set_against
from wearfit.forecasts.tracks import tracks_of, wear_now
from wearfit.remaining import Remaining, Track, remaining

Array = np.ndarray

FEW_DRAWS: Final = 100  # effective ones, below which quantiles are rough; judgement
RENEWED: Final = (
    "A renewal or wear-out on {day} came after the calibration: recalibrate first; until then its readings since are not counted."
)


def weigh_news(calibration: Calibration, outlook: Outlook, rows: Array, news: News, day: dt.date) -> dict[int, Since]:
    """What news say of some live tools, by their row of the live table; those of which they say nothing are left out.

    Parameters
    ----------
    outlook : Outlook
        Of the same calibration.
    day : date
        Of the question: readings after it are not known.
    """
    of_tool: dict[str, list[NewReading]] = {}
    for reading in news.readings:
        of_tool.setdefault(reading.tool_id, []).append(reading)
    found: dict[int, Since] = {}
    if not of_tool:
        return found
    tools = calibration.levels.tool[calibration.live.tool[rows]].tolist()
    for row, tool in zip(rows.tolist(), tools, strict=True):
        if tool in of_tool:
            since = _of_tool(calibration, outlook, row, of_tool[tool], news.renewed.get(tool), day)
            if since is not NOTHING:
                found[row] = since
    return found


def with_worn(calibration: Calibration, since: Mapping[int, Since]) -> Calibration:
    """The calibration with the status of tools that their readings since show to be worn."""
    worn = [row for row, of_tool in since.items() if of_tool.worn]
    if not worn:
        return calibration
    status = calibration.live.status.copy()
    status[worn] = "worn"
    return replace(calibration, live=replace(calibration.live, status=status))


def heed(calibration: Calibration, outlook: Outlook, rows: Array, news: News, day: dt.date) -> tuple[Calibration, dict[int, Since]]:
    """Both at once: the calibration with the tools that are shown to be worn, and what news say, by row."""
    since = weigh_news(calibration, outlook, rows, news, day)
    return with_worn(calibration, since), since


def _of_tool(
    calibration: Calibration, outlook: Outlook, row: int, readings: Sequence[NewReading], renewed: dt.date | None, day: dt.date
) -> Since:
    live = calibration.live
    first = EPOCH + dt.timedelta(days=int(live.read_from[row]))
    inside = [reading for reading in readings if first <= reading.day <= day]
    status = str(live.status[row])
    if status == "worn" or not inside:
        return NOTHING
    seen = calibrated(calibration, row)
    kept, added, count = set_against(seen, inside)
    if not count:
        return NOTHING
    if calibration.unknown_age[row]:
        return NOTHING
    if renewed is not None:
        return Since(note=RENEWED.format(day=renewed))
    fresh = placed(calibration, outlook, row, added, seen)
    count -= len(added) - len(fresh.day)
    if count <= 0:
        return NOTHING
    now = seen.take(kept).followed_by(fresh)
    worn = None if status == "held" else _over_at_the_end(now)
    if worn is not None:
        return Since(count, worn, worn=True)
    tracks = tracks_of(calibration, now, wear_now(calibration, row))
    left, weights = _weighed(calibration, row, seen, tracks)
    return Since(count, _caution(now, weights), left=left, weights=weights, tracks=tracks)


def _caution(now: Series, weights: Array) -> str | None:
    """What is to be said of an answer that rests on one inspection, or on few draws."""
    effective = float(weights.sum() ** 2 / (weights**2).sum())
    rough = (
        f"They say so much that only {effective:.0f} draws still count: recalibrate for exact figures." if effective < FEW_DRAWS else None
    )
    alone = "No other inspection of this life bears it out: measure again before acting on it." if len(np.unique(now.day)) == 1 else None
    return " ".join(sentence for sentence in (alone, rough) if sentence) or None


def _weighed(calibration: Calibration, row: int, seen: Series, now: Mapping[str, Track]) -> tuple[Remaining, Array]:
    """What is left of the life by its readings now, and weights of the draws, shape (sample,): by those over by those seen."""
    log_life = np.log(np.asarray(calibration.draws.characteristic_life[:, row], dtype=float))
    base, shape = wear_now(calibration, row), calibration.shape

    def left(tracks: Mapping[str, Track]) -> Remaining:
        return remaining(base, log_life, shape, list(tracks.values()))

    after = left(now)
    log_weight = after.log_mass() - (left(tracks_of(calibration, seen, base)).log_mass() if len(seen.day) else 0.0)
    return after, np.exp(log_weight - log_weight.max())


def _over_at_the_end(series: Series) -> str | None:
    """The sentence that tells of a tool read as worn: a feature's readings end over the limit, as `exposures.over_limit` counts them."""
    for feature in np.unique(series.feature.astype(str)):
        mine = np.flatnonzero(series.feature == feature)
        inspections = np.unique(series.day[mine])
        way = np.where(series.below, -np.inf, series.log_way)
        over = [np.median(way[mine[series.day[mine] == day]]) > np.log1p(ROUNDING) for day in inspections]
        within = np.flatnonzero(~np.array(over))
        last = inspections[within[-1] + 1 :] if len(within) else inspections
        at_end = mine[np.isin(series.day[mine], last)]
        either_side = not len(within) and not series.from_new[at_end].all()
        if len(last) >= IN_A_ROW and series.new[at_end].any() and not either_side:
            begin, end = (EPOCH + dt.timedelta(days=int(d)) for d in (last[0], last[-1]))
            return (
                f"Its readings of {feature} are over their limit from {begin} to {end} with no renewal since: it is taken to have worn "
                "out. Recalibrate, so that other tools learn from it; if it was renewed or its parts are good, correct the records."
            )
    return None
