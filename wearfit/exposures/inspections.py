"""Inspections: what was read of one feature on one day, in order, with the shots that the tool had made by then."""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from wearfit.exposures.lives import Episodes
from wearfit.exposures.readings import Marks
from wearfit.exposures.timeline import Runs
from wearfit.records.rules.counter.made import MadeBy

Array = np.ndarray

LEAST_NOISE: Final = 0.2  # of log_way: what the priors take for the noise of a gauge; no feature is taken to be measured better
MAD_TO_SD: Final = 1.4826  # of a normal distribution


@dataclass(frozen=True)
class Inspections:
    """In order of (episode, feature, day); those of one episode and feature are a series. Arrays of shape (inspection,)."""

    reading: Array  # position of the reading that stands for the day in the readings table
    tool: Array
    episode: Array
    feature: Array
    day: Array
    log_way: Array  # log of the share of the way from new to the limit, the median of the day; no less than the gauge tells
    below: Array  # bool: somewhere below that
    rounding: Array  # standard deviation that rounding brings to log_way
    shots: Array  # recorded shots from the start of the episode to the end of the day
    series: Array  # counted from 0

    @cached_property
    def first(self) -> Array:
        """Position of the first inspection of each series, shape (series,)."""
        return np.searchsorted(self.series, np.arange(self.series[-1] + 1 if len(self.series) else 0), side="left")

    @cached_property
    def last(self) -> Array:
        """Position of the last inspection of each series, shape (series,)."""
        return np.append(self.first[1:], len(self.series))[: len(self.first)] - 1

    @cached_property
    def latest(self) -> Array:
        """The greater log_way of the last two inspections of each series, shape (series,)."""
        return np.maximum(self.log_way, self.nearby(self.log_way, -1, -np.inf))[self.last]

    def nearby(self, values: Array, places: int, none: float) -> Array:
        """The value so many places on in the same series, or back where that is negative; `none` where there is none."""
        found = np.full(len(values), none)
        n = max(len(values) - abs(places), 0)
        here, there = (slice(0, n), slice(places, None)) if places >= 0 else (slice(-places, None), slice(0, n))
        found[here] = np.where(self.series[here] == self.series[there], values[there], none)
        return found

    def middle(self, values: Array, places: range, none: float) -> Array:
        """Median of the values at an odd number of places nearby, of which `none` stands for those that are not there."""
        return np.sort([self.nearby(values, place, none) for place in places], axis=0)[len(places) // 2]

    @cached_property
    def noise(self) -> Array:
        """Standard deviation of log_way from one inspection to the next, as its feature shows it on the whole, LEAST_NOISE or more."""
        step = self.log_way - self.nearby(self.log_way, -1, np.nan)
        step[self.below | (self.nearby(self.below.astype(float), -1, 1.0) > 0)] = np.nan
        noise = np.full(self.feature.max(initial=-1) + 1, LEAST_NOISE)
        for feature in range(len(noise)):
            steps = step[(self.feature == feature) & ~np.isnan(step)]
            if len(steps):
                spread = MAD_TO_SD * float(np.median(np.abs(steps - np.median(steps)))) / np.sqrt(2.0)
                noise[feature] = max(spread, LEAST_NOISE)
        return np.asarray(noise[self.feature])


class ShotsMade:
    """Recorded shots of each episode up to the start of a day, those before the records left out."""

    def __init__(self, runs: Runs, episodes: Episodes) -> None:
        self._made = MadeBy(runs.tool, runs.start, runs.end, runs.shots)
        self._tool = episodes.tool
        begun = np.isfinite(episodes.opens)
        self._before = np.where(begun, self._made(episodes.tool, np.where(begun, episodes.opens, 0.0)), 0.0)

    def __call__(self, episode: Array, day: Array) -> Array:
        """Shape (day,)."""
        return np.asarray(self._made(self._tool[episode], day) - self._before[episode])


def inspect(marks: Marks, made: ShotsMade) -> Inspections:
    """Readings, which are marks of their episodes, day by day."""
    order = np.lexsort((marks.log_way, marks.time, marks.feature, marks.episode))
    key = np.stack([marks.episode, marks.feature, marks.time])[:, order]
    fresh = np.ones(len(order), dtype=bool)
    fresh[1:] = (np.diff(key) != 0).any(axis=0)
    begin = np.flatnonzero(fresh)
    count = np.diff(np.append(begin, len(order)))
    low, high = order[begin + (count - 1) // 2], order[begin + count // 2]
    episode, feature, time = marks.episode[low], marks.feature[low], marks.time[low]
    begins = np.ones(len(low), dtype=bool)
    begins[1:] = (np.diff(episode) != 0) | (np.diff(feature) != 0)
    return Inspections(
        reading=marks.reading[low],
        tool=marks.tool[low],
        episode=episode,
        feature=feature,
        day=time - 1.0,
        log_way=0.5 * (marks.log_way[low] + marks.log_way[high]),
        below=marks.below[low],
        rounding=marks.rounding[low],
        shots=made(episode, time),
        series=np.cumsum(begins) - 1,
    )
