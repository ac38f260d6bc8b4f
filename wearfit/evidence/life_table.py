"""Lives as a general-purpose library for survival analysis wants them: one row each, from entry to end, with covariates."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.exposures.covariates import COVARIATES, columns
from wearfit.exposures.lives import EXACT, INTERVAL
from wearfit.exposures.places import plant_levels
from wearfit.exposures.table import Exposures
from wearfit.model.bands import band_offsets, log_band
from wearfit.model.layout import SHARES
from wearfit.model.priors import Priors

Array = np.ndarray

KINDS: Final = (*(c.name for c in COVARIATES), "refurbished")


@dataclass(frozen=True)
class LifeTable:
    """Lives, or parts of one about a partial renewal. Arrays of shape (life,) unless said otherwise; shots since the last renewal.

    A refurbished surface counts from zero again and has a covariate of its own: the library knows of no virtual age.
    """

    tool: Array  # index into Tools
    episode: Array  # index into Episodes
    log_band: Array  # log of the tool's class or band figure [log shots]
    entry: Array  # shots at which it came under observation
    good: Array  # shots at which it was last known to be good
    end: Array  # shots at its end
    interval: Array  # bool: it wore out between `good` and `end`
    worn: Array  # bool: it wore out
    unstated: Array  # bool: renewed for a cause not stated, so perhaps a wear-out
    covariates: Array  # (life, KINDS) averages over its shots


def unstated_wear(exposures: Exposures, priors: Priors) -> float:
    """Chance that a renewal without a stated cause was a wear-out: what is believed of it, and the causes that are stated."""
    place = SHARES.index("wear_share")
    wear, other = priors.share_a[place] + exposures.stated_wear, priors.share_b[place] + exposures.stated_other
    return float(wear / (wear + other))


def life_table(exposures: Exposures, priors: Priors) -> LifeTable:
    """The lives of a history whose count of shots is on record.

    Notes
    -----
    Of a tool that may be several things the first candidate stands for all. Lives that began an unknown number of shots before the
    records, and time in store, are left out: the library has no place for them.
    """
    history, cells, candidates = exposures.history, exposures.cells, exposures.candidates
    tool_of_row = candidates.tool[history.candidate]
    first = np.searchsorted(candidates.tool, np.arange(len(exposures.tools.tool_id)), side="left")
    chosen = np.flatnonzero((history.candidate == first[tool_of_row]) & exposures.known_entry[history.source])
    run_up = np.concatenate([[0.0], np.cumsum(cells.shots)])

    def shots_to(boundary: Array) -> Array:
        return np.asarray(run_up[boundary] - run_up[history.cell_start])[chosen]

    source = history.source[chosen]
    before = _before(exposures, source, shots_to(history.cell_stop))
    end, good = before + shots_to(history.cell_stop), before + shots_to(history.cell_good)
    interval = (history.ending[chosen] == INTERVAL) & (good < end)
    worn = np.isin(history.ending[chosen], (EXACT, INTERVAL))
    known_life = np.flatnonzero(end > 0)
    bands = log_band(exposures, priors, band_offsets(priors))
    table = LifeTable(
        tool=tool_of_row[chosen],
        episode=source,
        log_band=bands[history.candidate[chosen]],
        entry=before + shots_to(history.cell_entry),
        good=np.where(interval, good, end),
        end=end,
        interval=interval,
        worn=worn,
        unstated=history.unstated[chosen],
        covariates=np.column_stack([_averages(exposures, chosen), history.repeat[chosen]]),
    )
    return LifeTable(**{name: getattr(table, name)[known_life] for name in table.__dataclass_fields__})


def _before(exposures: Exposures, source: Array, shots: Array) -> Array:
    """Shots of the same life before each episode: a partial renewal ends no life."""
    life = exposures.episodes.life[source]
    run_up = np.concatenate([[0.0], np.cumsum(shots)])
    first = np.searchsorted(life, life, side="left")
    return np.asarray(run_up[:-1] - run_up[first])


def _averages(exposures: Exposures, rows: Array) -> Array:
    """Covariates of each row, averaged over its shots, shape (row, covariate); of the plain case where it has none."""
    cells, places, jobs = exposures.cells, exposures.places, exposures.jobs
    levels = columns(plant_levels(exposures.climate))
    at_plant = np.concatenate([levels, np.zeros((1, levels.shape[1]))])[places.plant[cells.place]]  # -1, no plant: nothing known
    values = np.concatenate([at_plant, columns(places.months)[cells.place], columns(jobs)[cells.job]], axis=1)
    weight = np.where(cells.years == 0, cells.shots, 0.0)
    n = len(exposures.history.source)
    total = np.bincount(cells.episode, weights=weight, minlength=n)
    sums = np.stack([np.bincount(cells.episode, weights=weight * column, minlength=n) for column in values.T], axis=1)
    return np.asarray((sums / np.maximum(total, 1e-12)[:, None])[rows])
