"""Exposures and priors as the arrays that the compiled model is given.

Every number that a history or a priors file can change is data, so that one compilation serves them all.
"""

from dataclasses import dataclass, fields
from typing import Final

import numpy as np

from wearfit.errors import Refusal
from wearfit.exposures.classes import BANDED, CLASSES, STEELS
from wearfit.exposures.covariates import JOB_COVARIATES, MONTH_COVARIATES, PLANT_COVARIATES, columns, spreads
from wearfit.exposures.lives import CENSORED, INTERVAL
from wearfit.exposures.places import plant_levels
from wearfit.exposures.table import Exposures
from wearfit.model.bands import band_offsets, log_band
from wearfit.model.layout import CLASS_OFFSET, COEFFICIENTS, CONTRASTED, GROUPS, SHARES, Layout, coefficient_index, contrast
from wearfit.model.priors import Priors

Array = np.ndarray

FULL_SETUP_LIFE: Final = 100_000.0  # [shots] characteristic life from which a set-up counts in full, judgement
CENTRING: Final = 0.0  # exponent of partial centring, measured best on fleets of a hundred tools or so


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
    """Columns of `ModelData.candidate`: the log band, then parameters and their weights."""

    _n = 6  # class, steel, usual steel (negative), design, maker, tool
    band = 0
    index = slice(1, 1 + _n)
    weight = slice(1 + _n, 1 + 2 * _n)


class CellColumns:
    """Columns of `ModelData.cell`."""

    place, job, shots, setups = range(4)


class RowColumns:
    """Columns of `ModelData.row`."""

    candidate, chain = 0, 1
    boundaries = slice(2, 6)  # cells at the start, where the entry, the last good day and the row end
    last_place, last_job, repeats, kept, known = range(6, 11)


class EndedColumns:
    """Columns of `ModelData.ended`: the rows that ended, or perhaps ended, by wear."""

    row, interval, perhaps, known = range(4)


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
    candidate: Array  # (candidate, CandidateColumns)
    cell: Array  # (cell, CellColumns)
    row: Array  # (row, RowColumns)
    ended: Array  # (ended, EndedColumns) in order of rows
    mixture_rows: Array  # (mixture, BANDED, 2) first row and one past the last of each candidate; the first mixture is empty
    mixture_ended: Array  # (mixture, BANDED, 2) the same among `ended`
    mixture_weight: Array  # (BANDED,) log prior share of the classes
    sudden: Array  # (3, class, plant slot): stops, reference lives, handlings
    stated: Array  # (2,) renewals stated as wear, as something else

    def as_dict(self) -> dict[str, Array]:
        return {f.name: getattr(self, f.name) for f in fields(self)}

    @staticmethod
    def static_shape(name: str, array: Array) -> tuple[int | None, ...]:
        """Shape of an array with the lengths that a history can change left open."""
        if name in ("place", "job", "candidate", "cell", "row", "ended", "mixture_rows", "mixture_ended"):
            return (None, *array.shape[1:])
        return tuple(array.shape)


def layout_of(exposures: Exposures) -> Layout:
    """The smallest layout that holds a history's levels."""
    tools = exposures.tools
    return Layout.fitting(
        len(exposures.plant_ids), len(exposures.resins.resin_id), len(tools.design_ids), len(tools.maker_ids), len(tools.tool_id)
    )


@dataclass(frozen=True)
class Seen:
    """Which levels of each group the likelihood sees. Boolean arrays."""

    plant: Array
    resin: Array
    design: Array
    maker: Array


def levels_seen(exposures: Exposures) -> Seen:
    """Levels that some row of the likelihood rests on; the rest are drawn from their population."""
    cells, candidates = exposures.cells, exposures.candidates

    def mark(n: int, index: Array) -> Array:
        seen = np.zeros(n, dtype=bool)
        seen[index[index >= 0]] = True
        return seen

    tool = candidates.tool[exposures.history.candidate[cells.episode]]
    return Seen(
        plant=mark(len(exposures.plant_ids), exposures.places.plant[cells.place]),
        resin=mark(len(exposures.resins.resin_id), exposures.jobs.resin[cells.job]),
        design=mark(len(exposures.tools.design_ids), exposures.tools.design[tool]),
        maker=mark(len(exposures.tools.maker_ids), exposures.tools.maker[tool]),
    )


def prepare(exposures: Exposures, priors: Priors, layout: Layout) -> ModelData:
    """Arrays for the compiled model.

    Raises
    ------
    Refusal
        Where the records hold no shot that a life of known age made.
    ValueError
        Where the layout is too small or an index is out of bounds; a compiled model would corrupt memory.
    """
    if not len(exposures.cells.shots):
        raise Refusal("No run belongs to a life whose age is known, so there is nothing to learn from.", "Add runs, or the opening_life_shots of the tools.")
    seen = levels_seen(exposures)
    bands = log_band(exposures, priors, band_offsets(priors))
    mixture_rows, mixture_ended = _mixtures(exposures)
    cells = exposures.cells
    setups_counted = setup_share(bands)[exposures.history.candidate[cells.episode]]
    data = ModelData(
        coefficient_loc=priors.loc,
        coefficient_root=priors.root,
        share_prior=np.stack([priors.share_a, priors.share_b, priors.share_on]),
        group_prior=np.stack([priors.scale, priors.group_on, np.full(len(GROUPS), CENTRING)]),
        slot_live=_live_slots(layout, seen, len(exposures.tools.tool_id)),
        contrast=_contrasts(layout, seen),
        plant=_plants(exposures, layout),
        place=np.concatenate([exposures.places.plant[:, None], columns(exposures.places.months)], axis=1).astype(float),
        job=_jobs(exposures, priors, layout),
        candidate=_candidates(exposures, bands, layout),
        cell=np.stack([cells.place, cells.job, cells.shots, cells.setups * setups_counted], axis=1).astype(float),
        row=_rows(exposures),
        ended=_ended(exposures),
        mixture_rows=mixture_rows,
        mixture_ended=mixture_ended,
        mixture_weight=class_log_weights(exposures, priors),
        sudden=_sudden(exposures, priors, bands, layout),
        stated=np.array([exposures.stated_wear, exposures.stated_other], dtype=float),
    )
    check_bounds(data, layout)
    return data


def setup_share(log_bands: Array) -> Array:
    """Share of a full set-up's cost that counts for tools of these bands, in 0..1.

    The cost is stated in shots of a production tool; one of a few hundred shots, which a single such set-up would
    consume, pays in proportion to its band (judgement).
    """
    return np.minimum(1.0, np.exp(log_bands) / FULL_SETUP_LIFE)


def _contrasts(layout: Layout, seen: Seen) -> Array:
    matrix = np.zeros((layout.contrasted, layout.contrasted))
    for name in CONTRASTED:
        span = layout.block(name)
        matrix[span, span] = contrast(getattr(seen, name), span.stop - span.start)
    return matrix


def _plants(exposures: Exposures, layout: Layout) -> Array:
    levels = plant_levels(exposures.climate)
    n = len(PLANT_COVARIATES)
    slots = np.arange(layout.plants)
    known = np.zeros((layout.plants, 2 * n))
    known[: len(exposures.plant_ids)] = np.concatenate([columns(levels), spreads(levels)], axis=1)
    error = layout.parameter("plant_error", slots[:, None] * n + np.arange(n))
    return np.concatenate([layout.parameter("plant", slots)[:, None], error, known], axis=1).astype(float)


def _jobs(exposures: Exposures, priors: Priors, layout: Layout) -> Array:
    jobs = exposures.jobs
    slopes = np.array([coefficient_index(f"slope.{c.name}") for c in JOB_COVARIATES])
    unknown = np.append(~exposures.resins.described, False)[jobs.resin].astype(float)
    index = np.concatenate(
        [
            np.broadcast_to(slopes, (len(jobs.resin), len(slopes))),
            layout.parameter("resin", jobs.resin)[:, None],
            layout.parameter("resin_error", jobs.resin)[:, None],
        ],
        axis=1,
    )
    weight = np.concatenate([columns(jobs), np.ones((len(unknown), 1)), (priors.undescribed_sd * unknown)[:, None]], axis=1)
    return np.concatenate([(priors.undescribed_loc * unknown)[:, None], index, weight], axis=1).astype(float)


def _candidates(exposures: Exposures, bands: Array, layout: Layout) -> Array:
    candidates, tools = exposures.candidates, exposures.tools
    steels = np.array([coefficient_index(f"steel.{s}") for s in STEELS])
    index = np.stack(
        [
            CLASS_OFFSET.start + candidates.service_class,
            steels[candidates.steel],
            steels[candidates.usual_steel],
            layout.parameter("design", tools.design[candidates.tool]),
            layout.parameter("maker", tools.maker[candidates.tool]),
            layout.parameter("tool", candidates.tool),
        ],
        axis=1,
    )
    weight = np.broadcast_to(np.array([1.0, 1.0, -1.0, 1.0, 1.0, 1.0]), index.shape)
    return np.concatenate([bands[:, None], index, weight], axis=1).astype(float)


def _rows(exposures: Exposures) -> Array:
    h = exposures.history
    return np.stack(
        [
            h.candidate, h.chain, h.cell_start, h.cell_entry, h.cell_good, h.cell_stop,
            np.maximum(h.last_place, 0), np.maximum(h.last_job, 0), h.repeat, h.kept, exposures.candidates.known[h.candidate],
        ],
        axis=1,
    ).astype(float)


def _ended(exposures: Exposures) -> Array:
    h = exposures.history
    row = np.flatnonzero(h.ending != CENSORED)
    return np.stack([row, h.ending[row] == INTERVAL, h.unstated[row], exposures.candidates.known[h.candidate[row]]], axis=1).astype(float)


def _mixtures(exposures: Exposures) -> tuple[Array, Array]:
    """Spans of rows, and of ended rows, of each candidate of each tool of unknown class; an empty one comes first."""
    unknown = np.flatnonzero(~exposures.candidates.known).reshape(-1, BANDED)
    of_row = exposures.history.candidate
    of_ended = of_row[exposures.history.ending != CENSORED]
    empty = np.zeros((1, BANDED, 2), dtype=np.int64)

    def spans(candidate: Array) -> Array:
        return np.stack([np.searchsorted(candidate, unknown, side="left"), np.searchsorted(candidate, unknown, side="right")], axis=2)

    return np.concatenate([empty, spans(of_row)]), np.concatenate([empty, spans(of_ended)])


def class_log_weights(exposures: Exposures, priors: Priors) -> Array:
    """Log share of each service class among tools of unknown class, from the priors and the fleet's own classes."""
    counts = np.array([np.sum(exposures.tools.service_class == c) for c in range(BANDED)], dtype=float)
    weights = counts + priors.class_share_weight * priors.class_share / priors.class_share.sum()
    return np.log(weights / weights.sum())


def _live_slots(layout: Layout, seen: Seen, tools: int) -> Array:
    live = np.zeros(layout.size)
    levels = {"plant": seen.plant, "resin": seen.resin, "design": seen.design, "maker": seen.maker}
    for block, _ in layout.blocks:
        start = layout.block(block).start
        live[start : start + (tools if block == "tool" else max(int(levels[block].sum()) - 1, 0) if block in levels else 0)] = 1.0
    return live


def _sudden(exposures: Exposures, priors: Priors, bands: Array, layout: Layout) -> Array:
    """Stops and exposures by class and plant; a tool of unknown class counts in each by the class's share."""
    candidates, pairs = exposures.candidates, exposures.sudden
    share = np.where(candidates.known, 1.0, np.exp(class_log_weights(exposures, priors))[np.minimum(candidates.service_class, BANDED - 1)])
    first = np.searchsorted(candidates.tool, pairs.tool, side="left")
    count = np.searchsorted(candidates.tool, pairs.tool, side="right") - first
    pair = np.repeat(np.arange(len(first)), count)
    candidate = first[pair] + np.arange(len(pair)) - np.repeat(np.cumsum(count) - count, count)
    table = np.zeros((3, len(CLASSES), layout.plants))
    lives = pairs.shots[pair] / np.exp(bands[candidate])
    for layer, amount in enumerate((pairs.stops[pair], lives, pairs.handlings[pair])):
        np.add.at(table[layer], (candidates.service_class[candidate], pairs.plant[pair]), amount * share[candidate])
    return table


def check_bounds(data: ModelData, layout: Layout) -> None:
    """Raise ValueError where an index lies outside what it points into: compiled code does not check."""
    parameters = len(COEFFICIENTS) + layout.size
    places, jobs, candidates, cells, rows = (len(t) for t in (data.place, data.job, data.candidate, data.cell, data.row))
    c, r = CellColumns, RowColumns
    limits = [
        ("plant's effect", data.plant[:, PlantColumns.effect], parameters), ("plant's error", data.plant[:, PlantColumns.error], parameters),
        ("place's plant", data.place[:, PlaceColumns.plant], len(data.plant)),
        ("job's parameter", data.job[:, JobColumns.index], parameters),
        ("candidate's parameter", data.candidate[:, CandidateColumns.index], parameters),
        ("cell's place", data.cell[:, c.place], places), ("cell's job", data.cell[:, c.job], jobs),
        ("row's candidate", data.row[:, r.candidate], candidates), ("row's chain", data.row[:, r.chain], rows),
        ("row's cells", data.row[:, r.boundaries], cells + 1), ("row's last place", data.row[:, r.last_place], places),
        ("row's last job", data.row[:, r.last_job], jobs), ("row's refurbishments", data.row[:, r.repeats], np.inf),
        ("ended row", data.ended[:, EndedColumns.row], rows),
        ("mixture's rows", data.mixture_rows, rows + 1), ("mixture's ended rows", data.mixture_ended, len(data.ended) + 1),
    ]
    for name, index, limit in limits:
        if index.size and not (index.min() >= 0 and index.max() < limit):
            raise ValueError(f"{name}: an index lies outside 0..{limit}")
    expected = {
        "slot_live": (layout.size,), "contrast": (layout.contrasted,) * 2, "group_prior": (3, len(GROUPS)),
        "sudden": (3, len(CLASSES), layout.plants), "share_prior": (3, len(SHARES)), "mixture_weight": (BANDED,),
    }
    for name, shape in expected.items():
        if getattr(data, name).shape != shape:
            raise ValueError(f"{name} has shape {getattr(data, name).shape}, the layout wants {shape}")
