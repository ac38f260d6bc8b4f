"""Time in store, and long idle times, on the wear clock.

A year in which a tool stood costs a share of a reference life: wear = exp(log_storage + preserved effect + exponent x log
corrosivity ratio) x years x exp(log band), in reference shots. The band, not the tool's own life, scales it, so that the
tool's effect stays one factor of all its hazards. In the compiled model such time is a cell whose place is no plant and
whose job points at these coefficients: nothing there need know of it.
"""

from dataclasses import replace
from typing import Final

import numpy as np

from wearfit import law
from wearfit.exposures.table import Exposures
from wearfit.model.clock import run_clock
from wearfit.model.data import JobColumns, ModelData, RowColumns
from wearfit.model.flat_draws import TOOLS
from wearfit.model.layout import COEFFICIENTS
from wearfit.model.parameters import Parameters
from wearfit.processors import at_once, parts

Array = np.ndarray

STORAGE: Final = tuple(COEFFICIENTS.index(name) for name in ("log_storage", "storage.preserved", "storage.corrosivity"))


def with_storage(jobs: Array, exposures: Exposures) -> Array:
    """The table of jobs of `ModelData`, those of standing pointing at the coefficients of storage."""
    storage, table = exposures.storage_jobs, jobs.copy()
    n = len(STORAGE)
    table[storage.job] = 0.0
    table[storage.job, JobColumns.index.start : JobColumns.index.start + n] = STORAGE
    weights = np.stack([np.ones(len(storage.job)), storage.preserved, storage.log_corrosivity], axis=1)
    table[storage.job, JobColumns.weight.start : JobColumns.weight.start + n] = weights
    return table


def storage_amount(exposures: Exposures, log_bands: Array) -> Array:
    """Reference lives stood by each cell, in shots of its candidate's band, shape (cell,); zero for shots."""
    cells = exposures.cells
    return np.asarray(cells.years * np.exp(log_bands)[exposures.history.candidate[cells.episode]])


def only_storage(d: ModelData, exposures: Exposures) -> ModelData:
    """The same history without a shot: what is left of the clock is the wear of standing, for the clock is a sum over cells."""
    kept = exposures.cells.years > 0
    row = d.row.copy()
    before = np.concatenate([[0], np.cumsum(kept)])
    row[:, RowColumns.boundaries] = before[row[:, RowColumns.boundaries].astype(int)]
    return replace(d, cell=d.cell[kept], row=row, reading=d.reading[:0])


def storage_spent(p: Parameters, d: ModelData) -> Array:
    """Part of the wear spent at each row's end that came in store or idle, shape (row,); `d` from `only_storage`.

    Renewals take it away as they do all wear.
    """
    if not len(d.cell):
        return np.zeros((*p.all.shape[:-1], len(d.row)))
    return np.asarray(run_clock(p, d).end)


def storage_share(spent: Array, stood: Array, quantiles: tuple[float, ...]) -> Array:
    """Quantiles of the share of the wear spent that came in store or idle, shape (live, quantile); NaN where the age is unknown.

    Parameters
    ----------
    spent, stood : arrays, shape (sample, live)
        Wear spent, and the part of it that came in store or idle.
    """

    def of_tools(tools: slice) -> Array:
        share = np.clip(stood[:, tools] / np.where(spent[:, tools] > 0, spent[:, tools], 1.0), 0.0, 1.0)
        return np.asarray(np.quantile(np.where(np.isnan(spent[:, tools]), np.nan, share), quantiles, axis=0).T)

    return np.concatenate(at_once(of_tools, parts(spent.shape[1], TOOLS)))


def moved_by_storage(spent: Array, stood: Array, log_life: Array, shape: law.Shape) -> Array:
    """How far storage moved the forecasts: log of the median remaining wear with it over that without it, shape (live,).

    Parameters
    ----------
    spent, stood, log_life : arrays, shape (sample, live)
        Wear spent, and the part of it that came in store or idle; NaN where the age is unknown.
    shape : law.Shape, shape (sample,)

    Notes
    -----
    In each draw the median is of the wear left until a tool now good is worn: H(D + left) = H(D) + log 2.
    """

    def median_left(at: Array, life: Array) -> Array:
        reached = law.cumulative_hazard(at, life, shape[:, None])
        return np.asarray(np.median(law.wear_at(reached + np.log(2.0), life, shape[:, None]) - at, axis=0))

    def moved(tools: slice) -> Array:
        now, life = spent[:, tools], log_life[:, tools]
        return np.asarray(np.log(median_left(now, life)) - np.log(median_left(now - stood[:, tools], life)))

    return np.concatenate(at_once(moved, parts(spent.shape[1], TOOLS)))
