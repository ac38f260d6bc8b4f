"""The wear clock: what each row of a history has spent at the points that the likelihood needs, for NumPy and PyTensor alike.

With NumPy, parameters may carry a leading axis of draws; with PyTensor they have none. `d` is anything that holds the
arrays of `ModelData` under their names. Shapes below leave the axis of draws out.
"""

from dataclasses import dataclass, field
from types import ModuleType
from typing import Any

import numpy as np

from wearfit.model.cell_sums import SumCells
from wearfit.model.data import CandidateColumns, CellColumns, JobColumns, PlaceColumns, PlantColumns, ReadingColumns, RowColumns, whole
from wearfit.model.kept_loops import by_draws, kept
from wearfit.model.layout import MONTH_SLOPES, PLANT_SLOPES
from wearfit.model.parameters import Parameters

Array = Any

PLACE, JOB, SHOTS, SETUPS = CellColumns.place, CellColumns.job, CellColumns.shots, CellColumns.setups
START, ROW_READ, STOP = RowColumns.boundaries.start, ReadingColumns.row, ReadingColumns.stop


@dataclass(frozen=True)
class Clock:
    """Wear spent at the points of each row that the likelihood needs, in reference shots. Arrays of shape (row,)."""

    entry: Array
    good: Array  # last day known to be good: the end, but where a wear-out was found later, or where nobody has looked since it stood
    end: Array
    log_last: Array  # log wear per shot of the last shot
    at_reading: Array = field(default_factory=lambda: np.zeros(0))  # (reading,) wear spent at each reading


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
    by_draw = [np.ascontiguousarray(values.reshape(-1, values.shape[-1]), dtype=float) for values in (place, job, setup)]
    draws = len(by_draw[0])
    of_rows, of_readings = np.empty((3, draws, len(d.row))), np.empty((draws, len(d.reading)))

    def fill(part: slice) -> None:
        of_rows[:, part], of_readings[part] = _cells_by_draw(*(values[part] for values in by_draw), d.cell, d.row, d.reading)

    by_draws(draws, fill)
    axes = place.shape[:-1]
    return of_rows.reshape(3, *axes, len(d.row)), of_readings.reshape(*axes, len(d.reading))


@kept
def _cells_by_draw(place: Array, job: Array, setup: Array, cell: Array, row: Array, reading: Array) -> tuple[Array, Array]:
    """`_sum_cells` of many draws, shapes (3, draw, row) and (draw, reading), by one sum that runs on over all cells of a draw."""
    draws, come = len(place), np.zeros(len(cell) + 1)
    worn, read = np.empty((3, draws, len(row))), np.empty((draws, len(reading)))
    for draw in range(draws):
        total = 0.0
        for c in range(len(cell)):
            amount = cell[c, SHOTS] + setup[draw, 0] * cell[c, SETUPS]
            total += place[draw, int(cell[c, PLACE])] * job[draw, int(cell[c, JOB])] * amount
            come[c + 1] = total
        for r in range(len(row)):
            for part in range(3):
                worn[part, draw, r] = come[int(row[r, START + part + 1])] - come[int(row[r, START])]
        for i in range(len(reading)):
            read[draw, i] = come[int(reading[i, STOP])] - come[int(row[int(reading[i, ROW_READ]), START])]
    return worn, read


def _run_up(values: Array, xp: ModuleType) -> Array:
    """Cumulative sum with a leading zero along the last axis."""
    return xp.concatenate([xp.zeros_like(values[..., :1]), xp.cumsum(values, axis=-1)], axis=-1)


def _kept_by_refurbishments(p: Parameters, repeats: Array, xp: ModuleType) -> Array:
    """Product of (1 - rho phi^(j-1)) over the first `repeats` refurbishments, shape (row,)."""
    longest = 12  # later refurbishments regain next to nothing: rho phi^11 < .01 at the prior means
    log_kept = xp.log1p(-p.share_of("refurbish") * p.share_of("repeat") ** np.arange(longest))
    return xp.exp(_run_up(log_kept, xp))[..., xp.minimum(repeats, longest)]
