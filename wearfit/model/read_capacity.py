"""Lives with readings once more, draw by draw: their capacity integrated out, and what is left of those under way.

The sampler's coordinates of capacity have done their part when the rest has been drawn: given all else, a capacity has the
density of `remaining`, which answers and the pointwise likelihood rest on.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from wearfit import law
from wearfit.exposures.lives import EXACT, INTERVAL
from wearfit.exposures.table import Exposures
from wearfit.model.clock import Clock
from wearfit.model.data import EndedColumns, ModelData, PathColumns, ReadingColumns, RowColumns
from wearfit.model.growth_batch import tracks_log_likelihood
from wearfit.model.layout import Layout
from wearfit.model.likelihood import Terms
from wearfit.model.parameters import Parameters
from wearfit.model.readings import Told, by_feature, growth_law, growth_of, of_path, readings_in
from wearfit.remaining import Likelihood, Remaining, Track, reach, remaining

Array = np.ndarray

FINER_NODES: Final = 25  # of lives that are behind: they are not kept
LEAST_BASE: Final = 1e-4  # of the wear at the end, where a life was last known good when it was new: it all but never ends before that


@dataclass(frozen=True)
class PathDraws:
    """What the integrals over capacities need, for every draw: zeros to be filled chunk by chunk. Arrays of shape (sample, ...)."""

    base: Array  # (sample, path) wear spent when the life was last known good [reference shots]
    entry: Array  # (sample, path)
    end: Array  # (sample, path)
    log_life: Array  # (sample, path) with the effect of its tool
    exact_here: Array  # (sample, path) log hazard of a wear-out at the row's end, its readings held against that
    log_share: Array  # (sample, reading) log of the wear at each reading over the base
    level: Array  # (sample, feature)
    growth: Array
    noise: Array
    life: Array  # (sample, 2)
    k: Array  # (sample,)
    wear_share: Array  # (sample,)
    wear_law: int  # place in `law.LAWS`

    @classmethod
    def empty(cls, samples: int, d: ModelData, features: int, wear_law: int = law.WEIBULL) -> "PathDraws":
        """For so many draws."""
        paths, readings = len(d.path), len(d.reading)
        base, entry, end, log_life, exact_here = (np.zeros((samples, paths)) for _ in range(5))
        level, growth, noise = (np.zeros((samples, features)) for _ in range(3))
        log_share, life, k, wear_share = np.zeros((samples, readings)), np.zeros((samples, 2)), np.zeros(samples), np.zeros(samples)
        return cls(base, entry, end, log_life, exact_here, log_share, level, growth, noise, life, k, wear_share, wear_law)

    @property
    def shape(self) -> law.Shape:
        """Shape (sample,) of the law."""
        return law.Shape(self.k, self.wear_law)

    def fill(self, chunk: slice, p: Parameters, clock: Clock, told: Told, lives: Array, terms: Terms, d: ModelData, layout: Layout) -> None:
        """Put in some draws; `lives` (draw, candidate) hold the effects of tools, and `terms` rest on them."""
        row = d.path[:, PathColumns.row].astype(np.int64)
        path = d.reading[:, ReadingColumns.path].astype(np.int64)
        end = clock.end[:, row]
        base = np.where(d.path[:, PathColumns.from_good] > 0, np.maximum(clock.good[:, row], LEAST_BASE * end), end)
        self.base[chunk], self.entry[chunk], self.end[chunk] = base, clock.entry[:, row], end
        self.log_life[chunk] = lives[:, d.row[row, RowColumns.candidate].astype(np.int64)]
        self.log_share[chunk] = np.log(np.maximum(clock.at_reading, 1e-6) / np.maximum(base[:, path], 1e-6))
        self.level[chunk], self.growth[chunk], self.noise[chunk], self.life[chunk] = growth_law(p, d, layout)
        self.k[chunk] = np.exp(p.coefficient("log_shape"))[:, 0]
        self.wear_share[chunk] = p.share_of("wear_share")[:, 0]
        against = d.ended[:, EndedColumns.loss].astype(np.int64)
        perhaps = np.flatnonzero(against)
        self.exact_here[chunk, against[perhaps]] = terms.exact[:, perhaps] + told.log_likelihood[:, against[perhaps]]

    def tracks(self, d: ModelData, path: int, log_share: Array) -> list[Track]:
        """Readings of a path, a track for each feature; `log_share` (sample, reading of the path)."""
        spans = by_feature(d, path)
        begin, law_draws = spans[0][1].start, (self.level, self.growth, self.noise, self.life)
        return [
            Track(readings_in(d, span), log_share[:, span.start - begin : span.stop - begin], growth_of(law_draws, feature))
            for feature, span in spans
        ]

    def likelihood_of_readings(self, d: ModelData, path: int, log_left: Array) -> Array:
        """Log-likelihood of a path's readings where log(C / base) is `log_left`, shape (sample, node)."""
        log_share = self.log_share[:, of_path(d, path)]
        return tracks_log_likelihood(log_left, len(log_share), self.tracks(d, path, log_share))

    def left(self, d: ModelData, path: int) -> Remaining:
        """What is left of a path's life beyond its base, by its readings."""
        return remaining(*self._of_life(d, path), nodes=FINER_NODES)

    def reach(self, d: ModelData, path: int) -> tuple[float, float]:
        """Where its mass lies, as `remaining.reach`."""
        return reach(*self._of_life(d, path))

    def _of_life(self, d: ModelData, path: int) -> tuple[Array, Array, law.Shape, list[Track], Likelihood, Array | None]:
        """A path's life as `remaining` takes it."""
        tracks = self.tracks(d, path, self.log_share[:, of_path(d, path)])
        until = self.end[:, path] if d.path[path, PathColumns.open] == 0 else None
        return self.base[:, path], self.log_life[:, path], self.shape, tracks, tracks_log_likelihood, until

    def log_likelihood(self, left: Remaining, exposures: Exposures, d: ModelData, path: int) -> Array:
        """Of a row with readings whose capacity is a coordinate, that integrated out, shape (sample,)."""
        h, row = exposures.history, int(d.path[path, PathColumns.row])
        eta, share = self.log_life[:, path], self.wear_share
        came = law.cumulative_hazard(self.entry[:, path], eta, self.shape) - left.hazard
        mass = left.log_mass()
        if h.ending[row] == EXACT:  # of a cause not stated: worn out here, or something else and a capacity beyond
            return np.asarray(came + np.logaddexp(np.log(share) + self.exact_here[:, path], np.log1p(-share) + mass))
        if h.ending[row] != INTERVAL:
            return np.asarray(came + mass)
        within = left.share_within(law.cumulative_hazard(self.end[:, path], eta, self.shape) - left.hazard)
        if h.unstated[row]:
            within = share * within + (1.0 - share) * (1.0 - within)
        return np.asarray(came + mass + np.log(np.maximum(within, 1e-300)))


@dataclass(frozen=True)
class LiveRead:
    """A live tool with readings in the life under way."""

    live: int  # its place among the live tools
    left: Remaining
    readings: Array  # (reading, ReadingColumns)
    log_share: Array  # (sample, reading) log of the wear at each over the wear now

    @cached_property
    def median_rise(self) -> Array:
        """Rise of the hazard within which the life ends as likely as not, shape (sample,); what is summed for it, far more, is let go."""
        return replace(self.left).rise_at(np.full(len(self.left.hazard), 0.5))

    def log_moved(self) -> float:
        """Log of the median remaining wear with readings over that without them."""
        left = self.left
        with_readings, without = (
            np.expm1(law.log_longer_at(left.hazard, left.level, rise, left.shape)) for rise in (self.median_rise, np.log(2.0))
        )
        return float(np.log(np.median(with_readings)) - np.log(np.median(without)))


def live_read(live: int, drawn: PathDraws, d: ModelData, chosen: Array) -> LiveRead:
    """A live tool by its path in each draw, `chosen` (sample,): candidates of one tool have readings alike."""
    draw, first = np.arange(len(chosen)), int(chosen.min())
    start, own = np.searchsorted(d.reading[:, ReadingColumns.path], chosen), of_path(d, first)
    n = own.stop - own.start
    # Answers start from the wear now; what a tool wore in store since it was last seen is behind it.
    stood = np.log(np.maximum(drawn.end[draw, chosen], 1e-6) / np.maximum(drawn.base[draw, chosen], 1e-6))
    log_share = drawn.log_share[draw[:, None], start[:, None] + np.arange(n)] - stood[:, None]
    tracks = drawn.tracks(d, first, log_share)
    left = remaining(drawn.end[draw, chosen], drawn.log_life[draw, chosen], drawn.shape, tracks, tracks_log_likelihood)
    return LiveRead(live, left, d.reading[own], log_share)
