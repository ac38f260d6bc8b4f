"""Lives and what is known of each, as the peers are given them: one row a life, its use averaged, the groups it belongs to.

The covariates are the wear clock's own, by `evidence.life_table`; beside them stand class, steel, coating, maker, design, and the shares
of the shots at each plant and in each resin, for a ridge of their own to shrink.
"""

from dataclasses import dataclass

import numpy as np

from wearfit.evidence.life_table import KINDS, LifeTable, life_table, unstated_wear
from wearfit.exposures.classes import CLASSES, STEELS
from wearfit.exposures.covariates import PLANT_COVARIATES, columns
from wearfit.exposures.live import LiveTools
from wearfit.exposures.places import plant_levels
from wearfit.exposures.table import Exposures
from wearfit.model.priors import Priors
from wearfit.records.coatings import COATINGS

Array = np.ndarray


@dataclass(frozen=True)
class PeerLives:
    """Lives in units of the characteristic life by the band of their tool. Arrays of shape (life,) unless said otherwise.

    Parameters
    ----------
    entry, good, end : array
        When it came under observation, was last known to be good, and ended; `good` is below `end` where it was found worn later.
    event : array
        Chance that it ended by wear: 1, 0, or between where nobody stated the cause.
    tool : array
        Index of the tool, for folds.
    covariates : array, shape (life, covariate)
        Averages over its shots.
    groups : array, shape (life, level)
        What it belongs to, 0 or 1, or shares of its shots.
    broad : bool array, shape (level,)
        Levels of groups with few members to tell apart: not a design's or a maker's.
    """

    entry: Array
    good: Array
    end: Array
    event: Array
    tool: Array
    covariates: Array
    groups: Array
    broad: Array

    @property
    def middle(self) -> Array:
        """When it ended, for who takes no interval: the middle."""
        return 0.5 * (self.good + self.end)

    @property
    def wear_outs(self) -> float:
        return float(np.sum(self.event == 1.0))

    def part(self, lives: Array) -> "PeerLives":
        """Some of the lives, by a mask or by places."""
        columns_ = (self.entry, self.good, self.end, self.event, self.tool, self.covariates, self.groups)
        return PeerLives(*(column[lives] for column in columns_), self.broad)


@dataclass(frozen=True)
class LiveLife:
    """The life under way of one live tool, as a peer may know it."""

    row: int  # of the live table
    age: float  # in lives of its band
    band: float  # its characteristic life by the band [shots]
    covariates: Array
    groups: Array


@dataclass(frozen=True)
class PeerTable:
    """What the peers learn from, and what they are asked about."""

    lives: PeerLives
    live: dict[str, LiveLife]  # by tool, those whose count of shots is on record
    plants: dict[str, Array]  # covariates of each plant, seen or not, in order of PLANT_COVARIATES
    plant_levels: slice  # of the groups

    def moved(self, life: LiveLife, plant_id: str) -> LiveLife:
        """The same life with all of its use at another plant, of which nothing but the air is known."""
        covariates, groups = life.covariates.copy(), life.groups.copy()
        for c, value in zip(PLANT_COVARIATES, self.plants[plant_id], strict=True):
            covariates[KINDS.index(c.name)] = value
        groups[self.plant_levels] = 0.0
        return LiveLife(life.row, life.age, life.band, covariates, groups)


def peer_table(exposures: Exposures, live: LiveTools, priors: Priors) -> PeerTable:
    """All that the peers are told of a history."""
    table = life_table(exposures, priors)
    unit = np.exp(table.log_band)
    groups, broad, at_plants = _groups(exposures, table)
    event = np.where(table.unstated, unstated_wear(exposures, priors), table.worn.astype(float))
    scaled = [np.asarray(a / unit) for a in (table.entry, table.good, table.end)]
    lives = PeerLives(*scaled, event, table.tool, table.covariates, groups, broad)
    levels = columns(plant_levels(exposures.climate))
    return PeerTable(
        lives,
        _live_lives(exposures, live, table, groups),
        {plant: levels[i] for i, plant in enumerate(exposures.plant_ids)},
        at_plants,
    )


def _groups(exposures: Exposures, table: LifeTable) -> tuple[Array, Array, slice]:
    tools, candidates = exposures.tools, exposures.candidates
    first = np.searchsorted(candidates.tool, table.tool, side="left")
    by_plant, by_resin = _shares(exposures, table)
    blocks = {
        "plant": by_plant,
        "resin": by_resin,
        "class": _one_of(candidates.service_class[first], len(CLASSES)),
        "steel": _one_of(candidates.steel[first], len(STEELS)) - _one_of(candidates.usual_steel[first], len(STEELS)),
        "coating": _one_of(candidates.coating[first], len(COATINGS)),
        "maker": _one_of(tools.maker[table.tool], len(tools.maker_ids)),
        "design": _one_of(tools.design[table.tool], len(tools.design_ids)),
    }
    broad = np.concatenate([np.full(block.shape[1], name not in ("maker", "design")) for name, block in blocks.items()])
    return np.concatenate(list(blocks.values()), axis=1), broad, slice(0, by_plant.shape[1])


def _one_of(level: Array, levels: int) -> Array:
    """One column a level, 1 where it is the row's; none where it is -1."""
    return (level[:, None] == np.arange(levels)).astype(float)


def _shares(exposures: Exposures, table: LifeTable) -> tuple[Array, Array]:
    """Shares of the shots of each life at each plant and in each resin, shapes (life, plant) and (life, resin)."""
    history, cells = exposures.history, exposures.cells
    first = np.searchsorted(exposures.candidates.tool, np.arange(len(exposures.tools.tool_id)), side="left")
    rows = np.flatnonzero(history.candidate == first[exposures.candidates.tool[history.candidate]])
    row_of = np.full(int(history.source.max(initial=-1)) + 1, -1)
    row_of[history.source[rows]] = rows
    shots = np.where(cells.years == 0, cells.shots, 0.0)
    n = len(history.source)

    def shares(level: Array, levels: int) -> Array:
        sums = np.zeros((n, levels + 1))
        np.add.at(sums, (cells.episode, level), shots)  # a level of -1 is the last column
        return np.asarray(sums / np.maximum(sums.sum(axis=1, keepdims=True), 1e-12))[row_of[table.episode], :levels]

    resin = exposures.jobs.resin[cells.job]
    return shares(exposures.places.plant[cells.place], len(exposures.plant_ids)), shares(resin, len(exposures.resins.resin_id))


def _live_lives(exposures: Exposures, live: LiveTools, table: LifeTable, groups: Array) -> dict[str, LiveLife]:
    """The lives under way; of a tool that has made no shot since its renewal the use is that of its last life."""
    last = np.full(len(exposures.tools.tool_id), -1)
    last[table.tool] = np.arange(len(table.tool))  # in order of time, so that the last of a tool stays
    found = {}
    for row, tool in enumerate(live.tool):
        at = int(last[tool])
        if at < 0 or np.isnan(live.shots_this_life[row]):
            continue
        covariates = table.covariates[at].copy()
        covariates[KINDS.index("refurbished")] = exposures.episodes.repeat[live.episode[row]]
        band = float(np.exp(table.log_band[at]))
        found[exposures.tools.tool_id[tool]] = LiveLife(row, float(live.shots_this_life[row]) / band, band, covariates, groups[at])
    return found
