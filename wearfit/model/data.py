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
    resin = len(JOB_COVARIATES)  # place of the resin's effect among them


class CandidateColumns:
    """Columns of `ModelData.candidate`: the log band, then parameters and their weights, then the tool and how likely it is this."""

    _n = 6  # class, steel, usual steel (negative), coating, design, maker
    band = 0
    index = slice(1, 1 + _n)
    weight = slice(1 + _n, 1 + 2 * _n)
    design, maker = 4, 5  # places of their effects among them
    tool, log_weight = range(1 + 2 * _n, 3 + 2 * _n)


class CellColumns:
    """Columns of `ModelData.cell`."""

    place, job, shots, setups = range(4)


class RowColumns:
    """Columns of `ModelData.row`."""

    candidate, chain = 0, 1
    boundaries = slice(2, 6)  # cells at the start, where the entry, the last good day and the row end
    last_place, last_job, repeats, kept = range(6, 10)
    path = 10  # whose readings tell of the life's capacity, which is then a coordinate of the sampler's; the first path is none


class EndedColumns:
    """Columns of `ModelData.ended`: the rows that ended, or perhaps ended, by wear."""

    row, interval, perhaps = range(3)  # interval: the day is not known; perhaps: nor is the cause
    capacity = 3  # 1 where it is the row's capacity, known by a coordinate, at which it ends or would have ended
    split = 4  # .. and wear is the cause only if that lies before the row's end
    gain, loss = 5, 6  # paths whose readings count for this ending, and against it


class PathColumns:
    """Columns of `ModelData.path`: rows whose readings are held against a capacity. The first stands for no path."""

    row = 0
    latent = 1  # which coordinate of `read`
    at_end, open, from_good = range(2, 5)  # capacity at the row's end; beyond it or the last good day; else between the two
    split = 5  # .. of one beyond the last good day: up to the row's end it was wear that ended the row, further on it was not


class ReadingColumns:
    """Columns of `ModelData.reading`, in order of (path, feature)."""

    row, stop, path, feature, log_way, below, rounding = range(7)  # stop: the cell before which it was taken


def whole(columns: Array) -> Array:
    """The whole numbers that columns of a table hold as floats, to index by."""
    return columns.astype("int64")


@dataclass(frozen=True)
class ModelData:
    """Arrays by the names that the graph knows them by.

    Tables hold whole numbers beside amounts, all as float64: columns of one array need no check that their lengths
    agree, and every such check is code to be compiled.
    """

    # priors
    coefficient_loc: Array  # (coefficient,)
    root: Array  # (z, z) coefficients less their loc, and behind them effects without a scale, are root @ z, z standard normal
    lean: Array  # (z, scaled slot) how their likeliest coordinates follow group effects
    lean_on_air: Array  # (z, plant slot) how the likeliest level of all classes follows `parameters.products`
    share_prior: Array  # (3, share): a, b, on
    group_prior: Array  # (2, group): scale, on
    log_from: Array  # (group,) see `scale_coordinates`
    slot_told: Array  # (slot,) what the history tells of each effect, as a precision; 0 where nothing is told
    plant_told: Array  # (2, plant slot) the same of plants' effects on wear and on sudden stops, where all else is known
    slot_score: Array  # (slot,) slope of its log-likelihood where all effects are zero: that precision times the likeliest effect
    likely: Array  # (parameter,) the likeliest coefficients and effects without a scale, nought for the others: see `parameters.products`
    contrast: Array  # (turned slot, turned slot) block diagonal: effects of levels by those along the axes of their group
    mirror: Array  # (2, mirrored slot), see `layout.mirror`
    start: Array  # (2, coordinate) about which point chains start, and how far draws lie from it; ordered as `native.Coordinates`
    # the history
    plant: Array  # (plant slot, PlantColumns)
    place: Array  # (place, PlaceColumns)
    job: Array  # (job, JobColumns)
    candidate: Array  # (candidate, CandidateColumns) in order of tools
    cell: Array  # (cell, CellColumns)
    row: Array  # (row, RowColumns) in order of candidates
    ended: Array  # (ended, EndedColumns) in order of rows
    path: Array  # (path, PathColumns)
    reading: Array  # (reading, ReadingColumns)
    feature_loc: Array  # (3, feature) level, log growth and log noise of each feature's readings are loc + root @ slots
    feature_root: Array  # (3, feature, feature)
    unread: Array  # (read,) 1 where no life has the coordinate
    sudden: Array  # (3, class, plant slot): stops, reference lives, handlings
    causes: Array  # (3,) powers of pi and of 1 - pi, and what stands before (1 - pi) / pi, in `likelihood.cause_log_likelihood`

    def as_dict(self) -> dict[str, Array]:
        """The arrays that the graph has: without a mirrored group, none of its."""
        names = [f.name for f in fields(self) if f.name != "start" and (f.name != "mirror" or self.mirror.size)]
        return {name: getattr(self, name) for name in names}

    @staticmethod
    def static_shape(name: str, array: Array) -> tuple[int | None, ...]:
        """Shape of an array with the lengths that a history can change left open."""
        if name in ("place", "job", "candidate", "cell", "row", "ended", "path", "reading"):
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
        ("row's path", data.row[:, r.path], len(data.path)),
        ("ended row", data.ended[:, EndedColumns.row], rows),
        ("ended row's path", data.ended[:, [EndedColumns.gain, EndedColumns.loss]], len(data.path)),
        ("path's row", data.path[:, PathColumns.row], rows),
        ("path's coordinate", data.path[:, PathColumns.latent], layout.reads),
        ("reading's row", data.reading[:, ReadingColumns.row], rows),
        ("reading's cells", data.reading[:, ReadingColumns.stop], cells + 1),
        ("reading's path", data.reading[:, ReadingColumns.path], len(data.path)),
        ("reading's feature", data.reading[:, ReadingColumns.feature], layout.features),
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
    if (np.diff(data.row[:, r.candidate]) < 0).any() or (np.diff(data.ended[:, EndedColumns.row]) < 0).any():
        raise ValueError("rows are out of order")
    group = data.reading[:, ReadingColumns.path] * layout.features + data.reading[:, ReadingColumns.feature]
    if (np.diff(group) < 0).any():
        raise ValueError("readings are out of order")
    expected = {
        "plant": (layout.plants, data.plant.shape[1]),
        "root": (len(COEFFICIENTS) + layout.unscaled,) * 2,
        "lean": (len(COEFFICIENTS) + layout.unscaled, layout.scaled),
        "lean_on_air": (len(COEFFICIENTS) + layout.unscaled, layout.plants),
        "slot_told": (layout.scaled,),
        "plant_told": (2, layout.plants),
        "slot_score": (layout.scaled,),
        "likely": (len(COEFFICIENTS) + layout.size,),
        "contrast": (len(layout.turned),) * 2,
        "mirror": (2, layout.mirrored.stop - layout.mirrored.start),
        "group_prior": (2, len(GROUPS)),
        "log_from": (len(GROUPS),),
        "sudden": (3, len(CLASSES), layout.plants),
        "share_prior": (3, len(SHARES)),
        "feature_loc": (3, layout.features),
        "feature_root": (3, layout.features, layout.features),
        "unread": (layout.reads,),
        "start": (2, len(SHARES) + len(GROUPS) + layout.scaled + len(COEFFICIENTS) + layout.unscaled + layout.reads),
    }
    for name, shape in expected.items():
        if getattr(data, name).shape != shape:
            raise ValueError(f"{name} has shape {getattr(data, name).shape}, the layout wants {shape}")
