"""Readings of live tools that the calibration has not seen, and what they say of what is left of each life.

A life's own offset and growth belong to all readings of a feature, so all of them are weighed again with the new ones among
them, on the one integral over the remaining hazard. Each draw then counts by how much likelier the readings are with the new
ones than without. What one tool's readings say of the fleet waits for the next calibration.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.ways import IN_A_ROW, ROUNDING
from wearfit.forecasts.conditions import generator, position
from wearfit.forecasts.outlook import Outlook
from wearfit.forecasts.rolling import roll
from wearfit.forecasts.use_ahead import UseAhead
from wearfit.growth import Growth, Readings
from wearfit.remaining import Remaining, Track, remaining

Array = np.ndarray

EPOCH: Final = dt.date(1970, 1, 1)
LEAST_OF_LIFE: Final = 1e-3  # of a characteristic life: a capacity is not looked for below it, where no life ends
LEAST_SHARE: Final = 1e-6  # of the wear now, where a logarithm is taken
SAME: Final = 1e-9
FEW_DRAWS: Final = 100  # effective ones, below which quantiles are rough; judgement
RENEWED: Final = (
    "A renewal or wear-out on {day} came after the calibration: recalibrate first; until then its readings since are not counted."
)


@dataclass(frozen=True)
class NewReading:
    """A reading as it stands now, whether or not the calibration has seen it."""

    tool_id: str
    day: dt.date
    feature: str
    log_way: float  # as `exposures.ways.Ways`
    below: bool
    rounding: float
    from_new: bool  # its value when new is stated, so that the side from which it comes to its limit is known


@dataclass(frozen=True)
class News:
    """What the records say now.

    Parameters
    ----------
    readings : tuple of NewReading
        Those of one tool, day and feature take the place of what the calibration saw there.
    renewed : mapping of str to date
        Tools with a renewal, a wear-out or an end that the calibration does not know.
    """

    readings: tuple[NewReading, ...] = ()
    renewed: Mapping[str, dt.date] = field(default_factory=dict)


@dataclass(frozen=True)
class Since:
    """What became of one tool's readings since the calibration."""

    readings: int = 0  # that are counted
    note: str | None = None
    worn: bool = False
    left: Remaining | None = None  # of its life from the calibration's day on, by all its readings
    weights: Array | None = None  # (sample,) of the draws, the greatest one
    tracks: Mapping[str, Track] | None = None  # the readings that `left` rests on, by feature

    def as_json(self) -> dict[str, Any]:
        return {"readings_since": self.readings, "readings_note": self.note}


NO_NEWS: Final = News()
NOTHING: Final = Since()
BySince = Mapping[int, Since]  # by row of the live table
NONE_SINCE: Final[BySince] = MappingProxyType({})


@dataclass(frozen=True)
class _Series:
    """Readings of one live tool. Arrays of shape (..., reading)."""

    day: Array  # [day]
    feature: Array  # text
    log_way: Array
    below: Array
    rounding: Array
    from_new: Array  # bool
    new: Array  # bool
    wear: Array  # (sample, reading) spent at each [reference shots]

    def take(self, chosen: Array) -> "_Series":
        return _Series(*(getattr(self, f.name)[..., chosen] for f in fields(self)))

    def followed_by(self, other: "_Series") -> "_Series":
        return _Series(*(np.concatenate([getattr(self, f.name), getattr(other, f.name)], axis=-1) for f in fields(self)))


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
    found = {}
    for row in rows:
        tool = str(calibration.levels.tool[calibration.live.tool[row]])
        since = _of_tool(calibration, outlook, int(row), of_tool.get(tool, ()), news.renewed.get(tool), day)
        if since is not NOTHING:
            found[int(row)] = since
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
    seen = _calibrated(calibration, row)
    kept, added, count = _set_against(seen, inside)
    if not count:
        return NOTHING
    if np.isnan(calibration.draws.wear_spent[:, row]).any():
        return NOTHING
    if renewed is not None:
        return Since(note=RENEWED.format(day=renewed))
    fresh = _placed(calibration, outlook, row, added, seen)
    count -= len(added) - len(fresh.day)
    if count <= 0:
        return NOTHING
    now = seen.take(kept).followed_by(fresh)
    worn = None if status == "held" else _over_at_the_end(now)
    if worn is not None:
        return Since(count, worn, worn=True)
    tracks = _tracks(calibration, now, wear_now(calibration, row))
    left, weights = _weighed(calibration, row, seen, tracks)
    return Since(count, _caution(now, weights), left=left, weights=weights, tracks=tracks)


def _caution(now: _Series, weights: Array) -> str | None:
    """What is to be said of an answer that rests on one inspection, or on few draws."""
    effective = float(weights.sum() ** 2 / (weights**2).sum())
    rough = (
        f"They say so much that only {effective:.0f} draws still count: recalibrate for exact figures." if effective < FEW_DRAWS else None
    )
    alone = "No other inspection of this life bears it out: measure again before acting on it." if len(np.unique(now.day)) == 1 else None
    return " ".join(sentence for sentence in (alone, rough) if sentence) or None


def _days(day: dt.date) -> int:
    return (day - EPOCH).days


def _calibrated(calibration: Calibration, row: int) -> _Series:
    """Readings that the calibration saw of a tool."""
    readings = calibration.readings
    mine = np.flatnonzero(np.isin(readings.read, np.flatnonzero(calibration.reads.live == row)))
    spent = np.asarray(calibration.draws.wear_spent[:, [row]], dtype=float)
    return _Series(
        day=readings.day[mine],
        feature=calibration.levels.feature[readings.feature[mine].astype(np.int64)],
        log_way=readings.log_way[mine],
        below=readings.below[mine] > 0,
        rounding=readings.rounding[mine],
        from_new=np.ones(len(mine), dtype=bool),
        new=np.zeros(len(mine), dtype=bool),
        wear=spent * np.exp(np.asarray(calibration.draws.reading_share[:, mine], dtype=float)),
    )


def _set_against(seen: _Series, readings: Sequence[NewReading]) -> tuple[Array, list[NewReading], int]:
    """Which of those seen still stand, shape (kept,), which are new, and how many readings that makes new, changed or gone."""
    keys: dict[tuple[int, str], list[NewReading]] = {}
    for reading in readings:
        keys.setdefault((_days(reading.day), reading.feature), []).append(reading)
    gone: list[int] = []
    added: list[NewReading] = []
    count = 0
    for (day, feature), said in keys.items():
        left = [int(i) for i in np.flatnonzero((seen.day == day) & (seen.feature == feature))]
        fresh = []
        for reading in said:
            same = next((i for i in left if _is(seen, i, reading)), None)
            if same is None:
                fresh.append(reading)
            else:
                left.remove(same)
        gone, added, count = gone + left, added + fresh, count + max(len(fresh), len(left))
    return np.setdiff1d(np.arange(len(seen.day)), gone), sorted(added, key=lambda r: (r.day, r.feature)), count


def _is(seen: _Series, i: int, reading: NewReading) -> bool:
    close = abs(seen.log_way[i] - reading.log_way) <= SAME and abs(seen.rounding[i] - reading.rounding) <= SAME
    return bool(close and seen.below[i] == reading.below)


def _placed(calibration: Calibration, outlook: Outlook, row: int, added: Sequence[NewReading], seen: _Series) -> _Series:
    """New readings with the wear at each; those before which no wear has come say nothing, and are left out."""
    own_day = dt.date.fromisoformat(calibration.identity.as_of)
    rows, wear = np.array([row]), np.zeros((calibration.samples, len(added)))
    spent = np.asarray(calibration.draws.wear_spent[:, row], dtype=float)
    for i, reading in enumerate(added):
        same_day = np.flatnonzero(seen.day == _days(reading.day))
        if len(same_day):
            wear[:, i] = seen.wear[:, same_day[0]]
        elif reading.day > own_day:
            wear[:, i] = roll(calibration, rows, UseAhead(calibration, outlook, rows), reading.day).spent[:, 0]
        else:
            wear[:, i] = spent * _share_by(calibration, row, reading.day)
    series = _Series(
        day=np.array([_days(r.day) for r in added], dtype=float),
        feature=np.array([r.feature for r in added], dtype=object),
        log_way=np.array([r.log_way for r in added], dtype=float),
        below=np.array([r.below for r in added], dtype=bool),
        rounding=np.array([r.rounding for r in added], dtype=float),
        from_new=np.array([r.from_new for r in added], dtype=bool),
        new=np.ones(len(added), dtype=bool),
        wear=wear,
    )
    return series.take(np.flatnonzero((wear > 0).any(axis=0)))


def _share_by(calibration: Calibration, row: int, day: dt.date) -> Array:
    """Share of the wear spent that had come by the end of a day up to the calibration's, shape (sample,)."""
    trail = calibration.trail
    mine = trail.live == row
    recorded = calibration.draws.recorded_share[:, row] / 255.0
    come = np.interp(_days(day) + 1.0, trail.time[mine], trail.share[mine], left=0.0, right=1.0) if mine.any() else 0.0
    return np.asarray(1.0 - recorded * (1.0 - come))


def wear_now(calibration: Calibration, row: int) -> Array:
    """Wear spent by a live tool on the calibration's day, as its tracks count it: above zero, shape (sample,)."""
    life = np.asarray(calibration.draws.characteristic_life[:, row], dtype=float)
    return np.maximum(np.asarray(calibration.draws.wear_spent[:, row], dtype=float), LEAST_OF_LIFE * life)


def tracks_now(calibration: Calibration, row: int, since: Since = NOTHING) -> Mapping[str, Track]:
    """The readings of a live tool's life that its forecast rests on, by feature."""
    return _tracks(calibration, _calibrated(calibration, row), wear_now(calibration, row)) if since.tracks is None else since.tracks


def _weighed(calibration: Calibration, row: int, seen: _Series, now: Mapping[str, Track]) -> tuple[Remaining, Array]:
    """What is left of the life by its readings now, and weights of the draws, shape (sample,): by those over by those seen."""
    log_life = np.log(np.asarray(calibration.draws.characteristic_life[:, row], dtype=float))
    base, shape = wear_now(calibration, row), calibration.shape

    def left(tracks: Mapping[str, Track]) -> Remaining:
        return remaining(base, log_life, shape, list(tracks.values()))

    after = left(now)
    log_weight = after.log_mass() - (left(_tracks(calibration, seen, base)).log_mass() if len(seen.day) else 0.0)
    return after, np.exp(log_weight - log_weight.max())


def _tracks(calibration: Calibration, series: _Series, base: Array) -> dict[str, Track]:
    tracks = {}
    for feature in np.unique(series.feature.astype(str)):
        chosen = np.flatnonzero(series.feature == feature)
        of = series.take(chosen[np.argsort(series.day[chosen], kind="stable")])
        log_share = np.log(np.maximum(of.wear / base[:, None], LEAST_SHARE))
        tracks[str(feature)] = Track(Readings(of.log_way, of.below, of.rounding), log_share, growth_of_feature(calibration, feature))
    return tracks


def growth_of_feature(calibration: Calibration, feature: str) -> Growth:
    """Law of a feature's readings, shape (sample,) each; of one never seen drawn from the population of features."""
    life_sd, growth_sd = (np.exp(calibration.coefficient(f"reading.log_{name}")) for name in ("life_sd", "life_growth_sd"))
    draws, at = calibration.draws, position(calibration.levels.feature, feature)
    if at >= 0:
        level, growth, noise = (np.asarray(a[:, at], dtype=float) for a in (draws.feature_level, draws.feature_growth, draws.feature_noise))
        return Growth(level, growth, noise, life_sd, growth_sd)
    known = np.stack([draws.feature_level, np.log(draws.feature_growth), np.log(draws.feature_noise)], axis=2).astype(float)
    population, n = calibration.features, known.shape[1]
    common, own = population.common_sd**2, population.own_sd**2
    # The middle of all features given those seen, which lie about it by `own`; none seen leaves its prior.
    told = n * common / np.maximum(n * common + own, 1e-300)
    middle = population.loc + told * (known.mean(axis=1) - population.loc if n else 0.0)
    unsure = np.sqrt(common * (1.0 - told) + own)
    drawn = middle + unsure * generator(calibration, "feature", feature).standard_normal((calibration.samples, 3))
    return Growth(drawn[:, 0], np.exp(drawn[:, 1]), np.exp(drawn[:, 2]), life_sd, growth_sd)


def _over_at_the_end(series: _Series) -> str | None:
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
