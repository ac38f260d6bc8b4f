"""The wear clock: what each row of a history has spent at the points that the likelihood needs, for NumPy and PyTensor alike.

With NumPy, parameters may carry a leading axis of draws; with PyTensor they have none. `d` is anything that holds the
arrays of `ModelData` under their names. Shapes below leave the axis of draws out.
"""

from dataclasses import dataclass, field
from types import ModuleType
from typing import Any

import numpy as np

from wearfit.exposures.covariates import MONTH_COVARIATES, PLANT_COVARIATES
from wearfit.model.cell_sums import SumCells
from wearfit.model.data import CandidateColumns, CellColumns, JobColumns, PlaceColumns, PlantColumns, ReadingColumns, RowColumns
from wearfit.model.layout import COEFFICIENTS
from wearfit.model.parameters import Parameters

Array = Any

PLANT_SLOPES = np.array([COEFFICIENTS.index(f"slope.{c.name}") for c in PLANT_COVARIATES])
MONTH_SLOPES = np.array([COEFFICIENTS.index(f"slope.{c.name}") for c in MONTH_COVARIATES])


@dataclass(frozen=True)
class Clock:
    """Wear spent at the points of each row that the likelihood needs, in reference shots. Arrays of shape (row,)."""

    entry: Array
    good: Array  # last day known to be good: the end, but where a wear-out was found later, or where nobody has looked since it stood
    end: Array
    log_last: Array  # log wear per shot of the last shot
    at_reading: Array = field(default_factory=lambda: np.zeros(0))  # (reading,) wear spent at each reading


def whole(columns: Array) -> Array:
    """The whole numbers that columns of a table hold as floats, to index by."""
    return columns.astype("int64")


def log_place(p: Parameters, d: Any) -> Array:
    """Log wear per shot that a plant brings in one month, shape (place,)."""
    c = PlantColumns
    value = d.plant[:, c.level] + d.plant[:, c.spread] * p.all[..., whole(d.plant[:, c.error])]
    level = p.all[..., whole(d.plant[:, c.effect])] + (value * p.all[..., PLANT_SLOPES][..., None, :]).sum(axis=-1)
    months = (p.all[..., MONTH_SLOPES][..., None, :] * d.place[:, PlaceColumns.departure]).sum(axis=-1)
    return level[..., whole(d.place[:, PlaceColumns.plant])] + months


def log_job(p: Parameters, d: Any) -> Array:
    """Log wear per shot that a job brings, shape (job,)."""
    c = JobColumns
    return d.job[:, c.constant] + (p.all[..., whole(d.job[:, c.index])] * d.job[:, c.weight]).sum(axis=-1)


def log_life(p: Parameters, d: Any) -> Array:
    """Log characteristic life of each candidate without its tool's effect, shape (candidate,)."""
    c = CandidateColumns
    return d.candidate[:, c.band] + (p.all[..., whole(d.candidate[:, c.index])] * d.candidate[:, c.weight]).sum(axis=-1)


def run_clock(p: Parameters, d: Any, xp: ModuleType = np) -> Clock:
    """Wear spent by each row, refurbishments and partial renewals counted (Kijima 1989, type II).

    A row's virtual age is what earlier rows of its chain wore, less what each renewal since took away:
    V = K sum(wear_i / K_i), K the product of the shares kept. That is a cumulative sum, not a loop over lives.
    """
    place, job = log_place(p, d), log_job(p, d)
    setup = xp.exp(p.coefficient("log_setup"))
    # exp is taken once for each plant-month and each job, never for each run.
    worn, read = _sum_cells(xp.exp(place), xp.exp(job), setup, d, xp)
    row = d.row
    kept = row[:, RowColumns.kept] * _kept_by_refurbishments(p, whole(row[:, RowColumns.repeats]), xp)
    before = _run_up(worn[2] / kept, xp)
    age = kept * (before[..., :-1] - before[..., whole(row[:, RowColumns.chain])])
    return Clock(
        entry=age + worn[0],
        good=age + worn[1],
        end=age + worn[2],
        at_reading=age[..., whole(d.reading[:, ReadingColumns.row])] + read,
        log_last=place[..., whole(row[:, RowColumns.last_place])] + job[..., whole(row[:, RowColumns.last_job])],
    )


def _sum_cells(place: Array, job: Array, setup: Array, d: Any, xp: ModuleType) -> tuple[Array, Array]:
    """Wear of each row from its start to its entry, its last good day and its end, (3, row), and to each reading, (reading,)."""
    if xp is not np:
        worn, read = SumCells().make_node(place, job, setup, d.cell, d.row, d.reading).outputs
        return worn, read
    amount = d.cell[:, CellColumns.shots] + setup * d.cell[:, CellColumns.setups]
    wear = place[..., whole(d.cell[:, CellColumns.place])] * job[..., whole(d.cell[:, CellColumns.job])] * amount
    all_cells = _run_up(wear, xp)
    run_up = all_cells[..., whole(d.row[:, RowColumns.boundaries])]
    start = d.row[whole(d.reading[:, ReadingColumns.row]), RowColumns.boundaries.start]
    read = all_cells[..., whole(d.reading[:, ReadingColumns.stop])] - all_cells[..., whole(start)]
    return np.moveaxis(run_up[..., 1:] - run_up[..., :1], -1, 0), read


def _run_up(values: Array, xp: ModuleType) -> Array:
    """Cumulative sum with a leading zero along the last axis."""
    return xp.concatenate([xp.zeros_like(values[..., :1]), xp.cumsum(values, axis=-1)], axis=-1)


def _kept_by_refurbishments(p: Parameters, repeats: Array, xp: ModuleType) -> Array:
    """Product of (1 - rho phi^(j-1)) over the first `repeats` refurbishments, shape (row,)."""
    longest = 12  # later refurbishments regain next to nothing: rho phi^11 < .01 at the prior means
    log_kept = xp.log1p(-p.share_of("refurbish") * p.share_of("repeat") ** np.arange(longest))
    return xp.exp(_run_up(log_kept, xp))[..., xp.minimum(repeats, longest)]
