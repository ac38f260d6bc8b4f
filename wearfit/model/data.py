"""The arrays that the compiled model is given.

Every number that a history or a priors file can change is data, so that one compilation serves them all.
"""

from dataclasses import dataclass, fields

import numpy as np

from wearfit.exposures.classes import CLASSES
from wearfit.exposures.covariates import JOB_COVARIATES, MONTH_COVARIATES, PLANT_COVARIATES
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES, Layout

Array = np.ndarray


class PlantColumns:
    """Columns of `ModelData.plant`: where the plant's effect and its errors lie, its levels, and how unsure they are."""

    _n = len(PLANT_COVARIATES)
    effect = 0
    error = slice(1, 1 + _n)
    level = slice(1 + _n, 1 + 2 * _n)
    spread = slice(1 + 2 * _n, 1 + 3 * _n)


class PlaceColumns:
    """Columns of `ModelData.place`: the plant, and how far the month's conditions lay from its levels."""

    plant = 0
    departure = slice(1, 1 + len(MONTH_COVARIATES))


class JobColumns:
    """Columns of `ModelData.job`: a constant, then parameters and their weights."""

    _n = len(JOB_COVARIATES) + 2  # slopes, the resin's effect, what is not known of it
    constant = 0
    index = slice(1, 1 + _n)
    weight = slice(1 + _n, 1 + 2 * _n)


class CandidateColumns:
    """Columns of `ModelData.candidate`: the log band, then parameters and their weights, then the tool and how likely it is this."""

    _n = 6  # class, steel, usual steel (negative), coating, design, maker
    band = 0
    index = slice(1, 1 + _n)
    weight = slice(1 + _n, 1 + 2 * _n)
    tool, log_weight = range(1 + 2 * _n, 3 + 2 * _n)


class CellColumns:
    """Columns of `ModelData.cell`."""

    place, job, shots, setups = range(4)


class RowColumns:
    """Columns of `ModelData.row`."""

    candidate, chain = 0, 1
    boundaries = slice(2, 6)  # cells at the start, where the entry, the last good day and the row end
    last_place, last_job, repeats, kept = range(6, 10)


class EndedColumns:
    """Columns of `ModelData.ended`: the rows that ended, or perhaps ended, by wear."""

    row, interval, perhaps = range(3)  # interval: the day is not known; perhaps: nor is the cause


@dataclass(frozen=True)
class ModelData:
    """Arrays by the names that the graph knows them by.

    Tables hold whole numbers beside amounts, all as float64: columns of one array need no check that their lengths
    agree, and every such check is code to be compiled.
    """

    # priors
    coefficient_loc: Array  # (coefficient,)
    coefficient_root: Array  # (coefficient, coefficient)
    share_prior: Array  # (3, share): a, b, on
    group_prior: Array  # (3, group): scale, on, exponent of partial centring
    slot_live: Array  # (slot,) 0 in null directions, where nothing is centred
    contrast: Array  # (contrasted slot, contrasted slot) block diagonal
    # the history
    plant: Array  # (plant slot, PlantColumns)
    place: Array  # (place, PlaceColumns)
    job: Array  # (job, JobColumns)
    candidate: Array  # (candidate, CandidateColumns) in order of tools
    cell: Array  # (cell, CellColumns)
    row: Array  # (row, RowColumns) in order of candidates
    ended: Array  # (ended, EndedColumns) in order of rows
    sudden: Array  # (3, class, plant slot): stops, reference lives, handlings
    stated: Array  # (2,) renewals stated as wear, as something else

    def as_dict(self) -> dict[str, Array]:
        return {f.name: getattr(self, f.name) for f in fields(self)}

    @staticmethod
    def static_shape(name: str, array: Array) -> tuple[int | None, ...]:
        """Shape of an array with the lengths that a history can change left open."""
        if name in ("place", "job", "candidate", "cell", "row", "ended"):
            return (None, *array.shape[1:])
        return tuple(array.shape)


def check_bounds(data: ModelData, layout: Layout) -> None:
    """Raise ValueError where an index lies outside what it points into: compiled code does not check."""
    parameters = len(COEFFICIENTS) + layout.size
    places, jobs, candidates, cells, rows = (len(t) for t in (data.place, data.job, data.candidate, data.cell, data.row))
    c, r = CellColumns, RowColumns
    limits = [
        ("plant's effect", data.plant[:, PlantColumns.effect], parameters),
        ("plant's error", data.plant[:, PlantColumns.error], parameters),
        ("place's plant", data.place[:, PlaceColumns.plant], len(data.plant)),
        ("job's parameter", data.job[:, JobColumns.index], parameters),
        ("candidate's parameter", data.candidate[:, CandidateColumns.index], parameters),
        ("cell's place", data.cell[:, c.place], places),
        ("cell's job", data.cell[:, c.job], jobs),
        ("row's candidate", data.row[:, r.candidate], candidates),
        ("row's chain", data.row[:, r.chain], rows),
        ("row's cells", data.row[:, r.boundaries], cells + 1),
        ("row's last place", data.row[:, r.last_place], places),
        ("row's last job", data.row[:, r.last_job], jobs),
        ("row's refurbishments", data.row[:, r.repeats], np.inf),
        ("ended row", data.ended[:, EndedColumns.row], rows),
        ("candidate's tool", data.candidate[:, CandidateColumns.tool], candidates),
    ]
    for name, index, limit in limits:
        if index.size and not (index.min() >= 0 and index.max() < limit):
            raise ValueError(f"{name}: an index lies outside 0..{limit}")
    if (np.diff(data.row[:, r.boundaries], axis=1) < 0).any():
        raise ValueError("row's cells: a row ends before it starts")
    if (np.diff(data.candidate[:, CandidateColumns.tool]) < 0).any():
        raise ValueError("candidates are out of order")
    if not np.isfinite(data.candidate[:, CandidateColumns.log_weight]).all():
        raise ValueError("candidate's weight: not a number")
    if (np.diff(data.row[:, r.candidate]) < 0).any() or (np.diff(data.ended[:, EndedColumns.row]) <= 0).any():
        raise ValueError("rows are out of order")
    expected = {
        "plant": (layout.plants, data.plant.shape[1]),
        "slot_live": (layout.size,),
        "contrast": (layout.contrasted,) * 2,
        "group_prior": (3, len(GROUPS)),
        "sudden": (3, len(CLASSES), layout.plants),
        "share_prior": (3, len(SHARES)),
    }
    for name, shape in expected.items():
        if getattr(data, name).shape != shape:
            raise ValueError(f"{name} has shape {getattr(data, name).shape}, the layout wants {shape}")
